"""Run the command line: each call as one run of ``python -m ui``."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from ui.commands.group import flitchwright

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Ran:
    """What a command answered."""

    code: int
    stdout: str
    stderr: str

    @property
    def json(self) -> Any:
        """Standard output as records."""
        return json.loads(self.stdout)


def run_ui(*words: object, environment: Mapping[str, str] | None = None) -> Ran:
    """Run a command in this process, which saves the time of loading the libraries."""
    done = CliRunner().invoke(
        flitchwright, list(map(str, words)), env=dict(environment or {}), catch_exceptions=False
    )
    return Ran(done.exit_code, done.stdout, done.stderr)


def run_ui_alone(*words: object, environment: Mapping[str, str] | None = None) -> Ran:
    """Run a command as its users do: in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "ui", *map(str, words)],
        cwd=ROOT,
        env={**os.environ, **(environment or {})},
        capture_output=True,
        text=True,
        check=False,
    )
    return Ran(done.returncode, done.stdout, done.stderr)

"""Run the command line as its users do: in a process of its own."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

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
    """Run ``python -m ui WORDS`` and wait for it."""
    done = subprocess.run(
        [sys.executable, "-m", "ui", *map(str, words)],
        cwd=ROOT,
        env={**os.environ, **(environment or {})},
        capture_output=True,
        text=True,
        check=False,
    )
    return Ran(done.returncode, done.stdout, done.stderr)

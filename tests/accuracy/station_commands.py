"""The command lines by which a station is set up and leaves are measured: here and nowhere else."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from tests.spectral.station_scene import Station

ROOT = Path(__file__).parents[2]
NAME = "bench"


class CommandFailed(Exception):
    """A command ended with an error; its own words say why."""


def set_up(station: Station, photo: Path, *, catalog: str, days: int = 30) -> str:
    """Set up a station from a photograph, with what a steel tape says; return the answer."""
    rails = station.rails
    return _run(
        "station",
        "set-up",
        "--name",
        NAME,
        "--photo",
        photo,
        "--left-mm",
        f"{rails.length_mm('left'):.1f}",
        "--right-mm",
        f"{rails.length_mm('right'):.1f}",
        "--gap-top-mm",
        f"{rails.gap_top_mm:.1f}",
        "--gap-bottom-mm",
        f"{rails.gap_bottom_mm:.1f}",
        "--camera-height-mm",
        f"{station.height_mm:.0f}",
        "--chart",
        station.edition,
        "--chart-patch-mm",
        f"{station.holder.patch_pitch_mm:g}",
        "--lamps",
        station.lamp_name,
        "--days",
        days,
        "--catalog",
        catalog,
    )


def measure(photos: Iterable[Path], *, catalog: str) -> list[dict[str, Any]]:
    """Return the records of photographs taken at the station; a refusal is among them."""
    answer = _run(
        "measure", *photos, "--station", NAME, "--catalog", catalog, "--json", may_fail=True
    )
    return list(json.loads(answer))


def _run(*words: object, may_fail: bool = False) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "ui", *map(str, words)],
        cwd=ROOT,
        env={**os.environ, "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0 and not (may_fail and done.stdout.strip().startswith("[")):
        raise CommandFailed(f"{' '.join(map(str, words[:2]))}: {done.stderr.strip()[-600:]}")
    return done.stdout

"""Print size and colour against truth: ``python -m tests.accuracy.true_colour [--fixed]``.

Photographs drawn from spectra, measured from files through the command line.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.accuracy.judged_station import Judged, judge_all, plans


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fixed", action="store_true", help="the fixed seeds, not fresh ones")
    parser.add_argument("--each", type=int, default=2, help="stations of each kind")
    given = parser.parse_args()
    jpeg = plans(fixed=given.fixed, each=given.each)
    stations = {
        "JPEG": jpeg,
        "negative": [replace(one, raw=True) for one in jpeg[:2]],
        "20 mm stack": [replace(one, thickness_mm=20.0) for one in jpeg[:2]],
        "warm lamp (A)": [replace(one, lamp="A") for one in jpeg[:2]],
        "stacked sensor": [replace(one, body=2) for one in jpeg[:2]],
    }
    for title, wanted in stations.items():
        begun = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            judged = judge_all(wanted, Path(folder))
        print(f"{title}: {len(judged)} stations, {time.monotonic() - begun:.0f} s")
        print_station(judged)


def print_station(judged: list[Judged]) -> None:
    """Print the figures of some stations, and each station's own line."""
    for one in judged:
        off = np.concatenate([leaf.colour_errors for leaf in one.leaves] or [np.zeros(0)])
        print(
            f"  seed {one.plan.seed}, {one.plan.lamp}, camera {one.plan.body}, "
            f"{one.plan.megapixels} MP, {', '.join(one.plan.woods)}: ΔE00 {_spread(off)}"
        )
        for words in one.refused:
            print(f"    refused {words}")
    leaves = [leaf for one in judged for leaf in one.leaves]
    if not leaves:
        return
    colours = np.concatenate([leaf.colour_errors for leaf in leaves])
    print(f"  length off, mm: {_worst([leaf.length_error_mm for leaf in leaves])}")
    print(f"  width off, mm: {_worst([leaf.width_error_mm for leaf in leaves])}")
    print(f"  any point, mm: {_worst([miss for one in leaves for miss in one.point_misses_mm])}")
    print(f"  wood ΔE00: {_spread(colours)}")
    print(
        f"  two shots ΔE00: {_spread([one for station in judged for one in station.shot_to_shot])}"
    )
    print(f"  neighbours ΔE00: {_spread(np.concatenate([one.neighbour_errors for one in leaves]))}")
    print(f"  unevenness L*: {_worst([leaf.unevenness for leaf in leaves])}")
    print(f"  classes: {sorted({leaf.record['colour']['colour_class'] for leaf in leaves})}")


def _worst(values: list[float]) -> str:
    return f"mean {np.mean(values):+.3f}, worst {np.abs(values).max():.3f}"


def _spread(values: list[float] | np.ndarray) -> str:
    if not len(values):
        return "none"
    return f"mean {np.mean(values):.2f}, p95 {np.quantile(values, 0.95):.2f}"


if __name__ == "__main__":
    main()

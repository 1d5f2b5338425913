"""Print how well pairs are judged by evidence: ``python -m tests.accuracy.evidence``.

Flitches of fresh seeds are drawn as photographs, read through the command line, cut-out included,
and held against the generator's own truth: the whole step where both faces were photographed, the
tilt part where one was. ``--changed`` draws wood whose highlight is not of the assumed form;
``--without-strip`` takes the grey strip off the board; ``--exposure-error 0.03`` lets each
photograph show its leaves so much lighter or darker than its board and strip say, which nothing in
the photograph can betray.
"""

from __future__ import annotations

import argparse
import json
import secrets
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from click.testing import CliRunner
from PIL import Image

from sample_images import FlitchPlan, draw_flitch
from tests.accuracy.judged import BOARDS, CUTS, FIGURES, WOODS, rms
from tests.accuracy.rooms import CHANGED
from ui.commands.group import flitchwright
from vision.settings import VisionSettings
from vision.step_grade import grade

LEAVES = 5
SETTINGS = VisionSettings()
EVIDENCE: dict[str, tuple[str, ...]] = {
    "opened pair": ("opened-pair/A", "opened-pair/B"),
    "turned over": ("as-lies/A", "as-lies/B", "face-over/A", "face-over/B"),
    "lamp swap": ("as-lies/A", "as-lies/B"),
    "end-turned": ("as-lies/A", "end-turned/A"),
    "one photograph": ("as-lies/A",),
}
BOTH_FACES = ("opened pair", "turned over")
FALSE_BELOW, MISSED_FROM = 0.8, 2.5
"""CIEDE2000 below which a pair flagged at all is a false alarm; from which none is a miss."""


@dataclass(frozen=True)
class EvidenceRow:
    """One pair under one lamp: what was told, and what is true."""

    pair: dict
    true: dict
    both_faces: bool

    @property
    def error(self) -> float:
        """Of the whole step, or of the tilt part where one face was photographed."""
        part = "lightness_step" if self.both_faces else "tilt_part"
        return self.pair[part] - self.true[part]

    @property
    def part(self) -> tuple[float, float]:
        """The same part as told, and in truth."""
        part = "lightness_step" if self.both_faces else "tilt_part"
        return self.pair[part], self.true[part]

    @property
    def is_held(self) -> bool:
        low, high = self.pair["lightness_low"], self.pair["lightness_high"]
        return low <= self.true["lightness_step"] <= high

    @property
    def width(self) -> float:
        return self.pair["lightness_high"] - self.pair["lightness_low"]

    @property
    def true_worst(self) -> float:
        return max(self.true["delta_e00_segments"])

    @property
    def is_sound(self) -> bool:
        return self.true_worst < FALSE_BELOW

    @property
    def is_strong(self) -> bool:
        return self.true_worst >= MISSED_FROM


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flitches", type=int, default=21, help="of five leaves, four pairs each")
    parser.add_argument("--changed", action="store_true", help="wood of another form")
    parser.add_argument("--without-strip", action="store_true")
    parser.add_argument("--exposure-error", type=float, default=0.0, help="standard deviation")
    asked = parser.parse_args()
    wanted = [
        evidence_plan(index, changed=asked.changed, strip=not asked.without_strip)
        for index in range(asked.flitches)
    ]
    found: dict[str, list[EvidenceRow]] = defaultdict(list)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        errors = [asked.exposure_error] * len(wanted)
        for rows in pool.map(judge_flitch, wanted, errors):
            for title, row in rows:
                found[title].append(row)
    print(f"{sum(plan.leaves for plan in wanted)} leaves")
    print_rows(found)


def evidence_plan(index: int, *, changed: bool = False, strip: bool = True) -> FlitchPlan:
    """Return the plan of one flitch, its seed drawn now; woods, cuts and boards in turn."""
    wood, cut = WOODS[index % len(WOODS)], CUTS[index // len(WOODS) % len(CUTS)]
    plan = FlitchPlan(
        seed=secrets.randbelow(2**31),
        species=wood,
        cut=cut,
        figure=FIGURES.get((wood, cut), "none"),
        leaves=LEAVES,
        board=BOARDS[index % len(BOARDS)],
        strip=strip,
        photo_px=(800, 1200),
        shots=tuple(dict.fromkeys(shot for shots in EVIDENCE.values() for shot in shots)),
    )
    return replace(plan, **CHANGED[index % len(CHANGED)]) if changed else plan


def judge_flitch(plan: FlitchPlan, exposure_error: float) -> list[tuple[str, EvidenceRow]]:
    """Return every pair under both lamps, for each evidence, as the command line tells it."""
    cv2.setNumThreads(1)
    rows = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for _file in draw_flitch(plan, folder):
            pass
        truth = json.loads((folder / "truth.json").read_text())
        if exposure_error:
            misexpose(folder, truth, exposure_error, seed=plan.seed)
        lines = (folder / "shots.csv").read_text().splitlines()
        true = {(one["left"], one["right"]): one["lights"] for one in truth["pairs"]}
        for title, shots in EVIDENCE.items():
            kept = [line for line in lines[1:] if shot_of(line) in shots]
            (folder / "shots.csv").write_text("\n".join([lines[0], *kept]) + "\n")
            for pair in pairs_told(folder):
                lamp = pair["light"].removeprefix("lamp ")
                held = true[pair["left"], pair["right"]][lamp]
                rows.append((title, EvidenceRow(pair, held, title in BOTH_FACES)))
    return rows


def misexpose(folder: Path, truth: dict, sd: float, *, seed: int) -> None:
    """Make the leaves of each photograph lighter or darker by a factor of its own, in place."""
    rng = np.random.default_rng(seed)
    for photo in truth["photos"]:
        if not photo["outlines"]:
            continue
        path = folder / photo["file"]
        with Image.open(path) as opened:
            exif, profile = opened.info.get("exif", b""), opened.info.get("icc_profile")
            coded = np.asarray(opened.convert("RGB")) / 255
        light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
        wood = np.zeros(coded.shape[:2], np.uint8)
        for outline in photo["outlines"]:
            cv2.fillPoly(wood, [np.round(outline).astype(np.int32)], 1)
        light[wood == 1] *= 1 + rng.normal(0, sd)
        light = np.clip(light, 0, 1)
        coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
        levels = np.round(coded * 255).astype(np.uint8)
        Image.fromarray(levels).save(path, quality=95, exif=exif, icc_profile=profile)


def pairs_told(folder: Path) -> list[dict]:
    """Return what the command line says of the photographs in a folder."""
    ran = CliRunner().invoke(
        flitchwright, ["alternation", str(folder), "--json"], catch_exceptions=False
    )
    assert ran.exit_code == 0, ran.stderr
    return json.loads(ran.stdout)["pairs"]


def shot_of(line: str) -> str:
    """Return ``laid/lamp`` of a row of the shot list."""
    _file, _leaf, laid, lamp, *_rest = line.split(",")
    return f"{laid}/{lamp}"


def print_rows(found: dict[str, list[EvidenceRow]]) -> None:
    print(
        "evidence         rows  true rms  rmse     r  sign   held  width  "
        "likely agrees  range holds  false  missed"
    )
    for title, rows in found.items():
        told = [row for row in rows if row.pair["lightness_step"] is not None]
        if not told:
            flags = {row.pair["flag"] for row in rows}
            print(f"{title:15} {len(rows):5}  every flag {', '.join(sorted(flags))}")
            continue
        print(f"{title:15} {len(told):5}  {'  '.join(figures(told))}")


def figures(rows: list[EvidenceRow]) -> Iterator[str]:
    """Yield each figure of `print_rows`, of rows that tell a step."""
    told, true = np.array([row.part for row in rows]).T
    large = np.abs(true) > 1
    order = ["none", "slight", "strong"]
    grades = [order.index(grade(row.true_worst, SETTINGS)) for row in rows]
    ranges = [[order.index(word) for word in row.pair["flag"].split(" to ")] for row in rows]
    likely = [order.index(row.pair["likely"]) for row in rows]
    held = [low[0] <= true <= low[-1] for low, true in zip(ranges, grades, strict=True)]
    sound = [low[0] > 0 for low, row in zip(ranges, rows, strict=True) if row.is_sound]
    missed = [low[-1] == 0 for low, row in zip(ranges, rows, strict=True) if row.is_strong]
    yield f"{rms(true):8.2f}"
    yield f"{rms(told - true):4.2f}"
    yield f"{np.corrcoef(told, true)[0, 1]:4.3f}"
    yield f"{np.mean((told * true > 0)[large]):4.2f}"
    yield f"{np.mean([row.is_held for row in rows]):5.2f}"
    yield f"{np.mean([row.width for row in rows]):5.2f}"
    yield f"{np.mean(np.equal(likely, grades)):13.2f}"
    yield f"{np.mean(held):11.2f}"
    yield f"{np.mean(sound) if sound else 0:5.2f}"
    yield f"{np.mean(missed) if missed else 0:6.2f}"


if __name__ == "__main__":
    main()

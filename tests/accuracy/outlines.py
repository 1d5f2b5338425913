"""Print how well leaves are cut out: ``python -m tests.accuracy.outlines [--photos 200]``."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from sample_images.leaf_outline import Doubles
from sample_images.plan import FlitchPlan
from sample_images.scene import PhotoTruth, Scene, draw_photo
from tests.outlines import overlap
from vision.board import find_board
from vision.errors import VisionError
from vision.openings import Openings, find_openings
from vision.outline import choose_leaves, find_leaves

WOODS = ("walnut", "oak", "maple", "cherry", "mahogany")
BOARDS = ("light", "mid", "dark", "black", "brown", "green", "cream")
OWN_TONE = (("walnut", "brown"), ("maple", "cream"), ("mahogany", "brown"), ("oak", "cream"))
KINDS: dict[str, dict[str, Any]] = {
    "whole": {},
    "torn ends": {"torn_mm": 15.0},
    "open splits": {"splits": 2.0, "slivers": 0.5},
    "holes": {"holes": 3.0},
    "bark and edge knots": {"edge_knots": 4.0, "bark_mm": 4.0, "waney": True, "sapwood": True},
    "crooked, corners off": {"crook_mm": 14.0, "taper_mm": 40.0, "broken_corners": 1.5},
    "board's own tone": {"torn_mm": 6.0, "holes": 1.0},
    "sapwood edge": {"sapwood": True, "waney": True, "torn_mm": 4.0, "strip": False},
    "shadow beside it": {"lift_mm": 9.0, "torn_mm": 6.0},
    "all at once": {
        "torn_mm": 10.0, "splits": 1.5, "slivers": 0.5, "holes": 2.0, "edge_knots": 2.0,
        "bark_mm": 3.0, "waney": True, "sapwood": True, "crook_mm": 8.0, "taper_mm": 20.0,
        "broken_corners": 1.0,
    },
}  # fmt: skip


@dataclass(frozen=True)
class Judged:
    """One photograph: what kind of leaf, and how well it was cut out."""

    kind: str
    seed: int
    plan: FlitchPlan
    overlap: float
    """Intersection over union with the true leaf less its splits and holes; 0 if refused."""
    true_open_px: float
    """Splits and holes, photo pixels squared."""
    found_open_px: float


def plan_of(kind: str, seed: int) -> FlitchPlan:
    """Return a plan for a leaf of one kind, the rest drawn by chance."""
    rng = np.random.default_rng([seed, list(KINDS).index(kind)])
    wood, board = str(rng.choice(WOODS)), str(rng.choice(BOARDS))
    if kind == "board's own tone":
        wood, board = OWN_TONE[seed % len(OWN_TONE)]
    return FlitchPlan(
        seed=seed,
        species=wood,
        board=board,
        cut=str(rng.choice(("plain", "quarter"))),
        leaves=1,
        length_mm=float(rng.choice((900, 1200, 2000))),
        width_mm=float(rng.uniform(110, 260)),
        photo_px=(1600, 2400),
        **KINDS[kind],
    )


def judge(kind: str, seed: int, folder: Path) -> Judged:
    """Draw one photograph, cut its leaf out, and compare with the truth."""
    plan, path = plan_of(kind, seed), folder / "leaf.jpg"
    truth = draw_photo(plan, Scene(leaf=1, lamp="AB"[seed % 2]), path)
    with Image.open(path) as image:
        rgb = np.asarray(image.convert("RGB"))
    outline, true_openings = np.array(truth.outlines[0]), _openings_of(truth)
    true_px = _inside(true_openings, outline, rgb.shape[:2])
    try:
        board = find_board(rgb)
        (leaf,) = choose_leaves(find_leaves(board), pair=False)
    except VisionError:
        return Judged(kind, seed, plan, 0.0, true_px, 0.0)
    found: Openings = find_openings(rgb, board, leaf)
    share = overlap(
        leaf.points, outline, found_openings=found.polygons, true_openings=true_openings
    )
    found_px = found.split_area_px + found.hole_area_px
    return Judged(kind, seed, plan, share, true_px, found_px)


def judge_kinds(photos: int, *, first_seed: int) -> Iterator[Judged]:
    """Yield so many photographs, all kinds in turn."""
    kinds = list(KINDS)
    with tempfile.TemporaryDirectory() as folder:
        for index in range(photos):
            seed = first_seed + index // len(kinds)
            yield judge(kinds[index % len(kinds)], seed, Path(folder))


def _openings_of(truth: PhotoTruth) -> tuple[Doubles, ...]:
    return tuple(np.array(opening) for opening in truth.openings[0])


def _inside(openings: tuple[Doubles, ...], outline: Doubles, shape: tuple[int, ...]) -> float:
    masks = []
    for polygons in (openings, (outline,)):
        mask = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
        for polygon in polygons:
            cv2.fillPoly(mask, [np.round((polygon * 4 + 1.5) * 16).astype(np.int32)], 1, shift=4)
        masks.append(mask)
    return float((masks[0] & masks[1]).sum()) / 16


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=200)
    parser.add_argument("--seed", type=int, help="first seed; fresh ones without it")
    chosen = parser.parse_args()
    first = chosen.seed
    if first is None:
        first = int(np.random.default_rng().integers(10_000, 2**30))
    judged = list(judge_kinds(chosen.photos, first_seed=first))
    print(f"{len(judged)} photographs, seeds from {first}")
    for kind in (*KINDS, "together"):
        of_kind = [one for one in judged if kind in (one.kind, "together")]
        values = [one.overlap for one in of_kind]
        print(
            f"{kind:22} IoU median {np.median(values):.4f}, 5th percentile "
            f"{np.percentile(values, 5):.4f}, worst {min(values):.4f}; open area found / true "
            f"{sum(one.found_open_px for one in of_kind):.0f} / "
            f"{sum(one.true_open_px for one in of_kind):.0f} px"
        )
    for one in sorted(judged, key=lambda one: one.overlap)[:5]:
        plan = one.plan
        print(f"  {one.overlap:.4f} {one.kind}, seed {one.seed}: {plan.species} on {plan.board}")


if __name__ == "__main__":
    main()

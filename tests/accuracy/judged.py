"""Draw flitches, read their photographs as a dealer would, and keep answers beside truth."""

from __future__ import annotations

import json
import secrets
import tempfile
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from sample_images import FlitchPlan, draw_flitch
from tests.outlines import overlap
from vision.alternation import SeenLeaf, predict_alternation
from vision.folder_walk import Read, open_folder, read_folder
from vision.readings import PairAlternation
from vision.settings import VisionSettings
from vision.shot import Laid, Shot

WOODS = ("walnut", "oak", "maple", "cherry", "mahogany")
CUTS = ("plain", "quarter", "rift")
BOARDS = ("light", "mid", "dark")
FIGURES = {("maple", "quarter"): "fiddleback", ("mahogany", "quarter"): "ribbon"}
SETTINGS = VisionSettings()


@dataclass(frozen=True)
class Judged:
    """One flitch: what was read from its photographs, and its truth."""

    name: str
    seen: tuple[SeenLeaf, ...]
    overlaps: tuple[tuple[float, str], ...]
    """Intersection over union of each found outline, and the photograph."""
    refused: tuple[str, ...]
    truth: dict

    def pairs(self, keep: Callable[[Shot], bool], *, match: str = "book") -> list[JudgedPair]:
        """Return each pair under each lamp as predicted from the shots kept, beside its truth."""
        order = [leaf["label"] for leaf in self.truth["leaves"]]
        kept = [one for one in self.seen if keep(one.shot)]
        found = predict_alternation(order, kept, match=match, settings=SETTINGS)
        return [JudgedPair(self.name, pair, self._true(pair)) for pair in found]

    def _true(self, pair: PairAlternation) -> dict:
        (found,) = [
            one
            for one in self.truth["pairs"]
            if (one["left"], one["right"]) == (pair.left, pair.right)
        ]
        return found["lights"][pair.light.removeprefix("lamp ")]


@dataclass(frozen=True)
class JudgedPair:
    """One pair under one lamp: prediction and truth."""

    name: str
    pair: PairAlternation
    true: dict


def plans(*, fixed: bool) -> list[FlitchPlan]:
    """Return a plan for every wood and cut, boards in turn; seeds fixed or drawn afresh."""
    kinds = [(wood, cut) for wood in WOODS for cut in CUTS]
    return [
        FlitchPlan(
            seed=9000 + index if fixed else secrets.randbelow(2**31),
            species=wood,
            cut=cut,
            figure=FIGURES.get((wood, cut), "none"),
            leaves=3 if fixed else 5,
            board=BOARDS[index % 3] if fixed else secrets.choice(BOARDS),
            photo_px=(800, 1200) if fixed else (1000, 1500),
            shots=(
                "as-lies/A",
                "as-lies/B",
                "end-turned/A",
                "opened-pair/A",
                "opened-pair/B",
            ),
        )
        for index, (wood, cut) in enumerate(kinds)
    ]


def judge_all(wanted: Iterable[FlitchPlan]) -> list[Judged]:
    """Draw and read flitches, two at a time."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        return list(pool.map(judge, wanted))


def judge(plan: FlitchPlan) -> Judged:
    """Draw one flitch into a folder that is thrown away, and read it."""
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for _ in draw_flitch(plan, folder):
            pass
        outcomes = list(read_folder(open_folder(folder, settings=SETTINGS), settings=SETTINGS))
        truth = json.loads((folder / "truth.json").read_text())
    read = [one for one in outcomes if isinstance(one, Read)]
    outlines = {photo["file"]: photo["outlines"] for photo in truth["photos"]}
    title = f"{plan.species} {plan.cut} {plan.figure} {plan.board} seed {plan.seed}"
    return Judged(
        name=title,
        seen=tuple(
            SeenLeaf(one.shot, tuple(leaf.light for leaf in one.result.reading.leaves))
            for one in read
        ),
        overlaps=tuple(
            (overlap(np.array(leaf.outline), np.array(true)), f"{title} {one.shot.file}")
            for one in read
            for leaf, true in zip(one.result.reading.leaves, outlines[one.shot.file], strict=True)
        ),
        refused=tuple(one.file for one in outcomes if not isinstance(one, Read)),
        truth=truth,
    )


def is_opened(shot: Shot) -> bool:
    """Keep opened pairs only."""
    return shot.laid is Laid.OPENED_PAIR


def is_lamp_swap(shot: Shot) -> bool:
    """Keep leaves as they lie, under both lamps."""
    return shot.laid is Laid.AS_LIES


def is_end_turned(shot: Shot) -> bool:
    """Keep lamp A only, as the leaf lies and turned end for end."""
    return shot.lamp.value == "A" and shot.laid in {Laid.AS_LIES, Laid.END_TURNED}


def is_lone(shot: Shot) -> bool:
    """Keep one photograph a leaf."""
    return shot.lamp.value == "A" and shot.laid is Laid.AS_LIES


def rms(values: Iterable[float]) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(list(values)))))

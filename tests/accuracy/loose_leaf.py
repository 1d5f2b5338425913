"""Print how well loose leaves are placed: ``python -m tests.accuracy.loose_leaf``.

A stock of flitches is drawn flat, some leaves of each withheld; then leaves of it, catalogued and
withheld ones, are drawn again as another day's photographs (another lamp, light, trim, blur,
laying) and looked for, and so are leaves of flitches that are not in the stock. ``--photos`` goes
the whole way instead: photograph files, taken in and looked for by the command line.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from sample_images import FlitchPlan, Scene, draw_flat, draw_photo
from tests.accuracy.sequence import PX_PER_MM, QUALITIES, WOODS, spoil
from ui.commands.group import flitchwright
from vision.laying import compose
from vision.leaf_descriptor import LeafDescriptor, describe_leaf
from vision.leaf_image import LeafImage
from vision.leaf_trace import trace_leaf
from vision.loose_leaf import Placing, Stock, likely_bundles, place_leaf
from vision.shot import Laid
from vision.stack_order import StackLeaf

SURE = (0.0, 0.5, 0.8, 0.95, 0.98, 1.0001)
LAYINGS = tuple(Laid(laid) for laid in ("as-lies", "end-turned", "face-over", "end-over"))
TURNED = (0.40, 0.25, 0.20, 0.15)
STACKED = (0.92, 0.04, 0.03, 0.01)
"""Chances of the layings of loose leaves and of catalogued ones."""
LAMPS = ("A", "A", "B", "both")


@dataclass(frozen=True, slots=True, eq=False)
class Flitch:
    """A flitch of the stock, or one that is not in it: its truth and its drawings."""

    plan: FlitchPlan
    numbers: tuple[int, ...]
    """Leaves of the log that are catalogued, in order; none where the flitch is foreign."""
    laid: tuple[Laid, ...]
    leaves: tuple[StackLeaf, ...]
    """Named by their numbers."""
    asked: tuple[tuple[int, Laid, LeafDescriptor], ...]
    """Leaves drawn again: number in the log, how they lie, what is seen."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One loose leaf, and what came out."""

    figure: str
    is_foreign: bool
    told_in: bool
    """Whether it was said to be of the catalogue."""
    right_flitch: bool
    off: float
    """Places between the told and the true one: 1 from leaf to leaf, 0.5 to a joint beside."""
    laid_right: bool
    chance: float
    place_chance: float
    seconds: float


def draw_flitch(seed: int, index: int, *, leaves: int, asked: int, is_foreign: bool) -> Flitch:
    """Return one flitch, its wood by ``index``; a sixth of the leaves is withheld."""
    figure, species, cut = WOODS[index % len(WOODS)]
    rng = np.random.default_rng([seed, 7])
    plan = FlitchPlan(
        seed=seed,
        species=species,
        cut=cut,
        figure=figure,
        leaves=leaves,
        length_mm=float(rng.integers(14, 24) * 100),
        shots=(),
    )
    inner = rng.permutation(np.arange(2, leaves)).tolist()
    withheld = sorted(inner[: max(1, leaves // 6)])
    known = [number for number in range(1, leaves + 1) if number not in withheld]
    numbers = () if is_foreign else tuple(known)
    laid = tuple(LAYINGS[rng.choice(4, p=STACKED)] for _ in numbers)
    seen = [
        StackLeaf(str(number), _draw(plan, number, way, "A", "good", rng))
        for number, way in zip(numbers, laid, strict=True)
    ]
    shares = (asked - asked // 2, asked // 2)
    wanted = [*rng.permutation(known)[: shares[0]], *rng.permutation(withheld)[: shares[1]]]
    loose = []
    for number in sorted(int(one) for one in wanted):
        way = LAYINGS[rng.choice(4, p=TURNED)]
        lamp = LAMPS[rng.integers(len(LAMPS))]
        quality = list(QUALITIES)[rng.integers(len(QUALITIES))]
        loose.append((number, way, _draw(plan, number, way, lamp, quality, rng)))
    return Flitch(plan, numbers, laid, tuple(seen), tuple(loose))


def _draw(
    plan: FlitchPlan, number: int, laid: Laid, lamp: str, quality: str, rng: np.random.Generator
) -> LeafDescriptor:
    flat = draw_flat(plan, number, laid=str(laid), lamp=lamp, px_per_mm=PX_PER_MM)
    leaf = LeafImage(flat.light.copy(), flat.on_leaf.copy(), PX_PER_MM)
    return describe_leaf(spoil(leaf, QUALITIES[quality], rng))


def judge(flitches: Sequence[Flitch]) -> Iterator[Asked]:
    """Yield every loose leaf, looked for in the stock that the flitches make."""
    stock = Stock(
        tuple((at, leaf) for at, one in enumerate(flitches) for leaf in one.leaves),
        tuple(trace_leaf(leaf.front) for one in flitches for leaf in one.leaves),
        tuple(at for at, one in enumerate(flitches) for _ in one.leaves),
        tuple(at for at, one in enumerate(flitches) for _ in one.leaves),
    )
    for at, flitch in enumerate(flitches):
        for number, laid, seen in flitch.asked:
            start = time.process_time()
            candidates = likely_bundles(trace_leaf(seen), stock)
            records = [[leaf for _, leaf in one.leaves] for one in candidates]
            best = place_leaf(StackLeaf("loose", seen), candidates, records)[0]
            seconds = time.process_time() - start
            yield score(best, flitch, at, number=number, laid=laid, seconds=seconds)


def score(
    found: Placing, flitch: Flitch, at: int, *, number: int, laid: Laid, seconds: float
) -> Asked:
    """Return what is right of one placing; ``at`` is the number of the flitch's bundle."""
    is_foreign = not flitch.numbers
    right = not is_foreign and found.bundle == at
    off, laid_right = float("nan"), False
    if right:
        numbers = [str(one) for one in flitch.numbers]
        off = abs(told_place(found, numbers) - true_place(number, flitch.numbers))
        named = [name for name in (found.leaf, found.before, found.after) if name is not None]
        ways = {compose(flitch.laid[numbers.index(name)], laid) for name in named}
        laid_right = found.laid in ways
    return Asked(
        figure=flitch.plan.figure,
        is_foreign=is_foreign,
        told_in=found.is_in_catalogue,
        right_flitch=right,
        off=off,
        laid_right=laid_right,
        chance=found.chance,
        place_chance=found.place_chance,
        seconds=seconds,
    )


def told_place(found: Placing, numbers: Sequence[str]) -> float:
    """Return a told place as a number: that of a leaf from 0, or half between two."""
    if found.leaf is not None:
        return float(numbers.index(found.leaf))
    if found.before is not None:
        return numbers.index(found.before) + 0.5
    return numbers.index(found.after or numbers[0]) - 0.5


def true_place(number: int, numbers: Sequence[int]) -> float:
    """Return the true place of a leaf of the log among those catalogued."""
    before = sum(one < number for one in numbers)
    return float(before) if number in numbers else before - 0.5


def draw_all(
    first_seed: int, *, flitches: int, foreign: int, leaves: int, asked: int
) -> list[Flitch]:
    """Return the stock, and after it the foreign flitches; drawn two at a time."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        drawn = [
            pool.submit(
                draw_flitch,
                first_seed + index,
                index,
                leaves=leaves,
                asked=asked if index < flitches else 3,
                is_foreign=index >= flitches,
            )
            for index in range(flitches + foreign)
        ]
        return [one.result() for one in drawn]


def print_table(judged: Sequence[Asked]) -> None:
    own = [one for one in judged if not one.is_foreign]
    away = [one for one in judged if one.is_foreign]
    print(f"{len(own)} leaves of the stock, {len(away)} foreign ones")
    for figure in dict.fromkeys(one.figure for one in own):
        held = [one for one in own if one.figure == figure]
        print(f"{figure:11} {_own_words(held)}")
    print(f"{'together':11} {_own_words(own)}")
    refused = np.mean([not one.told_in for one in away]) if away else float("nan")
    print(f"foreign leaves refused {refused:.1%}")
    print(f"seconds a leaf: median {np.median([one.seconds for one in judged]):.1f}")
    said = [one for one in judged if one.told_in]
    _reliability("of the flitch named", [(one.chance, one.right_flitch) for one in judged])
    near = [(one.place_chance, one.off <= 1) for one in said if one.right_flitch]
    _reliability("within one place", near)


def _own_words(held: Sequence[Asked]) -> str:
    found = [one for one in held if one.right_flitch and one.told_in]
    near = np.mean([one.off <= 1 for one in found])
    laid = np.mean([one.laid_right for one in found])
    exact = np.mean([one.off == 0 for one in found])
    return (
        f"{len(held):4} asked: right flitch {len(found) / len(held):6.1%}; of those place to "
        f"one leaf {near:6.1%}, exact {exact:6.1%}; laying {laid:6.1%}"
    )


def _reliability(what: str, told: Sequence[tuple[float, bool]]) -> None:
    print(f"told chance {what}:")
    for low, high in pairwise(SURE):
        right = [is_right for chance, is_right in told if low <= chance < high]
        if right:
            print(f"  {low:.2f} to {min(high, 1):.2f}: {len(right):4}, right {np.mean(right):.1%}")


def judge_photos(first_seed: int, *, flitches: int, foreign: int, leaves: int) -> Iterator[Asked]:
    """Yield loose leaves looked for through photograph files and the command line."""
    with tempfile.TemporaryDirectory() as place:
        where = ["--catalog", f"sqlite:///{place}/catalog.db", "--pictures", f"{place}/pictures"]
        made = []
        for index in range(flitches + foreign):
            figure, species, cut = WOODS[index % len(WOODS)]
            plan = FlitchPlan(
                seed=first_seed + index,
                species=species,
                cut=cut,
                figure=figure,
                leaves=leaves,
                length_mm=1600,
                rails=True,
                photo_px=(1600, 2400),
                shots=(),
            )
            made.append(plan)
            if index < flitches:
                folder = Path(place) / f"flitch-{index}"
                folder.mkdir()
                for number in range(1, leaves + 1):
                    if number != leaves // 2:
                        path = folder / f"{number:02d}.jpg"
                        draw_photo(plan, Scene(number, "as-lies", "A"), path)
                _run("take-in", str(folder), "--flitch", str(index), *where)
        for index, plan in enumerate(made):
            for number in (leaves // 2, leaves - 2):
                laid = LAYINGS[(index + number) % 4]
                path = Path(place) / f"loose-{index}-{number}.jpg"
                draw_photo(plan, Scene(number, str(laid), "A"), path)
                start = time.process_time()
                found = json.loads(_run("place", str(path), "--json", *where))["leaves"][0]
                seconds = time.process_time() - start
                yield _score_told(found, index, plan, number, laid, flitches, seconds)


def _run(*words: str) -> str:
    return CliRunner().invoke(flitchwright, list(words), catch_exceptions=False).stdout


def _score_told(
    found: dict[str, object],
    index: int,
    plan: FlitchPlan,
    number: int,
    laid: Laid,
    flitches: int,
    seconds: float,
) -> Asked:
    numbers = tuple(one for one in range(1, plan.leaves + 1) if one != plan.leaves // 2)
    right = index < flitches and found["flitch"] == str(index)
    off = float("nan")
    if right:
        names = [f"{one:02d}" for one in numbers]
        placing = Placing(
            0,
            1.0,
            *(found[name] for name in ("is_leaf", "after_leaf", "before_leaf")),
            Laid.AS_LIES,
            *(1.0, 1.0, 1.0),
        )
        off = abs(told_place(placing, names) - true_place(number, numbers))
    return Asked(
        figure=plan.figure,
        is_foreign=index >= flitches,
        told_in=bool(found["in_catalogue"]),
        right_flitch=right,
        off=off,
        laid_right=found["laid"] == str(laid),
        chance=float(str(found["chance"])),
        place_chance=float(str(found["place_chance"] or 0)),
        seconds=seconds,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flitches", type=int, default=60)
    parser.add_argument("--foreign", type=int, default=34, help="flitches not in the stock")
    parser.add_argument("--leaves", type=int, default=24)
    parser.add_argument("--asked", type=int, default=5, help="loose leaves of each flitch")
    parser.add_argument("--photos", action="store_true", help="through photograph files")
    parser.add_argument("--seed", type=int, help="first seed; fresh ones without it")
    chosen = parser.parse_args()
    first = chosen.seed
    if first is None:
        first = int(np.random.default_rng().integers(10_000, 2**30))
    print(f"seeds from {first}; {chosen.flitches} flitches of {chosen.leaves}", flush=True)
    if chosen.photos:
        judged = judge_photos(
            first, flitches=chosen.flitches, foreign=chosen.foreign, leaves=chosen.leaves
        )
    else:
        drawn = draw_all(
            first,
            flitches=chosen.flitches,
            foreign=chosen.foreign,
            leaves=chosen.leaves,
            asked=chosen.asked,
        )
        judged = judge(drawn)
    print_table(list(judged))


if __name__ == "__main__":
    main()

"""A flitch as it is delivered: out of order, some leaves turned, some missing."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from sample_images.draw import SHOT_COLUMNS, write_numbers
from sample_images.noise import chance
from sample_images.plan import FlitchPlan
from sample_images.scene import Scene, draw_photo


@dataclass(frozen=True, slots=True)
class Delivered:
    """One leaf of a delivered stack: which leaf of the flitch it is, and how it lies."""

    leaf: int
    laid: str = "as-lies"


def shuffle_stack(
    plan: FlitchPlan, *, missing: int = 0, turned: float = 0.15, face_over: float = 0.10
) -> tuple[Delivered, ...]:
    """Return the leaves of a plan in the order of a careless delivery, the same for one seed.

    Parameters
    ----------
    missing : int
        Leaves that do not arrive; the first and the last always do.
    turned, face_over : float
        Shares of leaves turned end for end, and turned over their long edge; a leaf that is both
        lies end-over.
    """
    rng = chance(plan.seed, "delivery")
    inner = rng.permutation(range(2, plan.leaves))[:missing]
    kept = [number for number in range(1, plan.leaves + 1) if number not in set(inner.tolist())]
    laid = {
        (False, False): "as-lies",
        (True, False): "end-turned",
        (False, True): "face-over",
        (True, True): "end-over",
    }
    return tuple(
        Delivered(int(number), laid[bool(rng.random() < turned), bool(rng.random() < face_over)])
        for number in rng.permutation(kept)
    )


def draw_stack(
    plan: FlitchPlan, stack: Sequence[Delivered], folder: Path, *, lamp: str = "A"
) -> Iterator[Path]:
    """Yield each file of a delivered stack: a photograph a leaf, shots.csv, stack.json.

    The shot list knows no better than the dealer: leaves are labelled 001, 002, ... from the top
    of the stack, each as it lies. ``stack.json`` holds the truth of each photograph (leaf and
    laying in the flitch) in that order.
    """
    folder.mkdir(parents=True, exist_ok=True)
    places = {one: place for place, one in enumerate(stack, start=1)}
    truth = {}
    for one in sorted(stack, key=lambda delivered: delivered.leaf):
        path = folder / f"{plan.name}_{places[one]:03d}.jpg"
        truth[places[one]] = draw_photo(plan, Scene(one.leaf, one.laid, lamp), path)
        yield path
    listing = folder / "shots.csv"
    with listing.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(SHOT_COLUMNS)
        for place in sorted(truth):
            size = (round(plan.length_mm), round(plan.width_mm)) if plan.give_size else ("", "")
            table.writerow([truth[place].file, f"{place:03d}", "as-lies", lamp, 0, *size])
    yield listing
    answer = folder / "stack.json"
    photos = [asdict(truth[place]) for place in sorted(truth)]
    answer.write_text(write_numbers({"plan": asdict(plan), "photos": photos}), encoding="utf-8")
    yield answer

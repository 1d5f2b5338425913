"""Print how well turned pieces are foretold: ``python -m tests.accuracy.slanted [--flitches N]``.

Flitches of fresh seeds are drawn as photographs under lamps in line with the grain (and one at the
side), read through the command line's own intake, and every two neighbours are turned in their
plane: ``mirrored`` as in a herringbone or a sunburst (the left leaf one way, the right one, turned
over, the other), ``beside`` as in a box or a parquet (the left leaf upright, the right one turned).
The truth is the generator's own writing of the physics. ``--changed`` draws wood whose highlight is
not of the assumed form. As in `tests.accuracy.rooms`, steps are held against equal faces and
intervals against the full truth.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from catalog.seen_leaves import SeenBundle, seen_leaves
from sample_images import FlitchPlan, draw_flitch
from sample_images.rooms import RoomLight, room_truth, small_lamps
from sample_images.scene import flitch_of
from tests.accuracy.rooms import EVIDENCE, rms, room_plan
from tests.room_lights import true_rooms
from ui.commands.bundle_source import bundle_source
from vision.readings import PairAlternation
from vision.room_alternation import fit_leaves, judge_in_room
from vision.room_lights import Room, free_room, named_room
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp

LEAVES = 5
SETTINGS = VisionSettings()
TURNS_DEG = (0.0, 30.0, 45.0, 60.0, 90.0)
ROOMS = ("lamp-row", "window-end", "window-side", "low-sun")
WAYS = {
    "mirrored": ((Laid.AS_LIES, Laid.FACE_OVER), (-1.0, 1.0)),
    "beside": ((Laid.AS_LIES, Laid.AS_LIES), (0.0, 1.0)),
}
HOLDS = ("is_held", "range_holds")
EYE_MM = (0.0, 300.0, 2200.0)


@dataclass(frozen=True)
class TurnedRow:
    """One pair so turned in one light: foretold, and true."""

    pair: PairAlternation
    true: dict

    @property
    def truth(self) -> float:
        return self.true["tilt_only_step"]

    @property
    def error(self) -> float:
        assert self.pair.lightness_step is not None
        return self.pair.lightness_step - self.truth

    @property
    def is_held(self) -> bool:
        low, high = self.pair.lightness_low, self.pair.lightness_high
        assert low is not None
        assert high is not None
        return low <= self.true["lightness_step"] <= high

    @property
    def range_holds(self) -> bool:
        order = ["none", "slight", "strong"]
        words = self.pair.flag.split(" to ")
        true = max(self.true["delta_e00_segments"])
        grade = int(true >= SETTINGS.slight_from) + int(true >= SETTINGS.strong_from)
        return order.index(words[0]) <= grade <= order.index(words[-1])


def turned_rows(plan: FlitchPlan) -> Iterator[tuple[tuple[str, str, float], TurnedRow]]:
    """Yield every pair, turned every way in every light, by evidence, way and turn."""
    with tempfile.TemporaryDirectory() as place:
        for _file in draw_flitch(plan, Path(place)):
            pass
        with bundle_source(Path(place), None, catalog_url=None, pictures=None) as source:
            seen = seen_leaves(source.catalog, source.bundle_id)
    wood = flitch_of(plan)
    lights = _lights(plan, seen)
    fits = {
        "lamp swap": _fits(seen, side=False),
        "lamp swap and side": _fits(seen, side=True),
    }
    for left, right in pairwise(range(1, plan.leaves + 1)):
        labels = (f"{left:02d}", f"{right:02d}")
        for way, (laid, signs) in WAYS.items():
            for turn in TURNS_DEG:
                turned = (signs[0] * turn, signs[1] * turn)
                for room, light in lights:
                    true = room_truth(
                        wood.leaf(left),
                        wood.leaf(right),
                        light,
                        laid=(laid[0].value, laid[1].value),
                        turned_deg=turned,
                    )
                    for title, known in fits.items():
                        pair = judge_in_room(
                            labels,
                            (known[labels[0]], known[labels[1]]),
                            laid,
                            room,
                            match=way,
                            length_mm=seen.length_mm or plan.length_mm,
                            settings=SETTINGS,
                            turned_deg=turned,
                        )
                        yield (title, way, turn), TurnedRow(pair, true)


def _fits(seen: SeenBundle, *, side: bool):
    return fit_leaves(
        seen.order, [one for one in seen.seen if side or one.shot.lamp is not Lamp.SIDE]
    )


def _lights(plan: FlitchPlan, seen: SeenBundle) -> list[tuple[Room, RoomLight]]:
    """Return lamp A as for photographs, and rooms, each as `vision` and as the generator has it."""
    length = seen.length_mm or plan.length_mm
    true = true_rooms(plan.length_mm)
    lamp = (0.0, plan.length_mm / 2 + 300.0, plan.length_mm * 0.6)
    lights = [(free_room(lamp, EYE_MM, name="lamp"), RoomLight(small_lamps([lamp]), EYE_MM))]
    return lights + [(named_room(name, length_mm=length), true[name]) for name in ROOMS]


def print_rows(found: dict[tuple[str, str, float], list[TurnedRow]]) -> None:
    """Print one line an evidence, way and turn."""
    print("evidence             pieces    turn  steps  true rms  rmse   sign   held  range")
    for (title, way, turn), rows in sorted(found.items()):
        large = [row for row in rows if abs(row.truth) > 1]
        right = [row.truth * (row.truth + row.error) > 0 for row in large]
        sign = f"{np.mean(right):.2f}" if right else "-"
        held, ranged = (np.mean([getattr(r, name) for r in rows]) for name in HOLDS)
        print(
            f"{title:20} {way:9} {turn:4.0f}  {len(rows):5}  {rms([r.truth for r in rows]):8.2f}  "
            f"{rms([r.error for r in rows]):4.2f}  {sign:>5}  "
            f"{held:5.2f}  {ranged:.2f}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flitches", type=int, default=9, help="of five leaves, four pairs each")
    parser.add_argument("--changed", action="store_true", help="wood of another form")
    asked = parser.parse_args()
    found: dict[tuple[str, str, float], list[TurnedRow]] = defaultdict(list)
    evidence = {"all": EVIDENCE["lamp swap and side"]}
    for index in range(asked.flitches):
        plan = room_plan(index, changed=asked.changed, leaves=LEAVES, evidence=evidence)
        for key, row in turned_rows(plan):
            found[key].append(row)
    print_rows(found)


if __name__ == "__main__":
    main()

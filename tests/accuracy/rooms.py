"""Print how well rooms are foretold: ``python -m tests.accuracy.rooms [--flitches N] [--changed]``.

Flitches of fresh seeds are drawn as photographs, read through the command line, cut-out included,
and held against the generator's own truth. ``--changed`` draws wood whose highlight is not of the
assumed form: another lobe, another film index, sheen, faces that differ more.

Where only one face was photographed, the step is held against the truth with equal faces, for the
other is unknown; whether the interval holds is asked of the full truth.
"""

from __future__ import annotations

import argparse
import json
import secrets
import tempfile
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from sample_images import FlitchPlan, draw_flitch
from sample_images.rooms import room_truth
from sample_images.scene import flitch_of
from tests.accuracy.judged import BOARDS, CUTS, FIGURES, WOODS
from tests.room_lights import true_rooms
from ui.commands.group import flitchwright
from vision.settings import VisionSettings
from vision.step_grade import grade

LEAVES = 5
SETTINGS = VisionSettings()
EVIDENCE: dict[str, tuple[str, ...]] = {
    "lamp swap": ("as-lies/A", "as-lies/B"),
    "lamp swap and side": ("as-lies/A", "as-lies/B", "as-lies/side"),
    "opened pairs, both lamps": ("opened-pair/A", "opened-pair/B"),
}
CHANGED = (
    {"lobe_shape": "flat-top", "sheen": 0.06, "film_index": 1.35, "face_lobe_sd": 0.3},
    {"lobe_shape": "lorentz", "sheen": 0.06, "film_index": 1.35, "face_lobe_sd": 0.3},
)


@dataclass(frozen=True)
class RoomRow:
    """One pair in one room: foretold, and true."""

    pair: dict
    true: dict
    one_face: bool

    @property
    def error(self) -> float:
        return self.pair["lightness_step"] - self.truth

    @property
    def truth(self) -> float:
        return self.true["tilt_only_step" if self.one_face else "lightness_step"]

    @property
    def is_held(self) -> bool:
        return (
            self.pair["lightness_low"] <= self.true["lightness_step"] <= self.pair["lightness_high"]
        )

    @property
    def grade_agrees(self) -> bool:
        name = "tilt_only_delta_e00_segments" if self.one_face else "delta_e00_segments"
        true = max(self.true[name])
        return grade(self.pair["delta_e00"], SETTINGS) is grade(true, SETTINGS)

    @property
    def range_holds(self) -> bool:
        true = max(self.true["delta_e00_segments"])
        words = self.pair["flag"].split(" to ")
        order = ["none", "slight", "strong"]
        low, high = order.index(words[0]), order.index(words[-1])
        return low <= order.index(grade(true, SETTINGS)) <= high


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flitches", type=int, default=27, help="of five leaves, four pairs each")
    parser.add_argument("--changed", action="store_true", help="wood of another form")
    asked = parser.parse_args()
    found: dict[tuple[str, str], list[RoomRow]] = defaultdict(list)
    for index in range(asked.flitches):
        for key, row in judge_flitch(room_plan(index, changed=asked.changed)):
            found[key].append(row)
    print_rows(found)


def room_plan(
    index: int,
    *,
    changed: bool = False,
    leaves: int = LEAVES,
    evidence: dict[str, tuple[str, ...]] = EVIDENCE,
) -> FlitchPlan:
    """Return the plan of one flitch, its seed drawn now; woods, cuts and boards in turn."""
    wood, cut = WOODS[index % len(WOODS)], CUTS[index // len(WOODS) % len(CUTS)]
    plan = FlitchPlan(
        seed=secrets.randbelow(2**31),
        species=wood,
        cut=cut,
        figure=FIGURES.get((wood, cut), "none"),
        leaves=leaves,
        board=BOARDS[index % len(BOARDS)],
        photo_px=(640, 960),
        shots=tuple(dict.fromkeys(shot for shots in evidence.values() for shot in shots)),
    )
    return replace(plan, **CHANGED[index % len(CHANGED)]) if changed else plan


def judge_flitch(
    plan: FlitchPlan, evidence: dict[str, tuple[str, ...]] = EVIDENCE
) -> list[tuple[tuple[str, str], RoomRow]]:
    """Return every pair in every named light, for each evidence, as the command line tells it."""
    wood = flitch_of(plan)
    rooms = true_rooms(plan.length_mm)
    true = {
        (f"{number:02d}", name): room_truth(wood.leaf(number), wood.leaf(number + 1), room)
        for number in range(1, plan.leaves)
        for name, room in rooms.items()
    }
    rows = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for _file in draw_flitch(plan, folder):
            pass
        lines = (folder / "shots.csv").read_text().splitlines()
        for title, shots in evidence.items():
            kept = [line for line in lines[1:] if _shot_of(line) in shots]
            (folder / "shots.csv").write_text("\n".join([lines[0], *kept]) + "\n")
            for pair in rooms_told(folder):
                key = (title, pair["light"])
                is_one_face = not title.startswith("opened")
                rows.append((key, RoomRow(pair, true[pair["left"], pair["light"]], is_one_face)))
    return rows


def rooms_told(folder: Path) -> list[dict]:
    """Return what the command line says of the photographs in a folder, in every named light."""
    words = ["alternation", str(folder), "--room", "all", "--json"]
    ran = CliRunner().invoke(flitchwright, words, catch_exceptions=False)
    assert ran.exit_code == 0, ran.stderr
    return json.loads(ran.stdout)["pairs"]


def _shot_of(line: str) -> str:
    _file, _leaf, laid, lamp, *_rest = line.split(",")
    return f"{laid}/{lamp}"


def print_rows(found: dict[tuple[str, str], list[RoomRow]]) -> None:
    print(
        "evidence                  light          pairs  true rms  rmse   sign   held  flag  range"
    )
    for (title, light), rows in found.items():
        large = [row for row in rows if abs(row.truth) > 1]
        right = [row.pair["lightness_step"] * row.truth > 0 for row in large]
        print(
            f"{title:25} {light:14} {len(rows):5}  {rms([row.truth for row in rows]):7.2f}"
            f"  {rms([row.error for row in rows]):5.2f}"
            f"  {f'{np.mean(right):.2f}' if right else '-':>5}"
            f"  {np.mean([row.is_held for row in rows]):.2f}"
            f"  {np.mean([row.grade_agrees for row in rows]):.2f}"
            f"  {np.mean([row.range_holds for row in rows]):.2f}"
        )


def rms(values: list[float]) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


if __name__ == "__main__":
    main()

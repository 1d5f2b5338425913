"""What is asked of a face, as options of a command."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from vision.layout import END_OVERHANG_MM, OVERHANG_MM, SHOOT_MM, Allowances
from vision.match_layout import FaceWish
from vision.shot import Laid

SIZE = click.FloatRange(min=1.0)
SPARE = click.FloatRange(min=0.0)


class PanelSize(click.ParamType):  # type: ignore[type-arg]
    """Width and length of a panel, ``600x2000``."""

    name = "WIDTHxLENGTH"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Return both sizes in mm."""
        if isinstance(value, tuple):
            return value
        try:
            width, length = (float(part) for part in str(value).lower().split("x"))
        except ValueError:
            self.fail(f"{value} is no size of a panel. Write for example 600x2000.", param, ctx)
        return width, length


class LeafShift(click.ParamType):  # type: ignore[type-arg]
    """A leaf and by how much it is moved down its grain, ``03=12.5`` or ``03=-8``."""

    name = "LEAF=MM"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float]:
        """Return the label and mm."""
        if isinstance(value, tuple):
            return value
        leaf, named, down = str(value).rpartition("=")
        try:
            return leaf.strip(), float(down if named else "none")
        except ValueError:
            self.fail(f"{value} moves no leaf. Write for example 03=12 or 03=-8.", param, ctx)


STARTS = ("as-lies", "face-over", "end-turned", "end-over")
_OPTIONS = (
    click.option("--width-mm", type=SIZE, help="Width of the face, or diameter of a disc."),
    click.option("--length-mm", type=SIZE, help="Length of the face."),
    click.option("--pieces", type=click.IntRange(1, 256), help="Leaves, wedges, strips, squares."),
    click.option("--slip", "is_slipped", is_flag=True, help="Slip where the match would book."),
    click.option("--panel", "panels", type=PanelSize(), multiple=True, help="One panel of a set."),
    click.option(
        "--grain-deg", default=45.0, show_default=True, help="Slant of diamonds and herringbone."
    ),
    click.option("--seed", default=1, show_default=True, help="Which draw of a random match."),
    click.option(
        "--start",
        type=click.Choice(STARTS),
        default="as-lies",
        show_default=True,
        help="How the first leaf lies: face-over flips the centre, end-turned brings the other "
        "long edge first.",
    ),
    click.option(
        "--shift", "shifts", type=LeafShift(), multiple=True, help="Move a leaf down its grain, mm."
    ),
    click.option(
        "--shoot-mm", type=SPARE, default=SHOOT_MM, show_default=True, help="Off each leaf's sides."
    ),
    click.option("--overhang-mm", type=SPARE, default=OVERHANG_MM, show_default=True, help="Side."),
    click.option(
        "--end-overhang-mm", type=SPARE, default=END_OVERHANG_MM, show_default=True, help="At ends."
    ),
)


def face_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options of a face; it takes them as keywords, see `face_wish`."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def face_wish(options: dict[str, Any]) -> FaceWish:
    """Return what the options of `face_options` ask for."""
    spare = Allowances(options["shoot_mm"], options["overhang_mm"], options["end_overhang_mm"])
    return FaceWish(
        width_mm=options["width_mm"],
        length_mm=options["length_mm"],
        pieces=options["pieces"],
        is_slipped=options["is_slipped"],
        grain_deg=options["grain_deg"],
        seed=options["seed"],
        panels=tuple(options["panels"]),
        allowances=spare,
        start=Laid(options["start"]),
        shifts_mm=tuple(options["shifts"]),
    )

"""Options that say in which light a match will be looked at."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from catalog.light_asked import LightAsked
from vision.errors import RoomNotPossible
from vision.room_alternation import USUAL_LENGTH_MM
from vision.room_lights import ROOM_WORDS, STANDING_EYE_MM, Room, Triple, free_room, named_room

ALL = "all"


class Place(click.ParamType[Triple]):
    """Three numbers, mm, with commas between."""

    name = "x,y,z"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Triple:
        """Return the three numbers."""
        if isinstance(value, tuple):
            return value
        try:
            x, y, z = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(
                f"{value!r} is no place; write three numbers in mm, such as 0,1500,900: to the "
                "right, toward the upper end, out of the face, from the middle of the panel.",
                param,
                ctx,
            )
        return x, y, z


Command = TypeVar("Command", bound=Callable[..., Any])


_eye_option = click.option(
    "--eye-at",
    type=Place(),
    help="Where the eye is, for --lamp-at and --worst-light; else two steps before the panel, as "
    "someone stands.",
)
_lamp_option = click.option(
    "--lamp-at",
    type=Place(),
    help="A lamp, mm from the middle of the panel: right, up along the grain, out of the face; "
    "0,1500,900 hangs above it.",
)


def one_light_options(command: Command) -> Command:
    """Add ``--room`` for one light, ``--lamp-at`` and ``--eye-at``."""
    room = click.option(
        "--room",
        "room_name",
        type=click.Choice(list(ROOM_WORDS)),
        help="In this light, not under a lamp of the photographs.",
    )
    for option in (_eye_option, _lamp_option, room):
        command = option(command)
    return command


def one_light(
    room_name: str | None, lamp_at: Triple | None, eye_at: Triple | None
) -> LightAsked | None:
    """Return the light asked for, None if none was."""
    if room_name is not None and lamp_at is not None:
        raise click.UsageError("Name either a --room or a place of --lamp-at, not both.")
    if lamp_at is not None:
        return LightAsked("", lamp_at, eye_at or STANDING_EYE_MM)
    return None if room_name is None else LightAsked(room_name)


def light_options(command: Command) -> Command:
    """Add ``--room``, ``--lamp-at`` and ``--eye-at``."""
    for option in (
        _eye_option,
        _lamp_option,
        click.option(
            "--room",
            "room_names",
            multiple=True,
            type=click.Choice([*ROOM_WORDS, ALL]),
            help="In this light, not under the lamps of the photographs; may be given again.",
        ),
    ):
        command = option(command)
    return command


def chosen_rooms(
    names: Sequence[str],
    lamp_at: Triple | None,
    eye_at: Triple | None,
    *,
    length_mm: float | None,
) -> list[Room]:
    """Return the rooms asked for, those by name first; none if nothing was asked."""
    wanted = list(ROOM_WORDS) if ALL in names else list(dict.fromkeys(names))
    rooms = [named_room(name, length_mm=length_mm or USUAL_LENGTH_MM) for name in wanted]
    if lamp_at is not None:
        try:
            rooms.append(free_room(lamp_at, eye_at or STANDING_EYE_MM))
        except RoomNotPossible as error:
            raise click.UsageError(str(error)) from error
    return rooms

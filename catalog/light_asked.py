"""A light that was not photographed, as it is asked for."""

from __future__ import annotations

from dataclasses import dataclass

from vision.room_alternation import USUAL_LENGTH_MM
from vision.room_lights import STANDING_EYE_MM, Room, Triple, free_room, named_room


@dataclass(frozen=True, slots=True)
class LightAsked:
    """A light by its name, or one lamp and an eye, mm from the middle of the panel.

    Axes are those of `vision.room_lights`.
    """

    name: str = ""
    lamp_mm: Triple | None = None
    eye_mm: Triple = STANDING_EYE_MM

    def room(self, length_mm: float | None, *, width_mm: float = 0.0) -> Room:
        """Return the light about leaves, or a panel, of that length and width.

        Raises
        ------
        RoomNotPossible
            If the name is not known, or lamp or eye is not before the face.
        """
        if self.lamp_mm is not None:
            return free_room(self.lamp_mm, self.eye_mm)
        return named_room(self.name, length_mm=length_mm or USUAL_LENGTH_MM, width_mm=width_mm)

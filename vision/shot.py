"""One photograph's place in the shot list: which leaf, how it lay, how it was lit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Laid(StrEnum):
    """How a leaf lies on the board, against how it came off the stack.

    The four layings of one leaf form a group (the Klein four-group): each undoes itself and any
    two give the third. ``OPENED_PAIR`` is two leaves: the left as it lies, the right face over.
    """

    AS_LIES = "as-lies"
    END_TURNED = "end-turned"
    FACE_OVER = "face-over"
    END_OVER = "end-over"
    OPENED_PAIR = "opened-pair"


class Lamp(StrEnum):
    """Which lamp was on. A stands past the end at the top of the picture, B past the other."""

    A = "A"
    B = "B"
    SIDE = "side"
    BOTH = "both"
    UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class Shot:
    """One row of a shot list."""

    file: str
    """Name in the folder; the first part's, if the leaf was photographed in parts."""
    leaf: str
    """Label of the leaf; ``LEFT+RIGHT`` for an opened pair; empty for a bare board."""
    laid: Laid = Laid.AS_LIES
    lamp: Lamp = Lamp.UNKNOWN
    blank: bool = False
    """True for the bare board under that lamp."""
    wet: bool = False
    length_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    """Height of the leaf's face above the rails' printed face, 0 to 200; None: as high as they."""
    parts: tuple[str, ...] = ()
    """The files of all parts in order along the leaf; empty for a single photograph."""

    @property
    def files(self) -> tuple[str, ...]:
        """The photographs, one or all parts, in order."""
        return self.parts or (self.file,)

    @property
    def leaves(self) -> tuple[str, ...]:
        """The labels of the leaves in view, left to right."""
        if self.blank:
            return ()
        if self.laid is Laid.OPENED_PAIR:
            return tuple(part.strip() for part in self.leaf.split("+"))
        return (self.leaf,)

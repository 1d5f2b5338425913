"""Flags: *went on, but look*. A name, once given, is stored and never changes its meaning."""

from dataclasses import dataclass
from enum import StrEnum


class PhotoFlag(StrEnum):
    """What is doubtful about one photograph."""

    SCALE_MISSING = "scale-missing"
    STRIP_MISSING = "strip-missing"
    CLIPPED_LIGHT = "clipped-light"
    CLIPPED_DARK = "clipped-dark"
    LOW_RESOLUTION = "low-resolution"
    PROFILE_UNREADABLE = "profile-unreadable"
    SIZE_DISAGREES = "size-disagrees"
    JOINT_UNCERTAIN = "joint-uncertain"
    UNEVEN_LIGHT = "uneven-light"


class AlternationFlag(StrEnum):
    """How strongly a pair will show light and dark; the words of the machine-readable output."""

    NONE = "none"
    SLIGHT = "slight"
    STRONG = "strong"
    NOT_MEASURED = "not-measured"


@dataclass(frozen=True, slots=True)
class FlagMeaning:
    """One flag in words: what it says and what to do about it."""

    short: str
    advice: str


MEANINGS: dict[PhotoFlag, FlagMeaning] = {
    PhotoFlag.SCALE_MISSING: FlagMeaning(
        "no scale", "Type the leaf's length and width in the shot list, or lay marker rails."
    ),
    PhotoFlag.STRIP_MISSING: FlagMeaning(
        "no grey strip",
        "Lightness is relative to the board only. Leave the grey strip beside the leaf.",
    ),
    PhotoFlag.CLIPPED_LIGHT: FlagMeaning(
        "burnt out", "Part of the leaf is too bright for the camera. Expose less."
    ),
    PhotoFlag.CLIPPED_DARK: FlagMeaning(
        "too dark", "Part of the leaf is lost in the dark. Expose more."
    ),
    PhotoFlag.LOW_RESOLUTION: FlagMeaning(
        "coarse", "Too few pixels for figure and grain. Use the camera's full size, or go nearer."
    ),
    PhotoFlag.PROFILE_UNREADABLE: FlagMeaning(
        "colour profile unreadable", "Taken as sRGB. Set the camera to sRGB."
    ),
    PhotoFlag.SIZE_DISAGREES: FlagMeaning(
        "size disagrees",
        "Length to width in the picture is not that of the typed size. Check both, and that the "
        "camera looks straight down.",
    ),
    PhotoFlag.JOINT_UNCERTAIN: FlagMeaning(
        "joint uncertain", "The joint between the two leaves is hard to see. Leave a finger's gap."
    ),
    PhotoFlag.UNEVEN_LIGHT: FlagMeaning(
        "very uneven light", "Move the lamp farther off, or photograph the bare board under it."
    ),
}

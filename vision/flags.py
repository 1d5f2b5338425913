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
    RAILS_UNFIT = "rails-unfit"
    STATION_NOT_HELD = "station-not-held"
    BLURRED = "blurred"
    FOCUS_UNEVEN = "focus-uneven"
    GLARE = "glare"
    SHADOW_EDGE = "shadow-edge"
    BUCKLED = "buckled"
    OVER_COMPRESSED = "over-compressed"
    JOINED_COARSER = "joined-coarser"


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
    PhotoFlag.RAILS_UNFIT: FlagMeaning(
        "rails not trusted",
        "The size does not rest on the rails. See the photograph's quality sheet for why.",
    ),
    PhotoFlag.STATION_NOT_HELD: FlagMeaning(
        "not as the station",
        "Colour is not what the station promises. See the photograph's quality sheet for why.",
    ),
    PhotoFlag.BLURRED: FlagMeaning(
        "blurred",
        "The whole picture is soft. Focus on the board, stand the camera firm, use the self-timer.",
    ),
    PhotoFlag.FOCUS_UNEVEN: FlagMeaning(
        "partly out of focus",
        "Part of the leaf is softer than the rest or than the board. Focus on the leaf itself, "
        "hang the camera square over its middle, and close the lens to f/8.",
    ),
    PhotoFlag.GLARE: FlagMeaning(
        "glare",
        "The lamp mirrors in the leaf and hides its colour. Move the lamp farther past the end, "
        "or lower it, until the shine is gone.",
    ),
    PhotoFlag.SHADOW_EDGE: FlagMeaning(
        "shadow",
        "The edge of a shadow, or a patch of other light, lies in the picture. Stand clear of the "
        "lamp, take stands and cables away, and shut out daylight.",
    ),
    PhotoFlag.BUCKLED: FlagMeaning(
        "does not lie flat",
        "The leaf stands up in waves, which shade it. Weigh its ends down or damp and press it, "
        "and photograph it again.",
    ),
    PhotoFlag.OVER_COMPRESSED: FlagMeaning(
        "compressed too hard",
        "The file has lost grain and colour. Use the camera's own file at its finest JPEG quality, "
        "not one from a messenger or a web page.",
    ),
    PhotoFlag.JOINED_COARSER: FlagMeaning(
        "joined coarser",
        "The photographs have more pixels than the picture joined from them. For the finest figure "
        "take a close-up besides.",
    ),
}

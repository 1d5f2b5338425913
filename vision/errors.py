"""What makes a photograph unusable. Every message says what was found, needed, and what to do."""


class VisionError(Exception):
    """Base of all refusals by `vision`; screens and commands catch this one."""


class PhotoUnreadable(VisionError):
    """The file is not a picture, is cut short, empty, too large or of a kind not read here."""


class BoardNotFound(VisionError):
    """No plain board could be told from the rest of the picture."""


class LeafNotFound(VisionError):
    """No leaf, too little of a leaf, or not the number of leaves that the shot list promises."""


class ShotListFaulty(VisionError):
    """A line of the shot list cannot be used."""


class MatchNotPossible(VisionError):
    """The chosen leaves cannot be laid in the chosen match."""

"""What makes a photograph unusable. Every message says what was found, needed, and what to do."""


class VisionError(Exception):
    """Base of all refusals by `vision`; screens and commands catch this one."""


class PhotoUnreadable(VisionError):
    """The file is not a picture, is cut short, empty, too large or of a kind not read here."""


class BoardNotFound(VisionError):
    """No plain board could be told from the rest of the picture."""


class LeafNotFound(VisionError):
    """No leaf, too little of a leaf, or not the number of leaves that the shot list promises."""


class RailsNotPossible(VisionError):
    """Marker rails or a chart holder of the wished size cannot be made."""


class StationUnfit(VisionError):
    """A shooting station cannot be set up from a photograph."""


class RailsUnfit(VisionError):
    """The rails in a photograph cannot be trusted with millimetres."""


class OutlineFaulty(VisionError):
    """An outline drawn by hand cannot be that of a leaf."""


class ShotListFaulty(VisionError):
    """A line of the shot list cannot be used."""


class MatchNotPossible(VisionError):
    """The chosen leaves cannot be laid in the chosen match."""


class PanelNotPossible(VisionError):
    """The panels of a job cannot be made from the leaves there are."""


class ChartUnreadable(VisionError):
    """A colour chart is not in view, too small, spoilt, or its list of known colours is faulty."""


class RoomNotPossible(VisionError):
    """A light or an eye was placed where it cannot be, or is not known by that name."""


class FinishUnknown(VisionError):
    """What a finish does to a wood cannot be told from the photographs of an offcut."""


class OrderNotPossible(VisionError):
    """What is told about a stack contradicts itself, or names a leaf that is not there."""

"""What the catalogue refuses. Every message says what was found, needed, and what to do."""

from __future__ import annotations


class CatalogError(Exception):
    """Base of all refusals by `catalog`; screens and commands catch this one."""


class CatalogTooNew(CatalogError):
    """The catalogue was written by a newer version of this program."""


class CatalogOutOfReach(CatalogError):
    """The database cannot be opened, or stayed busy for too long."""


class NotInCatalog(CatalogError):
    """No such flitch, bundle, leaf or photograph."""


class AlreadyThere(CatalogError):
    """A label or name that must be unique is in use."""


class EntryFaulty(CatalogError):
    """A field that was typed in cannot be used."""


class PictureMissing(CatalogError):
    """A picture is not in the picture store."""


class PictureDamaged(CatalogError):
    """A stored picture is not what its name promises."""


class PicturesNotKept(CatalogError):
    """The picture store cannot be written to."""


class MeasuringStopped(CatalogError):
    """A measuring process died; what was taken in before stays."""


class LampFixed(CatalogError):
    """The photographs of a leaf do not let the lamp be moved."""

"""What has to be said beside a match preview, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from catalog.leaf_views import Shown, Views
from vision.laying import slope_sign
from vision.shot import Laid, Lamp
from vision.stand_in import stand_in

OTHER_LAMP = {Lamp.A: Lamp.B, Lamp.B: Lamp.A}


def preview_notes(
    wanted: Sequence[tuple[str, Laid]],
    lamp: Lamp,
    views: Views,
    shown: Sequence[Shown],
    *,
    unit: str,
    is_photographed: bool = True,
) -> tuple[str, ...]:
    """Return the sentences that belong beside a preview; see `catalog.match_preview`."""
    once = dict(zip(wanted, shown, strict=True))
    wanted, shown = list(once), list(once.values())
    said = (
        _light_note(wanted, lamp, views) if is_photographed else "",
        _face_note(wanted, lamp, views, shown, is_lit=is_photographed),
    )
    notes = [note for note in said if note]
    if any(one.view.shot.wet for one in shown):
        wet = [leaf for (leaf, _), one in zip(wanted, shown, strict=True) if one.view.shot.wet]
        notes.append(f"{_leaves(wet)} {_was(wet)} photographed wet and will look lighter dry.")
    if unit == "px":
        notes.append(
            "Not every leaf has a scale: sizes here are the photographs' own, and leaves "
            "photographed from different heights do not compare."
        )
    return tuple(notes)


def missing_leaves(
    wanted: Sequence[tuple[str, Laid]], lamp: Lamp, views: Views
) -> tuple[tuple[str, Laid], ...]:
    """Return the leaves for which no photograph shows light and dark as laid under this lamp."""
    return tuple(
        (leaf, laid)
        for leaf, laid in wanted
        if stand_in(laid, lamp, [view.shot for view in views.get(leaf, ())]) is None
    )


def _light_note(wanted: Sequence[tuple[str, Laid]], lamp: Lamp, views: Views) -> str:
    if lamp not in OTHER_LAMP:
        return (
            "Light and dark cannot be shown: they show under a lamp past one end of the leaf, A "
            "or B. Choose one of the two."
        )
    missing = missing_leaves(wanted, lamp, views)
    if not missing:
        return ""
    leaves = [leaf for leaf, _ in missing]
    if all(len(views.get(leaf, ())) == 1 for leaf in leaves):
        known = {views[leaf][0].shot.lamp for leaf in leaves}
        remedy = (
            "under the lamp at the other end too"
            if known <= set(OTHER_LAMP)
            else "under lamp A and under lamp B"
        )
        return (
            f"Light and dark cannot be shown: there is only one photograph of {_leaves(leaves)}. "
            f"Photograph {_it(leaves)} {remedy}."
        )
    needed = sorted({_lamp_needed(laid, lamp) for _, laid in missing})
    return (
        f"Light and dark cannot be shown: no photograph shows the fibres of {_leaves(leaves)} "
        f"as they would lie under lamp {lamp.value}. Photograph {_it(leaves)} as "
        f"{'it lies' if len(leaves) == 1 else 'they lie'} under lamp {' and lamp '.join(needed)}."
    )


def _lamp_needed(laid: Laid, lamp: Lamp) -> str:
    """Return the lamp under which the leaf, as it lies, shows what is missing."""
    return (lamp if slope_sign(laid) > 0 else OTHER_LAMP[lamp]).value


def _face_note(
    wanted: Sequence[tuple[str, Laid]],
    lamp: Lamp,
    views: Views,
    shown: Sequence[Shown],
    *,
    is_lit: bool,
) -> str:
    unseen = [leaf for (leaf, _), one in zip(wanted, shown, strict=True) if not one.face_seen]
    if not unseen:
        return ""
    whose = "The turned leaves'" if len(unseen) > 1 else f"The turned leaf {unseen[0]}'s"
    figure = "their figure is each leaf's" if len(unseen) > 1 else "its figure is the same leaf's"
    said = f"{whose} other face was not photographed; {figure} front mirrored"
    if is_lit and lamp in OTHER_LAMP and not missing_leaves(wanted, lamp, views):
        said += ", seen under the lamp at the other end, which meets the fibres the same way"
    return f"{said}."


def _leaves(labels: Sequence[str]) -> str:
    """Return ``leaf 03`` or ``leaves 03, 04 and 05``."""
    if len(labels) == 1:
        return f"leaf {labels[0]}"
    if len(labels) > 6:
        return f"{len(labels)} leaves ({labels[0]} to {labels[-1]})"
    return f"leaves {', '.join(labels[:-1])} and {labels[-1]}"


def _it(labels: Sequence[str]) -> str:
    return "it" if len(labels) == 1 else "them"


def _was(labels: Sequence[str]) -> str:
    return "was" if len(labels) == 1 else "were"

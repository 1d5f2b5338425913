"""What the pieces of a face send in a light that is worked out: for its picture, at every joint."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from catalog.leaf_views import LeafView, Shown, Views
from catalog.light_asked import LightAsked
from catalog.match_light import leaf_lights
from vision.laying import compose, reverses_rows, shows_other_face
from vision.layout import Layout, Placement
from vision.match_layout import LeafExtent
from vision.piece_light import judge_pieces, room_under, show_slices
from vision.readings import LampAndEye, PairAlternation
from vision.room_alternation import USUAL_LENGTH_MM
from vision.room_lights import ROOM_WORDS, Room, scaled_room
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp
from vision.shown_light import where_lamp_stands
from vision.slope_fit import SlopeFit, fit_flitch

Doubles = NDArray[np.float64]

MOST_GAIN = 3.0
"""No place of a picture is made lighter or darker than by so much."""
MOST_LEAN = float(np.deg2rad(10.0))
"""Four standard deviations of what leaves of a straight log lean (`vision.slope_priors`)."""


@dataclass(frozen=True, slots=True, eq=False)
class SlantedLight:
    """The light of every piece of a layout, worked out."""

    shown: tuple[Shown, ...]
    """One a placement."""
    joints: tuple[PairAlternation, ...]
    """One a joint."""
    knows_lean: bool
    """Whether every leaf was photographed under a lamp at the side too."""


def slanted_light(
    layout: Layout,
    extents: Mapping[str, LeafExtent],
    light: Lamp | LightAsked,
    views: Views,
    settings: VisionSettings,
) -> SlantedLight | None:
    """Return the light of pieces that lie any way, worked out from how their leaves' fibres lie.

    None under a lamp other than A or B, or unless every leaf has photographs of both signs of slope
    that tell where lamp and eye stood; see `fitted_leaves`.

    Parameters
    ----------
    layout : Layout
    extents : mapping of str to LeafExtent
        Straight-edged sizes of its leaves.
    light : Lamp or LightAsked
        A lamp as photographed, carried to the middle of the panel; or a light never photographed,
        about the middle of each panel.
    views : Views
        Of all leaves of the bundle: one wood, fitted together.
    settings : VisionSettings
        Limits of the words for light and dark.

    Raises
    ------
    RoomNotPossible
        If the light cannot be.
    """
    if light not in (Lamp.A, Lamp.B) and not isinstance(light, LightAsked):
        return None
    return _slanted(layout, tuple(extents.items()), light, tuple(views.items()), settings)


@lru_cache(maxsize=32)
def _slanted(
    layout: Layout,
    sizes: tuple[tuple[str, LeafExtent], ...],
    light: Lamp | LightAsked,
    seen: tuple[tuple[str, tuple[LeafView, ...]], ...],
    settings: VisionSettings,
) -> SlantedLight | None:
    extents, views = dict(sizes), dict(seen)
    used = {place.leaf for place in layout.placements}
    known = fitted_leaves(views, most_lean=most_lean(layout))
    fits = {leaf: fit for leaf, fit in known.items() if leaf in used}
    lengths = {leaf: extent.length_mm for leaf, extent in extents.items()}
    if set(fits) != used:
        return None
    room = (
        room_about(layout, light)
        if isinstance(light, LightAsked)
        else _lamp_about(fits, lengths, light, views)
    )
    if room is None:
        return None
    return SlantedLight(
        shown=tuple(
            _shown(layout, place, views[place.leaf], fits[place.leaf], room, lengths[place.leaf])
            for place in layout.placements
        ),
        joints=tuple(
            judge_pieces(layout, joint, fits, lengths, room, settings=settings)
            for joint in layout.joints
        ),
        knows_lean=all(fit.side_seen for fit in fits.values()),
    )


def judged_in_rooms(
    layout: Layout, extents: Sequence[LeafExtent], views: Views, settings: VisionSettings
) -> dict[str, tuple[PairAlternation, ...]]:
    """Return every joint of a layout in each light that has a name; none where it cannot be told.

    Parameters are those of `slanted_light`.
    """
    sizes = {extent.label: extent for extent in extents}
    found = {
        name: slanted_light(layout, sizes, LightAsked(name), views, settings) for name in ROOM_WORDS
    }
    return {name: lit.joints for name, lit in found.items() if lit is not None}


def room_about(layout: Layout, asked: LightAsked) -> Room:
    """Return a light about the panels of a layout, in its unit.

    Raises
    ------
    RoomNotPossible
        If the light cannot be.
    """
    boxes = [panel.box for panel in layout.panels]
    wide, long = max(box.width for box in boxes), max(box.height for box in boxes)
    per_mm = 1.0 if layout.unit == "mm" else long / USUAL_LENGTH_MM
    room = scaled_room(asked.room(long / per_mm, width_mm=wide / per_mm), per_mm)
    if asked.name and not layout.lies_along:  # no light is in line with grain that runs many ways
        room = replace(room, words=room.words.split(",")[0])
    return room


def _lamp_about(
    fits: Mapping[str, SlopeFit], lengths: Mapping[str, float], lamp: Lamp, views: Views
) -> Room | None:
    """Return the light of a lamp as it stood over the leaves; None where nothing tells where."""
    lights = leaf_lights(views)
    stood: list[tuple[LampAndEye, float]] = [
        (station, lengths[leaf])
        for leaf in fits
        if (station := where_lamp_stands(lights[leaf], lamp)) is not None
    ]
    return room_under(lamp, stood) if stood else None


def most_lean(layout: Layout) -> float:
    """Return how far fibres may lean for the light of a layout to be told, radians."""
    return np.inf if layout.lies_along else MOST_LEAN


def fitted_leaves(views: Views, *, most_lean: float = MOST_LEAN) -> dict[str, SlopeFit]:
    """Return the fits of the leaves whose photographs tell how their fibres slope and shine.

    Fibres that would lean more than `MOST_LEAN` in the face are none of a leaf's: lamp or eye
    stood elsewhere than the light on the board says, and turned pieces would be told wrong. What
    is not turned may pass a larger ``most_lean``, radians.
    """
    lights = leaf_lights(views)
    fits = fit_flitch(tuple(tuple(lights[leaf]) for leaf in lights))
    return {
        leaf: fit
        for leaf, fit in zip(lights, fits, strict=True)
        if fit is not None and abs(fit.lean) <= most_lean
    }


def slant_words(
    layout: Layout, light: Lamp | LightAsked, views: Views, slanted: SlantedLight | None
) -> tuple[str, ...]:
    """Return what is said of light and dark that is worked out, or why it cannot be."""
    if isinstance(light, Lamp) and layout.lies_along:
        return ()
    unsure = (
        "No photograph under a lamp at the side tells how the leaves shine across the grain, "
        "so these steps are less sure. One more photograph of each leaf would help."
    )
    if slanted is not None:
        said = _worked_out(layout, light)
        return (said,) if slanted.knows_lean else (said, unsure)
    if isinstance(light, LightAsked):
        first = "Light and dark in this light cannot be shown"
    else:
        first = "Light and dark of pieces that lie at a slant cannot be shown"
        if light not in (Lamp.A, Lamp.B):
            return (f"{first} under more than one lamp. Choose lamp A or lamp B.",)
    known = fitted_leaves(views, most_lean=most_lean(layout))
    leaves = list(dict.fromkeys(one.leaf for one in layout.placements if one.leaf not in known))
    which = f"leaf {leaves[0]}" if len(leaves) == 1 else f"leaves {', '.join(leaves)}"
    why = (
        f"{first}: the photographs of {which} do not tell how their fibres slope and shine. Take "
        "them under lamp A and under lamp B, with bare board in view all round."
    )
    return (why,)


def _worked_out(layout: Layout, light: Lamp | LightAsked) -> str:
    if isinstance(light, Lamp):
        return (
            "Pieces lie at a slant to the lamp, and no leaf was photographed so: their light and "
            "dark is worked out from how each leaf's fibres slope and shine under lamps A and B, "
            f"for lamp {light.value} over the middle of the panel as it stood over the leaves. "
            "Most of it comes from the grain's turn and changes as the panel is turned in the "
            "light."
        )
    said = (
        f"The light is {room_about(layout, light).words}. No leaf was photographed in it: light "
        "and dark is worked out from how each leaf's fibres slope and shine under lamps A and B. "
        "Each joint is judged where it lies in the panel, and the figure within a piece stays as "
        "photographed."
    )
    if layout.unit == "px":
        said += f" The panel is taken to be {USUAL_LENGTH_MM / 1000:g} m long."
    return said


def _shown(
    layout: Layout,
    place: Placement,
    views: Sequence[LeafView],
    fit: SlopeFit,
    room: Room,
    length_mm: float,
) -> Shown:
    """Return the photograph that is changed least to show a piece, and by what it is multiplied.

    One of the face that the piece shows, if there is any.
    """
    wanted = show_slices(layout, place, fit, room, length_mm=length_mm).light
    rows = slice(None, None, -1 if reverses_rows(place.laid) else 1)
    found = []
    for view in views:
        shot = view.shot
        if view.light is None or shot.wet or shot.parts or shot.laid is Laid.OPENED_PAIR:
            continue
        seen = np.asarray(view.light.slices)
        seen = seen[::-1] if reverses_rows(shot.laid) else seen
        gain = np.clip(wanted / seen, 1 / MOST_GAIN, MOST_GAIN)
        moved = compose(place.laid, shot.laid)
        is_other = shows_other_face(moved)
        change = float(np.abs(np.log(gain)).mean())
        found.append((is_other, change, Shown(view, moved, not is_other, gain[rows])))
    return min(found, key=lambda one: one[:2])[2]

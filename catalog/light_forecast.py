"""What a run of leaves shows in a light, where it is worst, and which match to take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from catalog.catalog import Catalog
from catalog.light_asked import LightAsked
from catalog.light_words import missing_words
from catalog.match_preview import cards_of
from catalog.records import BundleId
from catalog.seen_leaves import SeenBundle, seen_leaves
from vision.bundle_pattern import LeafSlope, leaf_slopes
from vision.finish import Finish
from vision.lamp_search import LampSearch, search_lamps
from vision.match_choice import MatchJudged, judge_in_lights, judge_matches
from vision.readings import PairAlternation
from vision.room_lights import ROOM_WORDS, STANDING_EYE_MM
from vision.settings import DEFAULT_VISION_SETTINGS, VisionSettings


@dataclass(frozen=True, slots=True)
class LightForecast:
    """What was found for a run of leaves."""

    labels: tuple[str, ...]
    match: str
    light: str
    """In words."""
    joints: tuple[PairAlternation, ...]
    """In the light asked for, left to right."""
    by_room: Mapping[str, tuple[PairAlternation, ...]]
    """The same in each light that has a name."""
    matches: tuple[MatchJudged, ...]
    """In the light asked for, the one to take first; in all named lights if none was asked for."""
    leaves: tuple[LeafSlope, ...]
    """Every leaf of the bundle against its neighbours."""
    lamps: LampSearch | None
    """Only where a lamp was to be carried round."""
    missing: tuple[str, ...]
    """Which photographs are missing; empty if none is."""
    length_mm: float | None
    """Of the leaves."""
    finish: str
    """Name of the finish, empty for the wood as photographed."""


def forecast_light(
    catalog: Catalog,
    bundle_id: BundleId,
    labels: Sequence[str],
    *,
    match: str = "book",
    asked: LightAsked | None = None,
    carry_lamp: bool = False,
    finish: Finish | None = None,
    settings: VisionSettings = DEFAULT_VISION_SETTINGS,
) -> LightForecast:
    """Return what a run of leaves of a bundle will show in a light.

    Parameters
    ----------
    catalog : Catalog
    bundle_id : BundleId
    labels : sequence of str
        Leaves in the order in which they are used.
    match : str
        One of `vision.match_choice.MATCH_KINDS`.
    asked : LightAsked or None
        The light; without one only the lights that have a name are told.
    carry_lamp : bool
        Try a lamp at every place of a dome too; a second a leaf.
    finish : Finish or None
        Said of the leaves with that finish.
    settings : VisionSettings
        Limits of the words for light and dark.

    Raises
    ------
    NotInCatalog
        If a leaf is not in the bundle.
    RoomNotPossible
        If the light cannot be.
    """
    cards_of(catalog, bundle_id, labels)
    seen = seen_leaves(catalog, bundle_id)
    return _forecast(seen, tuple(labels), match, asked, carry_lamp, finish, settings)


@lru_cache(maxsize=32)
def _forecast(
    seen: SeenBundle,
    labels: tuple[str, ...],
    match: str,
    asked: LightAsked | None,
    carry_lamp: bool,
    finish: Finish | None,
    settings: VisionSettings,
) -> LightForecast:
    length = seen.length_mm
    rooms = [LightAsked(name).room(length) for name in ROOM_WORDS]
    wanted = [] if asked is None else [asked.room(length)]
    joints = judge_in_lights(
        labels,
        seen.seen,
        match=match,
        rooms=[*wanted, *rooms],
        length_mm=length,
        finish=finish,
        settings=settings,
    )
    by_light = [tuple(joint[index] for joint in joints) for index in range(len(wanted + rooms))]
    return LightForecast(
        labels=labels,
        match=match,
        light=wanted[0].words if wanted else "",
        joints=by_light[0] if wanted else (),
        by_room=dict(zip(ROOM_WORDS, by_light[len(wanted) :], strict=True)),
        matches=judge_matches(
            labels,
            seen.seen,
            rooms=wanted or rooms,
            length_mm=length,
            finish=finish,
            settings=settings,
        ),
        leaves=leaf_slopes(seen.order, seen.seen),
        lamps=search_lamps(
            labels,
            seen.seen,
            match=match,
            length_mm=length,
            eye_mm=STANDING_EYE_MM if asked is None else asked.eye_mm,
            finish=finish,
            settings=settings,
        )
        if carry_lamp
        else None,
        missing=missing_words(labels, seen.seen),
        length_mm=length,
        finish="" if finish is None else finish.name,
    )

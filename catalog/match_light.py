"""Light and dark at every joint of a match, as far as the photographs of its leaves tell."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from catalog.leaf_views import LeafView, Views
from vision.alternation import judge_joint
from vision.flags import AlternationFlag
from vision.flitch_hue import level_hues
from vision.joint_alternation import alternation_at
from vision.laying import shows_other_face, slope_sign
from vision.layout import LEAN_DEG
from vision.leaf_light import LeafLight
from vision.match_layout import Joint, JointKind, Layout, Match
from vision.readings import PairAlternation
from vision.settings import VisionSettings
from vision.shot import Laid, Lamp

STORED = frozenset({Match.BOOK, Match.SLIP})
"""Matches whose joints are judged when leaves are taken in."""
NEVER_SPUN = frozenset({Laid.AS_LIES, Laid.FACE_OVER})
_RANK = {AlternationFlag.NONE: 0, AlternationFlag.SLIGHT: 1, AlternationFlag.STRONG: 2}


def judged_joints(
    layout: Layout,
    lamp: Lamp,
    views: Views,
    known: Sequence[PairAlternation],
    settings: VisionSettings,
) -> tuple[PairAlternation | None, ...]:
    """Return light and dark at each joint of a layout; None where it cannot be told.

    It can be told where both pieces lie with their grain up and down, as photographed.
    """
    lights = _level_lights(tuple(views.items()))
    return tuple(_judged(layout, joint, lamp, lights, known, settings) for joint in layout.joints)


@lru_cache(maxsize=8)
def _level_lights(seen: tuple[tuple[str, tuple[LeafView, ...]], ...]) -> dict[str, list[LeafLight]]:
    """Return the lights of a bundle's leaves with one hue, kept while its photographs stay."""
    return level_hues(leaf_lights(dict(seen)))


def leaf_lights(views: Views) -> dict[str, list[LeafLight]]:
    """Return what the dry photographs of single, whole leaves tell of their light."""
    return {
        leaf: [
            LeafLight(view.shot, view.light)
            for view in seen
            if view.light is not None and not (view.shot.wet or view.shot.parts)
        ]
        for leaf, seen in views.items()
    }


def _judged(
    layout: Layout,
    joint: Joint,
    lamp: Lamp,
    lights: dict[str, list[LeafLight]],
    known: Sequence[PairAlternation],
    settings: VisionSettings,
) -> PairAlternation | None:
    pieces = (layout.placements[joint.left_at], layout.placements[joint.right_at])
    if lamp not in (Lamp.A, Lamp.B) or any(abs(one.turned_deg) >= LEAN_DEG for one in pieces):
        return None
    if joint.kind is JointKind.SIDE and {joint.left_laid, joint.right_laid} <= NEVER_SPUN:
        like = Match.SLIP if joint.left_laid is joint.right_laid else Match.BOOK
        stored = alternation_at(joint, like, lamp, known)
        if stored is not None:
            return stored
    under = judge_joint(
        (joint.left, joint.right),
        (joint.left_laid, joint.right_laid),
        match=layout.match.value,
        is_end=joint.kind is JointKind.END,
        views=lights,
        settings=settings,
    )
    return under[0 if lamp is Lamp.A else 1]


def light_words(
    layout: Layout, known: Sequence[PairAlternation], *, slant: Sequence[str] = (), is_lit: bool
) -> tuple[str, ...]:
    """Return what a layout itself says of light and dark: what is turned, what lies at a slant.

    Parameters
    ----------
    layout : Layout
    known : sequence of PairAlternation
        The judged pairs of the bundle, as booked.
    slant : sequence of str
        What is said of pieces at a slant, see `catalog.slanted_light`.
    is_lit : bool
        Whether light and dark is shown.
    """
    said = []
    slopes = {slope_sign(place.laid) for place in layout.placements}
    faces = {shows_other_face(place.laid) for place in layout.placements}
    if layout.match not in STORED and len(slopes) > 1:
        how = "turned over" if len(faces) > 1 else "spun end for end"
        said.append(
            f"Some pieces are {how}: their fibres slope the other way, so they may show lighter or "
            "darker than their neighbours, and change places when the lamp moves to the other end."
        )
    said += slant
    if layout.lies_along or is_lit:
        return tuple(said)
    worst = _worst_if_booked(layout, known)
    if len(faces) > 1 and worst is not None:
        said.append(
            f"Booked side by side, leaves {worst.left} and {worst.right} of this face show: "
            f"{worst.flag} ({worst.light}). Expect something like it where neighbours are turned."
        )
    return tuple(said)


def _worst_if_booked(layout: Layout, known: Sequence[PairAlternation]) -> PairAlternation | None:
    """Return the judged pair of this face that shows most light and dark side by side, if any."""
    pairs = {
        frozenset((joint.left, joint.right))
        for joint in layout.joints
        if shows_other_face(joint.left_laid) != shows_other_face(joint.right_laid)
    }
    judged = [
        pair
        for pair in known
        if pair.is_measured
        and pair.match == Match.BOOK.value
        and frozenset((pair.left, pair.right)) in pairs
    ]
    return max(judged, key=lambda one: (_RANK[one.likely], one.delta_e00 or 0.0), default=None)

"""Light and dark at one joint of a match, from what is known of the pair that meets there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from vision.laying import slope_sign
from vision.match_layout import Joint, Match
from vision.readings import PairAlternation
from vision.shot import Lamp

_OTHER_END = {Lamp.A: Lamp.B, Lamp.B: Lamp.A}


def alternation_at(
    joint: Joint, match: Match, lamp: Lamp, known: Sequence[PairAlternation]
) -> PairAlternation | None:
    """Return light and dark at a joint, right leaf minus left leaf as they lie in the match.

    A pair is judged with its left leaf as it lies. In a book match every second joint shows it
    the other way about: the left leaf is turned and the right one lies. Turning both reverses
    the slope of both, which looks the same as carrying the lamp to the other end: the part that
    comes from the slope (`tilt_part`) changes its sign, the difference in colour between the two
    leaves (`face_part`) does not. So such a joint under one lamp takes what is known of the pair
    under the other. What two faces of one leaf differ by would change its sign too; it is not
    told apart from the leaves' own colours and is left as it is.

    Parameters
    ----------
    joint : Joint
        The joint, from `vision.match_layout.lay_out`.
    match : Match
        The match it belongs to.
    lamp : Lamp
        A or B.
    known : sequence of PairAlternation
        Judged pairs, each with its left leaf as it lies.

    Returns
    -------
    PairAlternation or None
        For this joint and this lamp; None if the pair was never judged or the lamp is past
        neither end.
    """
    if lamp not in _OTHER_END:
        return None
    is_reversed = slope_sign(joint.left_laid) < 0
    judged_under = f"lamp {_OTHER_END[lamp] if is_reversed else lamp}"
    for pair in known:
        if (pair.left, pair.right, pair.match, pair.light) == (
            joint.left,
            joint.right,
            match.value,
            judged_under,
        ):
            return replace(pair, light=f"lamp {lamp}")
    return None

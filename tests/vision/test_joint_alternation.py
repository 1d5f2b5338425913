"""Light and dark at each joint of a run, its sign above all."""

from itertools import pairwise

import pytest

from vision.flags import AlternationFlag
from vision.joint_alternation import alternation_at
from vision.match_layout import LeafExtent, Match, lay_out
from vision.readings import Evidence, PairAlternation
from vision.shot import Lamp

COLOUR = 0.7
"""L* by which each leaf is lighter than the one before it, whatever the lamp."""
TILT = -4.0
"""L* by which a turned right leaf differs from a lying left one under lamp A."""


def judged(left: str, right: str, lamp: str, *, match: str = "book") -> PairAlternation:
    tilt = {"A": TILT, "B": -TILT}[lamp] if match == "book" else 0.0
    step = COLOUR + tilt
    return PairAlternation(
        left=left,
        right=right,
        match=match,
        light=f"lamp {lamp}",
        lightness_step=step,
        lightness_low=step - 0.5,
        lightness_high=step + 0.5,
        delta_e00=abs(step),
        delta_e00_low=abs(step) - 0.5,
        delta_e00_high=abs(step) + 0.5,
        tilt_part=tilt,
        face_part=COLOUR,
        local_rms=None,
        likely=AlternationFlag.STRONG,
        flag="strong",
        evidence=Evidence.LAMP_SWAP,
    )


LABELS = ("01", "02", "03", "04")
BOOK = lay_out([LeafExtent(label, 240, 2000) for label in LABELS], Match.BOOK)
SLIP = lay_out([LeafExtent(label, 240, 2000) for label in LABELS], Match.SLIP)
KNOWN = [
    judged(left, right, lamp, match=match)
    for left, right in pairwise(LABELS)
    for lamp in ("A", "B")
    for match in ("book", "slip")
]


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_the_steps_of_a_booked_run_are_those_of_its_leaves_one_by_one(lamp: Lamp) -> None:
    # Lightness of each leaf in place: its own colour, lighter by COLOUR a leaf, and half of
    # TILT up or down with its slope. A hand count, leaf by leaf.
    sign = 1 if lamp is Lamp.A else -1
    in_place = [i * COLOUR + sign * TILT / 2 * (1 if i % 2 else -1) for i in range(4)]

    steps = [alternation_at(joint, Match.BOOK, lamp, KNOWN) for joint in BOOK.joints]

    told = [step.lightness_step for step in steps if step is not None]
    assert told == pytest.approx([right - left for left, right in pairwise(in_place)])


def test_where_the_left_leaf_is_turned_only_the_tilt_part_changes_sign() -> None:
    lying = alternation_at(BOOK.joints[0], Match.BOOK, Lamp.A, KNOWN)
    turned = alternation_at(BOOK.joints[1], Match.BOOK, Lamp.A, KNOWN)

    assert lying is not None
    assert turned is not None
    assert (lying.tilt_part, turned.tilt_part) == (TILT, -TILT)
    assert lying.face_part == turned.face_part == COLOUR
    assert turned.lightness_step == COLOUR - TILT
    assert turned.light == "lamp A"


def test_every_joint_of_a_slip_match_is_taken_as_judged() -> None:
    for joint in SLIP.joints:
        found = alternation_at(joint, Match.SLIP, Lamp.B, KNOWN)
        assert found is not None
        assert found.lightness_step == COLOUR


def test_a_pair_that_was_never_judged_has_no_answer() -> None:
    assert alternation_at(BOOK.joints[0], Match.BOOK, Lamp.A, []) is None


def test_a_lamp_past_neither_end_has_no_answer() -> None:
    assert alternation_at(BOOK.joints[0], Match.BOOK, Lamp.SIDE, KNOWN) is None

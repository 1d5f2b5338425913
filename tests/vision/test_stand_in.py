"""Which photograph may stand in for which view of a leaf."""

import itertools

import pytest

from vision.laying import compose, shows_other_face
from vision.shot import Laid, Lamp, Shot
from vision.stand_in import as_single, stand_in

LAYINGS = (Laid.AS_LIES, Laid.END_TURNED, Laid.FACE_OVER, Laid.END_OVER)


def shot(laid: Laid = Laid.AS_LIES, lamp: Lamp = Lamp.A, *, wet: bool = False) -> Shot:
    return Shot(f"{laid}-{lamp}-{wet}.jpg", "01", laid, lamp, wet=wet)


EVERY_SHOT = [shot(laid, lamp) for laid in LAYINGS for lamp in (Lamp.A, Lamp.B)]


@pytest.mark.parametrize(("laid", "lamp"), list(itertools.product(LAYINGS, (Lamp.A, Lamp.B))))
def test_the_very_photograph_is_taken_unmoved_where_there_is_one(laid: Laid, lamp: Lamp) -> None:
    found = stand_in(laid, lamp, EVERY_SHOT)

    assert found is not None
    assert (found.shot.laid, found.shot.lamp) == (laid, lamp)
    assert found.moved is Laid.AS_LIES
    assert found.face_seen


@pytest.mark.parametrize(
    ("have", "looks_like"),
    [
        # Hand count with the fibres drawn as rising toward the top of the picture: under lamp A
        # they then rise toward the lamp ("dark"); each pair below keeps that.
        (shot(Laid.AS_LIES, Lamp.A), {"as-lies A", "end-over A", "end-turned B", "face-over B"}),
        (shot(Laid.AS_LIES, Lamp.B), {"as-lies B", "end-over B", "end-turned A", "face-over A"}),
        (shot(Laid.END_TURNED, Lamp.A), {"as-lies B", "end-over B", "end-turned A", "face-over A"}),
        (shot(Laid.FACE_OVER, Lamp.A), {"as-lies B", "end-over B", "end-turned A", "face-over A"}),
        (shot(Laid.END_OVER, Lamp.A), {"as-lies A", "end-over A", "end-turned B", "face-over B"}),
    ],
)
def test_a_photograph_stands_in_only_where_the_slope_meets_the_lamp_alike(
    have: Shot, looks_like: set[str]
) -> None:
    found = {
        f"{laid} {lamp}"
        for laid in LAYINGS
        for lamp in (Lamp.A, Lamp.B)
        if stand_in(laid, lamp, [have]) is not None
    }

    assert found == looks_like


@pytest.mark.parametrize("have", EVERY_SHOT)
@pytest.mark.parametrize("laid", LAYINGS)
def test_the_move_carries_the_photographed_laying_to_the_wanted_one(have: Shot, laid: Laid) -> None:
    for lamp in (Lamp.A, Lamp.B):
        found = stand_in(laid, lamp, [have])
        if found is not None:
            assert compose(have.laid, found.moved) is laid
            assert found.face_seen == (not shows_other_face(found.moved))


def test_the_same_face_goes_before_the_other_face() -> None:
    same_face = shot(Laid.END_TURNED, Lamp.B)
    other_face = shot(Laid.FACE_OVER, Lamp.B)

    found = stand_in(Laid.AS_LIES, Lamp.A, [other_face, same_face])

    assert found is not None
    assert found.shot == same_face
    assert found.face_seen


def test_a_turned_leaf_needs_the_lamp_at_the_other_end() -> None:
    assert stand_in(Laid.FACE_OVER, Lamp.A, [shot(Laid.AS_LIES, Lamp.A)]) is None


def test_a_wet_leaf_never_stands_in_for_a_dry_one() -> None:
    assert stand_in(Laid.AS_LIES, Lamp.A, [shot(wet=True)]) is None


def test_a_bare_board_never_stands_in() -> None:
    assert stand_in(Laid.AS_LIES, Lamp.A, [Shot("b.jpg", "", lamp=Lamp.A, blank=True)]) is None


@pytest.mark.parametrize("lamp", [Lamp.SIDE, Lamp.BOTH, Lamp.UNKNOWN])
def test_lamps_that_are_not_past_an_end_tell_nothing(lamp: Lamp) -> None:
    assert stand_in(Laid.AS_LIES, lamp, EVERY_SHOT) is None
    assert stand_in(Laid.AS_LIES, Lamp.A, [shot(lamp=lamp)]) is None


def test_in_an_opened_pair_the_left_lies_and_the_right_is_face_over() -> None:
    pair = Shot("p.jpg", "03 + 04", Laid.OPENED_PAIR, Lamp.B)

    assert as_single(pair, "03") == Shot("p.jpg", "03", Laid.AS_LIES, Lamp.B)
    assert as_single(pair, "04") == Shot("p.jpg", "04", Laid.FACE_OVER, Lamp.B)


def test_a_leaf_out_of_view_is_refused() -> None:
    with pytest.raises(ValueError, match="not in"):
        as_single(shot(), "02")


def test_no_photographs_no_stand_in() -> None:
    assert stand_in(Laid.AS_LIES, Lamp.A, []) is None

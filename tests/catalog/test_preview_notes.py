"""Which photographs a preview takes and what it says about them."""

import pytest

from catalog.leaf_views import LeafView, Views, plain_views, shown_under
from catalog.preview_notes import preview_notes
from catalog.records import PictureKeys
from vision.readings import SLICES, LeafSize, LightProfile, LightReference, ScaleClass
from vision.shot import Laid, Lamp, Shot

SIZE = LeafSize(2000.0, 240.0, 1.0, ScaleClass.TYPED, 2000.0, 240.0)
EVEN_LIGHT = LightProfile(
    ((0.4, 0.3, 0.2),) * SLICES, 0.5, (), (), None, LightReference.BOARD, 0.003
)
BOOK = [("01", Laid.AS_LIES), ("02", Laid.FACE_OVER), ("03", Laid.AS_LIES)]
SLIP = [("01", Laid.AS_LIES), ("02", Laid.AS_LIES), ("03", Laid.AS_LIES)]


def view(leaf: str, lamp: str, laid: Laid = Laid.AS_LIES, *, wet: bool = False) -> LeafView:
    name = f"{leaf}-{laid}-{lamp}"
    return LeafView(
        Shot(f"{name}.jpg", leaf, laid, Lamp(lamp), wet=wet),
        SIZE,
        PictureKeys(flat=name, screen=name, thumb=name, mask=name),
        EVEN_LIGHT,
    )


def views_of(*each: LeafView) -> Views:
    found: dict[str, tuple[LeafView, ...]] = {}
    for one in each:
        found[one.shot.leaf] = (*found.get(one.shot.leaf, ()), one)
    return found


BOTH_LAMPS = views_of(*(view(leaf, lamp) for leaf in ("01", "02", "03") for lamp in ("A", "B")))
ONE_LAMP = views_of(*(view(leaf, "A") for leaf in ("01", "02", "03")))


def test_turned_leaves_are_taken_from_the_lamp_at_the_other_end() -> None:
    shown = shown_under(BOOK, Lamp.A, BOTH_LAMPS)

    assert shown is not None
    assert [one.view.shot.file for one in shown] == [
        "01-as-lies-A.jpg",
        "02-as-lies-B.jpg",
        "03-as-lies-A.jpg",
    ]
    assert [one.moved for one in shown] == [Laid.AS_LIES, Laid.FACE_OVER, Laid.AS_LIES]


def test_the_unseen_face_is_told() -> None:
    shown = shown_under(BOOK, Lamp.A, BOTH_LAMPS)

    assert shown is not None
    (note,) = preview_notes(BOOK, Lamp.A, BOTH_LAMPS, shown, unit="mm")
    assert note == (
        "The turned leaf 02's other face was not photographed; its figure is the same leaf's "
        "front mirrored, seen under the lamp at the other end, which meets the fibres the same way."
    )


def test_nothing_need_be_said_where_every_face_was_photographed_in_this_light() -> None:
    views = views_of(view("01", "A"), view("02", "A", Laid.FACE_OVER), view("03", "A"))
    shown = shown_under(BOOK, Lamp.A, views)

    assert shown is not None
    assert preview_notes(BOOK, Lamp.A, views, shown, unit="mm") == ()


def test_one_photograph_of_a_leaf_cannot_show_light_and_dark() -> None:
    assert shown_under(BOOK, Lamp.A, ONE_LAMP) is None


def test_then_all_leaves_are_shown_as_they_lie_under_one_lamp() -> None:
    views = views_of(*ONE_LAMP["01"], view("01", "B"), *ONE_LAMP["02"], *ONE_LAMP["03"])

    shown = plain_views(BOOK, Lamp.B, views, {})

    assert [one.view.shot.lamp for one in shown] == [Lamp.A] * 3
    assert [one.moved for one in shown] == [Laid.AS_LIES, Laid.FACE_OVER, Laid.AS_LIES]


def test_and_the_leaf_that_lacks_a_photograph_is_named_with_the_remedy() -> None:
    shown = plain_views(BOOK, Lamp.A, ONE_LAMP, {})

    light, face = preview_notes(BOOK, Lamp.A, ONE_LAMP, shown, unit="mm")
    assert light == (
        "Light and dark cannot be shown: there is only one photograph of leaf 02. Photograph it "
        "under the lamp at the other end too."
    )
    assert face == (
        "The turned leaf 02's other face was not photographed; its figure is the same leaf's "
        "front mirrored."
    )


def test_without_a_noted_lamp_both_lamps_are_asked_for() -> None:
    views = views_of(view("01", ""), view("02", ""), view("03", ""))
    shown = plain_views(SLIP, Lamp.A, views, {})

    (note,) = preview_notes(SLIP, Lamp.A, views, shown, unit="mm")
    assert note == (
        "Light and dark cannot be shown: there is only one photograph of leaves 01, 02 and 03. "
        "Photograph them under lamp A and under lamp B."
    )


def test_where_there_are_photographs_but_not_the_right_one_that_one_is_asked_for() -> None:
    views = views_of(
        view("01", "A"), view("02", "A"), view("02", "A", Laid.END_OVER), view("03", "A")
    )
    shown = plain_views(BOOK, Lamp.A, views, {})

    note = preview_notes(BOOK, Lamp.A, views, shown, unit="mm")[0]
    assert note.endswith("Photograph it as it lies under lamp B.")


def test_a_side_lamp_is_answered_with_the_two_that_show_it() -> None:
    shown = plain_views(SLIP, Lamp.SIDE, BOTH_LAMPS, {})

    (note,) = preview_notes(SLIP, Lamp.SIDE, BOTH_LAMPS, shown, unit="mm")
    assert "A or B" in note


def test_wet_photographs_do_not_enter_a_dry_preview() -> None:
    views = views_of(view("01", "A", wet=True), view("01", "A"))

    shown = shown_under(SLIP[:1], Lamp.A, views)

    assert shown is not None
    assert not shown[0].view.shot.wet


def test_a_missing_scale_is_told() -> None:
    shown = shown_under(SLIP, Lamp.A, BOTH_LAMPS)

    assert shown is not None
    (note,) = preview_notes(SLIP, Lamp.A, BOTH_LAMPS, shown, unit="px")
    assert note.startswith("Not every leaf has a scale")


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_a_slip_match_needs_one_lamp_only(lamp: Lamp) -> None:
    assert (shown_under(SLIP, lamp, ONE_LAMP) is not None) == (lamp is Lamp.A)

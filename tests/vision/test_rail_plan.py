"""The design of the printed rails, against distances reckoned by hand."""

import itertools
import math

import pytest

from vision.errors import RailsNotPossible
from vision.rail_plan import (
    GREY_STEPS,
    HOLDER_IDS,
    Holder,
    RailPlan,
    plan_for_length,
)
from vision.settings import VisionSettings
from vision.shooting_station import RailsByTape


@pytest.mark.parametrize(
    ("length_mm", "pitch_mm", "markers"),
    [
        (3200.0, 100.0, 33),
        (3299.0, 100.0, 33),
        (3500.0, 100.0, 36),
        (100.0, 100.0, 2),
        (3200.0, 400.0, 9),
    ],
)
def test_a_rail_has_one_marker_more_than_it_has_steps(length_mm, pitch_mm, markers):
    plan = plan_for_length(length_mm, pitch_mm)

    assert plan.markers == markers
    assert plan.length_mm <= length_mm < plan.length_mm + pitch_mm


@pytest.mark.parametrize(("length_mm", "pitch_mm"), [(99.0, 100.0), (3501.0, 100.0), (399, 400.0)])
def test_a_length_that_cannot_be_made_is_refused_in_a_sentence(length_mm, pitch_mm):
    with pytest.raises(RailsNotPossible, match=r"cannot be made\. .* 3500 mm"):
        plan_for_length(length_mm, pitch_mm)


def test_other_pitches_and_single_markers_are_refused():
    with pytest.raises(RailsNotPossible, match="choose 100 or 400"):
        RailPlan(10, 250.0)
    with pytest.raises(RailsNotPossible, match="from 100 to 3500 mm"):
        RailPlan(1)
    with pytest.raises(RailsNotPossible, match="from 400 to 3500 mm"):
        RailPlan(10, 400.0)


def test_markers_stand_a_pitch_apart_as_designed():
    centres = RailPlan(33).marker_centres(None, 700.0)

    assert len(centres) == 66
    assert centres[0] == (0.0, 0.0)
    assert centres[32] == (0.0, 3200.0)
    assert centres[100] == (700.0, 0.0)
    assert centres[117] == (700.0, 1700.0)


def test_the_tape_stretches_each_rail_by_its_own_length():
    tape = RailsByTape(33, 100.0, left_length_mm=3216.0, right_length_mm=3184.0)

    centres = RailPlan(33).marker_centres(tape, 700.0)

    assert centres[32] == pytest.approx((0.0, 3216.0))
    assert centres[16] == pytest.approx((0.0, 1608.0))
    assert centres[132] == pytest.approx((700.0, 3184.0))


def test_gaps_by_tape_set_the_right_rail_out_of_parallel_and_keep_its_length():
    tape = RailsByTape(31, 100.0, 3000.0, 3000.0, gap_top_mm=700.0, gap_bottom_mm=730.0)

    centres = RailPlan(31).marker_centres(tape, None)

    assert centres[100] == (700.0, 0.0)
    assert centres[130][0] == pytest.approx(730.0)
    assert math.dist(centres[100], centres[130]) == pytest.approx(3000.0)


def test_a_grey_keeps_its_distance_from_its_own_rail_where_the_rail_leans():
    plan = RailPlan(31)
    tape = RailsByTape(31, 100.0, 3000.0, 3000.0, gap_top_mm=700.0, gap_bottom_mm=730.0)
    grey = next(patch for patch in plan.grey_patches() if patch.rail == "right")

    (place,) = plan.places([grey], tape=tape, gap_mm=None)

    centres = plan.marker_centres(tape, None)
    reach = math.hypot(grey.x_mm, grey.y_mm)
    assert math.dist(place, centres[100]) == pytest.approx(reach)
    far = math.hypot(grey.x_mm, 3000.0 - grey.y_mm)
    assert math.dist(place, centres[130]) == pytest.approx(far)


def test_a_gap_known_at_one_end_holds_for_both():
    tape = RailsByTape(31, 100.0, 3000.0, 3000.0, gap_bottom_mm=712.0)

    centres = RailPlan(31).marker_centres(tape, 650.0)

    assert centres[100] == (712.0, 0.0)
    assert centres[130] == (712.0, 3000.0)


def test_a_tape_laid_on_other_rails_is_refused():
    tape = RailsByTape(31, 100.0, 3000.0, 3000.0)

    with pytest.raises(RailsNotPossible, match="Measure these rails"):
        RailPlan(33).marker_centres(tape, 700.0)


def test_a_tape_that_no_rails_can_have_is_refused():
    with pytest.raises(RailsNotPossible, match="cannot be 0 mm long"):
        RailPlan(31).marker_centres(RailsByTape(31, 100.0, 3000.0, 0.0), 700.0)
    leaning = RailsByTape(2, 100.0, 100.0, 100.0, gap_top_mm=500.0, gap_bottom_mm=700.0)
    with pytest.raises(RailsNotPossible, match="centre line to centre line"):
        RailPlan(2).marker_centres(leaning, None)


@pytest.mark.parametrize(("markers", "copies"), [(2, 1), (4, 2), (6, 3), (33, 3), (36, 3)])
def test_each_rail_carries_three_grey_scales_if_it_is_long_enough(markers, copies):
    greys = RailPlan(markers).grey_patches()

    for side in ("left", "right"):
        steps = [grey.reflectance for grey in greys if grey.rail == side]
        assert steps == list(GREY_STEPS) * copies


def test_the_grey_steps_are_those_the_settings_take_for_granted():
    assert VisionSettings().strip_reflectances == GREY_STEPS


@pytest.mark.parametrize("pitch_mm", [100.0, 400.0])
@pytest.mark.parametrize("length_mm", [400.0, 800.0, 1200.0, 2600.0, 3200.0, 3500.0])
def test_no_patch_touches_a_marker_a_seam_an_end_or_another_patch(length_mm, pitch_mm):
    plan = plan_for_length(length_mm, pitch_mm)
    boxes = [
        (grey.rail, grey.x_mm, grey.y_mm, grey.width_mm, grey.height_mm)
        for grey in (*plan.grey_patches(), *plan.white_patches())
    ]
    markers = [
        (side, 0.0, index * pitch_mm, 40.0, 40.0)
        for side in ("left", "right")
        for index in range(plan.markers)
    ]
    seams = [plan.piece_span(piece)[1] for piece in range(plan.pieces)]

    for index, (side, x, y, wide, high) in enumerate(boxes):
        assert y - high / 2 > -40.0
        assert y + high / 2 < plan.end_mm
        assert all(abs(seam - y) > high / 2 + 3 for seam in seams)
        for other, ox, oy, owide, ohigh in [*boxes[index + 1 :], *markers]:
            apart = abs(x - ox) - (wide + owide) / 2, abs(y - oy) - (high + ohigh) / 2
            assert other != side or max(apart) >= 4.0


def test_whites_are_never_more_than_a_piece_apart():
    plan = RailPlan(33)

    along = sorted(patch.y_mm for patch in plan.white_patches() if patch.rail == "left")

    steps = [b - a for a, b in itertools.pairwise(along)]
    assert max(steps) <= 200.0
    assert along[0] <= 50.0
    assert along[-1] >= 3050.0


def test_every_patch_has_a_name_of_its_own():
    plan = RailPlan(36)

    names = [patch.name for patch in (*plan.grey_patches(), *plan.white_patches())]

    assert len(set(names)) == len(names)


@pytest.mark.parametrize("markers", [2, 3, 4, 5, 33, 36])
def test_the_pieces_make_up_the_whole_rail(markers):
    plan = RailPlan(markers)

    spans = [plan.piece_span(piece) for piece in range(plan.pieces)]

    assert spans[0][0] == -40.0
    assert spans[-1][1] == (markers - 1) * 100.0 + 40.0
    assert all(a[1] == b[0] for a, b in itertools.pairwise(spans))
    assert all(0 < end - start <= 200.0 for start, end in spans)


def test_the_holder_has_dark_skin_at_the_top_left_and_black_at_the_bottom_right():
    patches = Holder(40.0).patch_centres()

    assert len(patches) == 24
    assert patches[0] == (-100.0, -60.0)
    assert patches[5] == (100.0, -60.0)
    assert patches[18] == (-100.0, 60.0)
    assert patches[23] == (100.0, 60.0)


@pytest.mark.parametrize("pitch_mm", [8.0, 12.5, 26.0, 40.0, 44.0])
def test_the_holders_markers_stand_clear_of_the_window_and_of_each_other(pitch_mm):
    holder = Holder(pitch_mm)

    centres = holder.marker_centres()

    wide, high = holder.window_mm
    top_left, top_right, bottom_right, bottom_left = (centres[each] for each in HOLDER_IDS)
    assert top_left[0] + 20 <= -wide / 2 - 10
    assert top_right[0] - 20 >= wide / 2 + 10
    assert bottom_left[1] - top_left[1] >= 60.0
    assert (bottom_right, bottom_left) == (
        (top_right[0], -top_right[1]),
        (top_left[0], -top_left[1]),
    )
    assert all(abs(x) < wide / 2 and abs(y) < high / 2 for x, y in holder.patch_centres())


def test_a_chart_too_small_or_too_large_for_a_holder_is_refused():
    for pitch_mm in (7.0, 45.0):
        with pytest.raises(RailsNotPossible, match="8 to 44 mm"):
            Holder(pitch_mm)

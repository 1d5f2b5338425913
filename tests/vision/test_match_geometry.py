"""Every match as values, against the trade's definitions and hand-worked sizes.

Page numbers are those of the Architectural Woodwork Standards, 1st edition 2009.
"""

import math
import secrets
from collections.abc import Sequence
from itertools import pairwise, permutations

import numpy as np
import pytest

from vision.drawn_seats import wedge_sizes_mm
from vision.errors import MatchNotPossible
from vision.free_seats import order_by_steps, random_order
from vision.laying import compose, shows_other_face, slope_sign
from vision.layout import SHOOT_MM
from vision.match_layout import (
    WHOLE_LEAVES,
    Allowances,
    FaceWish,
    JointKind,
    Layout,
    LeafExtent,
    Match,
    lay_out,
)
from vision.piece import area_mm2, box_of
from vision.shot import Laid

SPARE = Allowances(0.0, 0.0, 0.0)
SETS = (Match.SEQUENCE, Match.BLUEPRINT)


def run(count: int, width: float = 250.0, length: float = 2000.0) -> list[LeafExtent]:
    return [
        LeafExtent(f"{number:02}", width, length, (60.0 + number % 5, 10.0, 20.0))
        for number in range(1, count + 1)
    ]


def face(match: Match, leaves: Sequence[LeafExtent] | None = None) -> Layout:
    panels = ((600.0, 1800.0), (600.0, 1800.0)) if match in SETS else ()
    return lay_out(leaves or run(12), match, wish=FaceWish(panels=panels))


def relations(layout: Layout, kind: JointKind) -> set[Laid]:
    """Return how the second leaf lies against the first at every joint of a kind."""
    return {
        compose(joint.left_laid, joint.right_laid) for joint in layout.joints if joint.kind is kind
    }


def labels(layout: Layout) -> list[str]:
    return [place.leaf for place in layout.placements]


# Between leaves, p. 75


def test_reverse_slip_spins_every_other_leaf_and_turns_no_face_up_p75() -> None:
    layout = face(Match.REVERSE_SLIP)

    assert relations(layout, JointKind.SIDE) == {Laid.END_TURNED}
    assert not any(shows_other_face(place.laid) for place in layout.placements)
    assert [slope_sign(place.laid) for place in layout.placements[:3]] == [1, -1, 1]


@pytest.mark.parametrize("seed", [1, 2, secrets.randbelow(10**6)])
def test_a_random_match_sets_no_two_neighbours_of_the_stack_side_by_side_p75(seed: int) -> None:
    layout = lay_out(run(12), Match.RANDOM, wish=FaceWish(seed=seed))

    numbers = [int(label) for label in labels(layout)]
    assert sorted(numbers) == list(range(1, 13))
    assert all(abs(left - right) > 1 for left, right in pairwise(numbers))
    assert layout == lay_out(run(12), Match.RANDOM, wish=FaceWish(seed=seed))


def test_even_of_three_leaves_a_random_order_is_found() -> None:
    assert sorted(random_order(3, seed=5)) == [0, 1, 2]


def test_a_pleasing_match_has_the_least_colour_steps_of_all_orders() -> None:
    chance = np.random.default_rng(secrets.randbelow(10**6))
    for count in (3, 5, 7):
        colours = chance.normal(0, 10, (count, 3))
        steps = np.linalg.norm(colours[:, None] - colours, axis=2)
        least = min(
            sum(steps[a, b] for a, b in pairwise(order)) for order in permutations(range(count))
        )

        order = order_by_steps(steps)

        assert sorted(order) == list(range(count))
        assert sum(steps[a, b] for a, b in pairwise(order)) == pytest.approx(least)


def test_a_long_run_of_rising_lightness_is_put_back_in_order() -> None:
    lightness = np.random.default_rng(4).permutation(40).astype(float)

    order = order_by_steps(abs(lightness[:, None] - lightness))

    sorted_either_way = np.diff(lightness[list(order)])
    assert np.all(sorted_either_way > 0) or np.all(sorted_either_way < 0)


def test_a_plank_match_has_unequal_widths_and_no_neighbours_of_the_stack() -> None:
    layout = lay_out(run(12), Match.PLANK, wish=FaceWish(width_mm=1500.0, allowances=SPARE))

    widths = [place.width_mm for place in layout.placements]
    assert np.ptp(widths) > 20
    assert sum(widths) == pytest.approx(1500.0)
    assert all(abs(int(a) - int(b)) > 1 for a, b in pairwise(labels(layout)))


# End to end, pp. 75-76


def test_book_and_butt_mirrors_end_to_end_and_side_to_side_p75() -> None:
    layout = face(Match.BOOK_AND_BUTT)

    assert relations(layout, JointKind.END) == {Laid.END_OVER}
    assert relations(layout, JointKind.SIDE) == {Laid.FACE_OVER}
    ends = [(j.left, j.right) for j in layout.joints if j.kind is JointKind.END]
    assert ends == [(f"{n:02}", f"{n + 1:02}") for n in range(1, 12, 2)]


def test_continuous_end_stacks_runs_in_order_and_turns_nothing_at_the_end_joint_p75() -> None:
    layout = face(Match.CONTINUOUS_END)

    assert relations(layout, JointKind.END) == {Laid.AS_LIES}
    assert relations(layout, JointKind.SIDE) == {Laid.FACE_OVER}
    top = [p.leaf for p in layout.placements if p.y_mm == 0.0]
    assert top == [f"{n:02}" for n in range(1, 7)]


def test_panel_end_turns_the_lower_face_over_on_its_end_p76() -> None:
    layout = face(Match.PANEL_END)

    assert relations(layout, JointKind.END) == {Laid.END_OVER}
    assert relations(layout, JointKind.SIDE) == {Laid.FACE_OVER}


# Within a face, p. 74, 1200 mm of leaves that give 180 mm net

NET_180 = run(8, width=180.0 + 2 * SHOOT_MM)


def test_balance_of_1200_mm_takes_7_leaves_of_171_43_mm_p74() -> None:
    layout = lay_out(NET_180, Match.BALANCE, wish=FaceWish(width_mm=1200.0))

    assert len(layout.placements) == 7
    assert [p.width_mm for p in layout.placements] == pytest.approx([171.43] * 7, abs=0.005)


def test_centre_balance_of_1200_mm_takes_8_leaves_of_150_mm_and_a_joint_in_the_middle_p74() -> None:
    layout = lay_out(NET_180, Match.CENTRE_BALANCE, wish=FaceWish(width_mm=1200.0))

    assert [p.width_mm for p in layout.placements] == [150.0] * 8
    assert 600.0 in [joint.x_mm for joint in layout.joints]


def test_running_over_1200_mm_takes_6_whole_leaves_and_120_mm_p74() -> None:
    layout = lay_out(NET_180, Match.RUNNING, wish=FaceWish(width_mm=1200.0))

    widths = [place.width_mm for place in layout.placements]
    assert widths == pytest.approx([180.0] * 6 + [120.0])


def test_what_is_left_of_a_running_leaf_starts_the_next_face_p74() -> None:
    wish = FaceWish(panels=((300.0, 1800.0), (200.0, 1800.0)))
    layout = lay_out(run(4, width=206.0), Match.RUNNING, wish=wish)

    first_of_second = next(place for place in layout.placements if place.panel == 1)
    last_of_first = [place for place in layout.placements if place.panel == 0][-1]
    assert first_of_second.leaf == last_of_first.leaf == "02"
    # 200 net; 100 used, and the cut between leaves an overhang of 15 on both its sides
    assert first_of_second.width_mm == pytest.approx(200 - 100 - 2 * 15)
    apart = [box_of(place.on_leaf_mm) for place in (first_of_second, last_of_first)]
    assert apart[0].right + 30 == pytest.approx(apart[1].left)


def test_slip_centre_book_takes_four_at_least_slipped_with_the_halves_booked_p74() -> None:
    layout = lay_out(run(12), Match.SLIP_CENTRE_BOOK, wish=FaceWish(width_mm=300.0))

    assert [place.laid for place in layout.placements] == [Laid.AS_LIES] * 2 + [Laid.FACE_OVER] * 2


@pytest.mark.parametrize("match", [Match.CENTRE_BALANCE, Match.SLIP_CENTRE_BOOK])
def test_an_odd_number_is_refused_where_a_joint_lies_in_the_middle(match: Match) -> None:
    with pytest.raises(MatchNotPossible, match="Ask for 6 or 8"):
        lay_out(run(12), match, wish=FaceWish(width_mm=1200.0, pieces=7))


# Panel to panel, pp. 178, 186, 382


def test_sequence_matched_panels_take_the_next_leaves_in_order_p382() -> None:
    layout = face(Match.SEQUENCE)

    of_panels = [[p.leaf for p in layout.placements if p.panel == n] for n in (0, 1)]
    assert of_panels == [["01", "02", "03", "04"], ["05", "06", "07", "08"]]
    assert {p.width_mm for p in layout.placements} == {150.0}


def test_blueprint_panels_have_each_its_own_size_and_run_on_in_order_p382() -> None:
    sizes = ((400.0, 1500.0), (700.0, 1800.0), (450.0, 1000.0))
    layout = lay_out(run(12), Match.BLUEPRINT, wish=FaceWish(panels=sizes))

    boxes = [panel.box for panel in layout.panels]
    assert [(box.width, box.height) for box in boxes] == list(sizes)
    assert labels(layout) == [f"{n:02}" for n in range(1, 8)]
    assert not any(
        layout.placements[j.left_at].panel != layout.placements[j.right_at].panel
        for j in layout.joints
    )


# Drawn faces, p. 76


def test_four_way_mirrors_both_ways_in_the_order_round_the_middle() -> None:
    layout = face(Match.FOUR_WAY)

    assert [p.laid for p in layout.placements] == [
        Laid.AS_LIES,
        Laid.FACE_OVER,
        Laid.END_TURNED,
        Laid.END_OVER,
    ]
    assert relations(layout, JointKind.SIDE) == {Laid.FACE_OVER}
    assert relations(layout, JointKind.END) == {Laid.END_OVER}


def test_in_a_four_way_match_slope_alternates_in_columns_and_face_like_a_chess_board() -> None:
    one, two, three, four = face(Match.FOUR_WAY).placements

    assert slope_sign(one.laid) == slope_sign(four.laid) != slope_sign(two.laid)
    assert slope_sign(two.laid) == slope_sign(three.laid)
    assert shows_other_face(one.laid) == shows_other_face(three.laid)
    assert shows_other_face(two.laid) == shows_other_face(four.laid)
    assert shows_other_face(one.laid) != shows_other_face(two.laid)


@pytest.mark.parametrize(
    ("pieces", "chord", "tangent"),
    [(8, 349.9, 378.8), (12, 236.7, 245.0), (16, 178.4, 181.9)],
)
def test_the_wedges_of_a_disc_of_914_4_mm(pieces: int, chord: float, tangent: float) -> None:
    wish = FaceWish(width_mm=914.4, pieces=pieces, allowances=SPARE)
    layout = lay_out(run(pieces, width=400.0), Match.SUNBURST, wish=wish)

    assert wedge_sizes_mm(pieces, 914.4) == pytest.approx((chord, tangent, 457.2), abs=0.05)
    for place in layout.placements:
        on_leaf = box_of(place.on_leaf_mm)
        assert on_leaf.width == pytest.approx(tangent, abs=0.05)
        assert on_leaf.height == pytest.approx(457.2, abs=0.05)
        first, last = place.outline_mm[1], place.outline_mm[-1]
        assert math.dist(first, last) == pytest.approx(chord, abs=0.05)


@pytest.mark.parametrize("pieces", [6, 8, 10, 12, 16, 24])
def test_every_second_wedge_of_a_sunburst_is_turned_over_and_all_close_p76(pieces: int) -> None:
    layout = lay_out(run(pieces), Match.SUNBURST)

    turned = [shows_other_face(place.laid) for place in layout.placements]
    assert turned == [False, True] * (pieces // 2)
    assert len(layout.joints) == pieces
    assert all(
        shows_other_face(j.left_laid) != shows_other_face(j.right_laid) for j in layout.joints
    )
    # booked wedges are cut at one and the same place of their leaves, so the figure meets
    places = [np.sort(np.array(place.on_leaf_mm), axis=0) for place in layout.placements]
    assert np.allclose(places, places[0])


def test_a_booked_sunburst_of_odd_number_is_refused_and_a_slipped_one_is_not() -> None:
    with pytest.raises(MatchNotPossible, match="would not close"):
        lay_out(run(9), Match.SUNBURST, wish=FaceWish(pieces=9))

    slipped = lay_out(run(9), Match.SUNBURST, wish=FaceWish(pieces=9, is_slipped=True))
    assert not any(shows_other_face(place.laid) for place in slipped.placements)
    assert len(slipped.joints) == 9


def test_fewer_than_six_wedges_are_refused_p76() -> None:
    with pytest.raises(MatchNotPossible, match="at least 6"):
        lay_out(run(4), Match.SUNBURST)


@pytest.mark.parametrize(
    ("match", "turned"),
    [(Match.BOX, (90.0, 0.0, 90.0, 0.0)), (Match.REVERSE_BOX, (0.0, 90.0, 0.0, 90.0))],
)
def test_the_grain_of_a_box_runs_along_the_perimeter_and_of_a_reverse_box_across_it_p76(
    match: Match, turned: tuple[float, ...]
) -> None:
    layout = face(match)

    # pieces in order: top, right, bottom, left
    assert tuple(abs(place.turned_deg) for place in layout.placements) == turned
    middles = [box_of(place.outline_mm) for place in layout.placements]
    assert middles[0].top == 0.0
    assert middles[1].right == pytest.approx(layout.width_mm)


@pytest.mark.parametrize(
    ("match", "slants"),
    [(Match.DIAMOND, (-45, 45, -45, 45)), (Match.REVERSE_DIAMOND, (45, -45, 45, -45))],
)
def test_a_diamond_s_grain_rings_the_middle_and_a_reverse_diamond_s_leaves_it_p76(
    match: Match, slants: tuple[int, ...]
) -> None:
    layout = face(match)

    # clockwise from the top right; the grain's foot turned clockwise from straight down
    assert tuple(place.turned_deg for place in layout.placements) == pytest.approx(slants)
    middle = np.array([layout.width_mm, layout.length_mm]) / 2
    for place in layout.placements:
        box = box_of(place.outline_mm)
        out = np.array([(box.left + box.right) / 2, (box.top + box.bottom) / 2]) - middle
        angle = math.radians(place.turned_deg)
        along = abs(np.dot(out, (-math.sin(angle), math.cos(angle)))) / np.linalg.norm(out)
        assert along == pytest.approx(0.0 if match is Match.DIAMOND else 1.0, abs=1e-9)


def test_herringbone_strips_slant_by_turns_p76() -> None:
    layout = lay_out(run(6), Match.HERRINGBONE, wish=FaceWish(pieces=6))

    assert [p.turned_deg for p in layout.placements] == pytest.approx([-45.0, 45.0] * 3)
    assert {j.kind for j in layout.joints} == {JointKind.MITRE}


def test_parquet_squares_lie_across_by_turns_and_never_overlap_on_a_leaf() -> None:
    layout = lay_out(run(8), Match.PARQUET, wish=FaceWish(pieces=6))

    assert [p.turned_deg for p in layout.placements[:4]] == [0.0, 90.0, 0.0, 90.0]
    for leaf in set(labels(layout)):
        tops = sorted(
            (box_of(p.on_leaf_mm).top, box_of(p.on_leaf_mm).bottom)
            for p in layout.placements
            if p.leaf == leaf
        )
        assert all(end <= start for (_, end), (start, _) in pairwise(tops))


# All of them


@pytest.mark.parametrize("match", list(Match))
def test_pieces_fill_the_face_without_gap_or_overlap(match: Match) -> None:
    layout = face(match)

    covered = sum(area_mm2(place.outline_mm) for place in layout.placements)
    wanted = sum(
        math.pi / 4 * panel.box.width**2 if panel.is_round else panel.box.width * panel.box.height
        for panel in layout.panels
    )
    # a round rim in steps of a degree lacks 5e-5 of the disc
    assert covered == pytest.approx(wanted, rel=1e-4)
    assert all(area_mm2(place.outline_mm) > 0 for place in layout.placements)


@pytest.mark.parametrize("match", list(Match))
def test_every_piece_lies_on_its_leaf_and_keeps_its_size(match: Match) -> None:
    layout = face(match)

    for place in layout.placements:
        shoot = 0.0 if match in WHOLE_LEAVES else SHOOT_MM
        on_leaf = box_of(place.on_leaf_mm)
        assert on_leaf.left >= shoot - 0.01
        assert on_leaf.right <= 250.0 - shoot + 0.01
        assert on_leaf.top >= -0.01
        assert on_leaf.bottom <= 2000.01
        assert abs(area_mm2(place.on_leaf_mm)) == pytest.approx(area_mm2(place.blank_mm))
        assert place.to_panel.turns_over == shows_other_face(place.laid)
        forth = [place.to_panel(point) for point in place.on_leaf_mm]
        assert np.allclose(forth, place.blank_mm)


@pytest.mark.parametrize("match", [m for m in Match if m not in WHOLE_LEAVES])
def test_a_face_too_large_for_the_leaves_is_refused_in_words(match: Match) -> None:
    huge = FaceWish(width_mm=9000.0, length_mm=9000.0, panels=((9000.0, 9000.0),) * (match in SETS))

    with pytest.raises(MatchNotPossible, match=r"Choose|choose|Ask for"):
        lay_out(run(12), match, wish=huge)


def test_a_size_in_millimetres_is_refused_where_leaves_have_no_scale() -> None:
    with pytest.raises(MatchNotPossible, match="scale"):
        lay_out(run(12), Match.BALANCE, unit="px", wish=FaceWish(width_mm=500.0))


def test_slipping_a_book_match_is_refused_because_turning_is_its_name() -> None:
    with pytest.raises(MatchNotPossible, match="slip match"):
        lay_out(run(4), Match.BOOK, wish=FaceWish(is_slipped=True))


def test_leaves_that_are_not_needed_are_named() -> None:
    layout = lay_out(run(12), Match.FOUR_WAY)

    assert "leaves 05 to 12 are left over" in layout.notes[0]


def test_layings_follow_the_operation_group() -> None:
    book, butt, spin = Laid.FACE_OVER, Laid.END_OVER, Laid.END_TURNED

    assert compose(book, book) is compose(butt, butt) is Laid.AS_LIES
    assert compose(book, butt) is spin

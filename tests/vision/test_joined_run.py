"""Runs cut where their figure meets: the lines meet, the face is whole, nothing else moves."""

import math
import secrets

import numpy as np
import pytest

from vision.errors import MatchNotPossible
from vision.joint_cut import JointCut
from vision.laying import compose
from vision.layout import JointKind
from vision.match_layout import FaceWish, LeafExtent, Match, lay_out
from vision.seat import TURN_OF_LAID
from vision.shot import Laid

RUN = [LeafExtent(f"{at:02}", 240.0 - at, 2000.0 - 3 * at) for at in range(1, 6)]


def a_cut(left=(8.0, 0.0), right=(6.0, 0.0), slip=0.0) -> JointCut:
    return JointCut(*left, *right, slip, score=0.9, straight_score=0.5)


def some_cuts(rng: np.random.Generator, count: int) -> list[JointCut]:
    return [
        a_cut(
            (rng.uniform(6, 12), rng.uniform(-0.3, 0.3)),
            (rng.uniform(6, 12), rng.uniform(-0.3, 0.3)),
            rng.uniform(-12, 12),
        )
        for _ in range(count)
    ]


def line_on_leaf(leaf: LeafExtent, laid: Laid, *, right: bool, cut: JointCut, middle: float):
    """Return two points of a cut on the leaf as it lies in the stack, from the definition."""
    depth, angle = (cut.left_mm, cut.left_deg) if right else (cut.right_mm, cut.right_deg)
    points = []
    for y in (100.0, 1500.0):
        deep = depth + math.tan(math.radians(angle)) * (y - middle)
        x = leaf.width_mm - deep if right else deep
        mirrored = laid in (Laid.FACE_OVER, Laid.END_TURNED)
        upside = laid in (Laid.END_OVER, Laid.END_TURNED)
        points.append((leaf.width_mm - x if mirrored else x, leaf.length_mm - y if upside else y))
    return points


@pytest.mark.parametrize("match", [Match.BOOK, Match.SLIP, Match.REVERSE_SLIP])
@pytest.mark.parametrize("start", list(TURN_OF_LAID))
def test_both_cuts_of_a_joint_lie_on_its_line_with_so_much_slip(match, start):
    rng = np.random.default_rng(secrets.randbelow(2**32))
    cuts = some_cuts(rng, len(RUN) - 1)

    layout = lay_out(RUN, match, wish=FaceWish(start=start), trims=cuts)

    assert len(layout.joints) == len(cuts)
    for joint, cut in zip(layout.joints, cuts, strict=True):
        sides = [layout.placements[at] for at in (joint.left_at, joint.right_at)]
        leaves = [next(leaf for leaf in RUN if leaf.label == one.leaf) for one in sides]
        middle = min(leaf.length_mm for leaf in leaves) / 2
        ends = []
        for at, (place, leaf) in enumerate(zip(sides, leaves, strict=True)):
            points = line_on_leaf(leaf, place.laid, right=at == 0, cut=cut, middle=middle)
            ends.append([place.to_panel(point) for point in points])
        (x0, y0), (x1, y1) = joint.start_mm, joint.end_mm
        for x, y in (*ends[0], *ends[1]):
            off = ((x - x0) * (y1 - y0) - (y - y0) * (x1 - x0)) / math.hypot(x1 - x0, y1 - y0)
            assert abs(off) < 1e-6
        for left, right in zip(*ends, strict=True):
            assert left[1] - right[1] == pytest.approx(cut.slip_mm, abs=0.05)


def test_pieces_fill_the_face_without_a_gap_and_stay_on_their_leaves():
    rng = np.random.default_rng(secrets.randbelow(2**32))

    layout = lay_out(RUN, Match.BOOK, trims=some_cuts(rng, len(RUN) - 1))

    assert layout.placements[0].x_mm == pytest.approx(0.0, abs=1e-9)
    for left, right in zip(layout.placements, layout.placements[1:], strict=False):
        assert left.outline_mm[1] == pytest.approx(right.outline_mm[0])
        assert left.outline_mm[2] == pytest.approx(right.outline_mm[3])
    corners = layout.placements[0].outline_mm[0], layout.placements[-1].outline_mm[2]
    assert corners == (
        pytest.approx((0.0, 0.0)),
        pytest.approx((layout.width_mm, layout.length_mm)),
    )
    for place, leaf in zip(layout.placements, RUN, strict=True):
        for x, y in place.on_leaf_mm:
            assert -1e-6 <= x <= leaf.width_mm + 1e-6
            assert -1e-6 <= y <= leaf.length_mm + 1e-6
    assert {joint.kind for joint in layout.joints} == {JointKind.SIDE}


def test_straight_cuts_cost_their_depth_and_slips_their_length_and_nothing_else():
    cuts = [a_cut((5.0, 0.0), (4.0, 0.0), 10.0), a_cut((3.0, 0.0), (6.0, 0.0), -4.0)]

    layout = lay_out(RUN[:3], Match.SLIP, trims=cuts)

    assert layout.width_mm == pytest.approx(239 + 238 + 237 - 18)
    # tops at 0, -10, -6; feet at 1997, 1994 - 10, 1991 - 6
    assert layout.length_mm == pytest.approx(1984.0)
    assert layout.is_upright
    said = " ".join(layout.notes)
    assert "18 go at 2 joints" in said
    assert "696 mm wide" in said
    assert "1984 mm long" in said


def test_the_lean_of_a_run_is_shared_by_both_ends():
    layout = lay_out(RUN[:2], Match.BOOK, trims=[a_cut((9.0, 0.4), (9.0, 0.2))])

    assert [place.turned_deg for place in layout.placements] == pytest.approx([-0.3, 0.3])
    assert layout.lies_along
    assert not layout.is_upright
    assert "no longer mirror images" in layout.notes[0]


def test_a_leaf_moved_along_its_grain_shortens_the_face_by_so_much():
    wish = FaceWish(shifts_mm=(("02", 25.0),))

    moved = lay_out(RUN[:3], Match.BOOK, wish=wish)
    plain = lay_out(RUN[:3], Match.BOOK)

    assert moved.width_mm == plain.width_mm
    assert moved.is_upright
    assert moved.length_mm == pytest.approx(1991.0 - 25.0)
    tops = [min(y for _, y in place.on_leaf_mm) for place in moved.placements]
    assert tops == pytest.approx([25.0, 0.0, 25.0])


@pytest.mark.parametrize("start", list(TURN_OF_LAID))
def test_a_piece_of_a_cut_face_shows_what_lies_so_much_further_up_its_leaf(start):
    wish = FaceWish(width_mm=400.0, length_mm=1500.0, start=start)
    shifted = FaceWish(width_mm=400.0, length_mm=1500.0, start=start, shifts_mm=(("02", 30.0),))

    plain = lay_out(RUN, Match.CENTRE_BALANCE, wish=wish).placements[1]
    moved = lay_out(RUN, Match.CENTRE_BALANCE, wish=shifted).placements[1]

    assert moved.outline_mm == plain.outline_mm
    wood = plain.to_panel.back()((100.0, 700.0))
    assert moved.to_panel(wood) == pytest.approx((100.0, 730.0))


def test_a_leaf_moved_further_than_it_reaches_is_refused_with_how_far_it_can_go():
    wish = FaceWish(length_mm=1900.0, shifts_mm=(("01", 400.0),))

    with pytest.raises(
        MatchNotPossible, match=r"Leaf 01 can be moved up by \d+ and down by \d+ mm"
    ):
        lay_out(RUN, Match.BALANCE, wish=wish)


def test_a_leaf_that_is_not_in_the_run_cannot_be_moved():
    with pytest.raises(MatchNotPossible, match="Leaf 77"):
        lay_out(RUN, Match.BOOK, wish=FaceWish(shifts_mm=(("77", 5.0),)))


def test_trims_belong_to_runs_of_whole_leaves():
    with pytest.raises(MatchNotPossible, match="book, slip, reverse-slip"):
        lay_out(RUN[:2], Match.BALANCE, trims=[a_cut()])


@pytest.mark.parametrize("match", list(Match))
@pytest.mark.parametrize("start", [Laid.FACE_OVER, Laid.END_TURNED, Laid.END_OVER])
def test_another_start_turns_every_leaf_and_leaves_every_outline(match, start):
    run = [LeafExtent(f"{at:02}", 300.0, 2400.0, lab=(60.0 + at, 5.0, 20.0)) for at in range(16)]
    panels = ((500.0, 1200.0),) if match in (Match.SEQUENCE, Match.BLUEPRINT) else ()
    plain = lay_out(run, match, wish=FaceWish(panels=panels))
    turned = lay_out(run, match, wish=FaceWish(panels=panels, start=start))

    assert [one.outline_mm for one in turned.placements] == [
        one.outline_mm for one in plain.placements
    ]
    for before, after in zip(plain.placements, turned.placements, strict=True):
        assert after.laid is compose(before.laid, start)
        assert after.turned_deg == pytest.approx(before.turned_deg)
        corners = after.on_leaf_mm
        assert all(-1e-6 <= x <= 300.0 + 1e-6 and -1e-6 <= y <= 2400.0 + 1e-6 for x, y in corners)

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.alternation import SeenLeaf, predict_alternation
from vision.colour_space import lightness_of_y
from vision.readings import SLICES, Evidence, LightProfile, LightReference
from vision.settings import DEFAULT_VISION_SETTINGS as SETTINGS
from vision.shot import Laid, Lamp, Shot


def profile(level: float | np.ndarray, *, stripes: float = 0.0) -> LightProfile:
    """A grey leaf of the given linear level, per slice; stripes of 12 mm in its edge bands."""
    levels = np.broadcast_to(level, SLICES)
    wave = stripes * np.sin(np.arange(500) * 2 * np.pi / 6)
    edge = tuple(float(v) for v in lightness_of_y(np.full(500, levels.mean())) + wave)
    return LightProfile(
        slices=tuple((float(v),) * 3 for v in levels),
        foot=0.5,
        edge_left=edge,
        edge_right=edge,
        edge_pitch_mm=2.0,
        reference=LightReference.BOARD,
        level_sd=0.004,
    )


def shot(leaf: str, laid: Laid = Laid.AS_LIES, lamp: Lamp = Lamp.A, **more) -> Shot:
    return Shot(file=f"{leaf}-{laid}-{lamp}.jpg", leaf=leaf, laid=laid, lamp=lamp, **more)


def one(leaf, level, laid=Laid.AS_LIES, lamp=Lamp.A, **more) -> SeenLeaf:
    return SeenLeaf(shot(leaf, laid, lamp, **more), (profile(level),))


def swap(leaf: str, under_a: float, under_b: float) -> list[SeenLeaf]:
    return [one(leaf, under_a, lamp=Lamp.A), one(leaf, under_b, lamp=Lamp.B)]


def step_of(light: float, dark: float) -> float:
    return float(lightness_of_y(light) - lightness_of_y(dark))


def judge(seen, order=("1", "2"), match="book"):
    return predict_alternation(order, seen, match=match, settings=SETTINGS)


def test_one_lone_photograph_a_leaf_is_never_judged():
    for lamp in Lamp:
        pairs = judge([one("1", 0.3, lamp=lamp), one("2", 0.2, lamp=lamp)])

        assert [pair.flag for pair in pairs] == ["not-measured"] * 2
        assert {pair.lightness_step for pair in pairs} == {None}
        assert {pair.evidence for pair in pairs} == {Evidence.NONE}


def test_lamp_swap_shows_the_turned_leaf_as_the_unturned_one_under_the_other_lamp():
    under_a, under_b = judge(swap("1", 0.30, 0.24) + swap("2", 0.30, 0.24))

    assert under_a.lightness_step == pytest.approx(-step_of(0.30, 0.24))
    assert under_b.lightness_step == pytest.approx(step_of(0.30, 0.24))
    assert under_a.tilt_part == pytest.approx(under_a.lightness_step)
    assert under_a.face_part == pytest.approx(0, abs=1e-9)
    assert under_a.evidence is Evidence.LAMP_SWAP


def test_a_leaf_turned_end_for_end_says_the_same_as_a_lamp_moved_to_the_other_end():
    def turned(leaf):
        return [one(leaf, 0.30), one(leaf, 0.24, laid=Laid.END_TURNED)]

    by_turn = judge(turned("1") + turned("2"))
    by_swap = judge(swap("1", 0.30, 0.24) + swap("2", 0.30, 0.24))

    assert [pair.lightness_step for pair in by_turn] == pytest.approx(
        [pair.lightness_step for pair in by_swap]
    )
    assert {pair.evidence for pair in by_turn} == {Evidence.END_TURNED}


def test_colour_that_differs_between_leaves_stays_when_the_lamp_moves():
    under_a, under_b = judge(swap("1", 0.30, 0.24) + swap("2", 0.36, 0.36 * 0.24 / 0.30))

    assert under_a.face_part == pytest.approx(under_b.face_part)
    assert under_a.face_part > 1
    assert under_a.tilt_part == pytest.approx(-under_b.tilt_part)


def test_slip_match_of_like_leaves_never_alternates():
    pairs = judge(swap("1", 0.30, 0.20) + swap("2", 0.30, 0.20), match="slip")

    assert [pair.lightness_step for pair in pairs] == [0.0, 0.0]
    assert {pair.evidence for pair in pairs} == {Evidence.SAME_FACE}
    assert {pair.flag for pair in pairs} == {"none"}


def test_an_opened_pair_is_taken_as_it_is_and_before_anything_else():
    pair = SeenLeaf(shot("1+2", Laid.OPENED_PAIR, Lamp.A), (profile(0.30), profile(0.21)))

    under_a, under_b = judge([*swap("1", 0.5, 0.5), *swap("2", 0.5, 0.5), pair])

    assert under_a.lightness_step == pytest.approx(-step_of(0.30, 0.21))
    assert (under_a.evidence, under_a.flag) == (Evidence.OPENED_PAIR, "strong")
    assert under_b.evidence is not Evidence.OPENED_PAIR


def test_an_opened_pair_under_one_lamp_says_nothing_of_the_other():
    pair = SeenLeaf(shot("1+2", Laid.OPENED_PAIR, Lamp.A), (profile(0.30), profile(0.21)))

    under_a, under_b = judge([pair])

    assert under_a.flag == "strong"
    assert under_b.flag == "not-measured"
    assert under_a.tilt_part is None


def test_leaves_photographed_face_over_need_no_allowance_for_an_unseen_face():
    seen = [one("1", 0.30), one("2", 0.24, laid=Laid.FACE_OVER)]

    under_a, _ = judge(seen)
    allowed, _ = judge(swap("1", 0.30, 0.24) + swap("2", 0.30, 0.24))

    assert under_a.evidence is Evidence.SAME_FACE
    assert under_a.lightness_step == pytest.approx(allowed.lightness_step)
    assert allowed.lightness_high - allowed.lightness_low > 2 * (
        under_a.lightness_high - under_a.lightness_low
    )


def test_a_wet_leaf_says_nothing_of_a_dry_one():
    pairs = judge([*swap("1", 0.3, 0.2), one("2", 0.3, wet=True), one("2", 0.2, lamp=Lamp.B)])

    assert pairs[0].lightness_step is not None
    assert pairs[1].flag == "not-measured"


def test_the_worst_fifth_decides_the_flag_though_the_middle_is_calm():
    calm = np.full(SLICES, 0.3)
    patchy = calm.copy()
    patchy[:4] = 0.36
    pair = SeenLeaf(shot("1+2", Laid.OPENED_PAIR, Lamp.A), (profile(calm), profile(patchy)))

    under_a, _ = judge([pair])

    assert abs(under_a.lightness_step) < 0.1
    assert under_a.flag == "strong"
    assert [segment.delta_e00 > 2.5 for segment in under_a.segments] == [True] + [False] * 4


def test_an_interval_that_crosses_a_limit_names_both_grades():
    pair = SeenLeaf(shot("1+2", Laid.OPENED_PAIR, Lamp.A), (profile(0.300), profile(0.288)))

    under_a, _ = judge([pair])

    assert under_a.delta_e00_low < SETTINGS.slight_from < under_a.delta_e00_high
    assert under_a.flag == "none to slight"


def test_stripes_that_meet_reversed_at_the_joint_have_their_own_number():
    calm = SeenLeaf(shot("1+2", Laid.OPENED_PAIR), (profile(0.3), profile(0.3)))
    striped = SeenLeaf(
        shot("1+2", Laid.OPENED_PAIR), (profile(0.3, stripes=3), profile(0.3, stripes=-3))
    )

    assert judge([calm])[0].local_rms == pytest.approx(0, abs=1e-6)
    assert judge([striped])[0].local_rms == pytest.approx(6 / np.sqrt(2), rel=0.1)


def test_an_unknown_match_is_named():
    with pytest.raises(ValueError, match="book, slip"):
        judge([], match="sideways")


def test_no_leaf_or_one_leaf_has_no_pairs():
    assert judge([], order=()) == ()
    assert judge(swap("1", 0.3, 0.2), order=("1",)) == ()


level = st.floats(0.03, 0.8)


@given(a1=level, b1=level, a2=level, b2=level)
def test_moving_both_lamps_to_the_other_ends_swaps_the_two_answers(a1, b1, a2, b2):
    there = judge(swap("1", a1, b1) + swap("2", a2, b2))
    back = judge(swap("1", b1, a1) + swap("2", b2, a2))

    assert there[0].lightness_step == pytest.approx(back[1].lightness_step)
    assert there[1].lightness_step == pytest.approx(back[0].lightness_step)
    for pair in there:
        assert pair.lightness_low <= pair.lightness_step <= pair.lightness_high
        assert pair.delta_e00_low <= pair.delta_e00 <= pair.delta_e00_high


@given(level)
def test_a_worse_exposure_reference_widens_the_interval(value):
    def widened(sd):
        seen = [
            SeenLeaf(one.shot, tuple(replace(side, level_sd=sd) for side in one.sides))
            for one in swap("1", value, value) + swap("2", value, value)
        ]
        pair = judge(seen)[0]
        return pair.lightness_high - pair.lightness_low

    assert widened(0.002) < widened(0.01) < widened(0.03)

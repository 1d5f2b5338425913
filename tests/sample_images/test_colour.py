"""Check pairs: Sharma, Wu, Dalal 2005, Color Research and Application 30(1):21, table 1."""

import pytest

from sample_images.colour import delta_e00, encode_table, lab_of, linear_of_d65


@pytest.mark.parametrize(
    ("one", "other", "difference"),
    [
        ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
        ((50, 2.5, 0), (50, 0, -2.5), 4.3065),
        ((50, 2.5, 0), (73, 25, -18), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_colour_differences_agree_with_the_published_pairs(one, other, difference):
    assert delta_e00(one, other) == pytest.approx(difference, abs=5e-5)
    assert delta_e00(other, one) == pytest.approx(difference, abs=5e-5)


def test_truth_is_told_under_d50_and_woods_are_mixed_under_d65():
    # sRGB 196, 160, 118 under either white, made with colour-science 0.4.7.
    light = linear_of_d65([68.16, 7.54, 26.91])

    assert lab_of(light) == pytest.approx([68.45, 9.54, 27.20], abs=0.02)


def test_a_perfect_white_has_no_hue():
    assert lab_of([1.0, 1.0, 1.0]) == pytest.approx([100.0, 0.0, 0.0], abs=1e-9)


def test_code_values_follow_the_srgb_curve():
    table = encode_table()

    assert table[int(0.18447 * len(table))] == 119
    assert (table[0], table[-1]) == (0, 255)

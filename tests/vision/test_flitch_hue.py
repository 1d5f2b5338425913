"""Hue along the leaves of a flitch: what photographs agree on is the wood's, the rest is not."""

from dataclasses import replace

import numpy as np
import pytest

from vision.colour_space import LUMINANCE
from vision.flitch_hue import level_hues, settle_hues
from vision.laying import reverses_rows
from vision.leaf_light import LeafLight
from vision.readings import SLICES, LightProfile, LightReference
from vision.shot import Laid, Lamp, Shot

WOOD = np.array([0.30, 0.20, 0.12])


def photographed(leaf, lamp, log_hue, *, laid=Laid.AS_LIES):
    """Return a photograph of a leaf whose red is that much over its green, slice by slice."""
    slices = WOOD * np.exp(np.outer(log_hue, [1.0, 0.0, 0.0]))
    if reverses_rows(laid):
        slices = slices[::-1]
    profile = LightProfile(
        slices=tuple((float(r), float(g), float(b)) for r, g, b in slices),
        foot=0.5,
        edge_left=(),
        edge_right=(),
        edge_pitch_mm=None,
        reference=LightReference.BOARD,
        level_sd=0.004,
    )
    return LeafLight(Shot(f"{leaf}{laid}{lamp}", leaf, laid, lamp), profile)


def red_over_green(views, times):
    """Return the log of the settled hue of each slice, the leaf's mean taken out."""
    light = []
    for view in views:
        one = np.array(view.profile.slices)
        light.append(one[::-1] if reverses_rows(view.shot.laid) else one)
    hue = np.log(np.mean(light, axis=0) * times)
    return (hue[:, 0] - hue[:, 1]) - (hue[:, 0] - hue[:, 1]).mean()


def test_what_changes_from_photograph_to_photograph_is_taken_out():
    rng = np.random.default_rng()
    leaves = [
        [
            photographed(str(n), lamp, 0.01 * rng.standard_normal(SLICES))
            for lamp in (Lamp.A, Lamp.B)
        ]
        for n in range(40)
    ]

    settled = settle_hues(leaves)

    left = [
        red_over_green(views, times).std() for views, times in zip(leaves, settled, strict=True)
    ]
    before = [red_over_green(views, np.ones(3)).std() for views in leaves]
    assert np.mean(left) < 0.6 * np.mean(before)


@pytest.mark.parametrize("second", [(Laid.AS_LIES, Lamp.B), (Laid.END_TURNED, Lamp.A)])
def test_what_both_photographs_show_stays(second):
    rng = np.random.default_rng()
    own = 0.05 * np.cumsum(rng.standard_normal((8, SLICES)), axis=1) / np.sqrt(SLICES)
    laid, lamp = second
    leaves = [
        [
            photographed(str(n), Lamp.A, hue + 0.001 * rng.standard_normal(SLICES)),
            photographed(str(n), lamp, hue + 0.001 * rng.standard_normal(SLICES), laid=laid),
        ]
        for n, hue in enumerate(own)
    ]

    settled = settle_hues(leaves)

    for views, times, hue in zip(leaves, settled, own, strict=True):
        assert red_over_green(views, times) == pytest.approx(hue - hue.mean(), abs=0.006)


def test_a_leaf_photographed_once_among_others_keeps_the_hue_of_all():
    shared = 0.03 * np.linspace(-1, 1, SLICES)
    leaves = [[photographed(str(n), Lamp.A, shared)] for n in range(4)] + [[]]

    settled = settle_hues(leaves)

    assert settled[4] == pytest.approx(np.ones((SLICES, 3)))
    for views, times in zip(leaves[:4], settled[:4], strict=True):
        assert red_over_green(views, times) == pytest.approx(shared, abs=1e-9)


FACES = (Laid.AS_LIES, Laid.FACE_OVER)


def turned_over(casts, *, wood=0.0, face=0.0):
    """Return leaves photographed on both faces, red over green by cast, wood and face."""
    return {
        str(n): [
            photographed(str(n), Lamp.A, np.full(SLICES, cast + n * wood + at * face), laid=laid)
            for at, (laid, cast) in enumerate(zip(FACES, pair, strict=True))
        ]
        for n, pair in enumerate(casts)
    }


def whole_hues(views):
    """Return the log of red over green of each photograph, shape (leaves, faces)."""
    light = np.array([[np.mean(v.profile.slices, axis=0) for v in seen] for seen in views.values()])
    return np.log(light[..., 0] / light[..., 1]) - np.log(WOOD[0] / WOOD[1])


def test_casts_are_taken_out_and_lightness_is_kept():
    rng = np.random.default_rng()
    views = turned_over(0.012 * rng.standard_normal((12, 2)))

    levelled = level_hues(views)

    assert whole_hues(levelled).std() < 0.5 * whole_hues(views).std()
    for leaf, seen in views.items():
        for one, other in zip(seen, levelled[leaf], strict=True):
            was, now = (np.array(view.profile.slices) @ LUMINANCE for view in (one, other))
            assert now == pytest.approx(was)


def test_what_all_leaves_show_on_one_face_and_what_one_leaf_shows_on_both_stays():
    casts = 0.001 * np.random.default_rng().standard_normal((6, 2))
    views = turned_over(casts, wood=0.05, face=0.04)

    hues = whole_hues(level_hues(views))

    assert hues == pytest.approx(whole_hues(views), abs=0.008)


def test_an_opened_pair_and_a_leaf_alone_are_left_as_they_are():
    left, right = (photographed(label, Lamp.A, np.zeros(SLICES)) for label in "12")
    pair = {"1": [left], "2": [LeafLight(replace(right.shot, file=left.shot.file), left.profile)]}
    alone = {"1": [left]}

    assert level_hues(pair) == pair
    assert level_hues(alone) == alone
    assert level_hues({}) == {}

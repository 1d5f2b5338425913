"""Wood against board where both are equally light: the share must not jump where contrast is 0."""

import numpy as np
import pytest

from vision.wood_edge import NEAR_STEP, WoodScale, scale_wood, trace


def test_the_share_of_wood_runs_on_smoothly_where_wood_gets_as_light_as_the_board():
    steps = 20
    contrast = np.linspace(-0.3, 0.3, steps, dtype=np.float32)
    bend = np.stack([np.tile(contrast, (4, 1)), np.full((4, steps), 30, np.float32)], axis=-1)
    toward = np.zeros((4, steps, 3), np.float32)
    toward[..., 1] = 1.0
    scale = WoodScale(toward, bend, np.zeros((4, steps, 3), np.float32))
    hues = np.zeros((4 * NEAR_STEP, steps * NEAR_STEP, 3), np.float32)
    for full in (0.0, 0.5, 1.0):
        hues[..., 1] = full

        share = scale.share(hues)

        # Light mixes, not its logarithm: half-way in the logarithm is not quite half.
        expected = np.expm1(full * contrast) / np.expm1(contrast)
        assert share.min() >= expected.min() - 0.01
        assert share.max() <= expected.max() + 0.01


@pytest.mark.parametrize("lightness", [-0.05, 0.0, 0.05])
def test_wood_as_light_as_the_board_but_of_another_hue_keeps_all_its_pixels(lightness):
    rng = np.random.default_rng(8)
    rows, columns = 160, 120
    hues = rng.normal(0, 0.01, (rows, columns, 3)).astype(np.float32)
    on_leaf = np.zeros((rows, columns), np.uint8)
    on_leaf[20:140, 20:100] = 1
    hues[on_leaf > 0, 1] += 0.5
    hues[..., 0] += on_leaf * np.linspace(lightness - 0.04, lightness + 0.04, columns)
    core = np.zeros_like(on_leaf)
    core[24:136, 24:96] = 1
    board = np.where(on_leaf > 0, 0, 255).astype(np.uint8)

    share = scale_wood(hues, core, board, np.array([0.02, 0.01, 0.01])).share(hues)

    assert share[on_leaf > 0].min() > 0.5
    assert share[on_leaf == 0].max() < 0.5
    line = trace(np.clip(share, 0, 1))
    assert line is not None
    assert len(line) == pytest.approx(2 * (120 + 80), abs=8)

import csv
import json
from dataclasses import replace

import numpy as np
import pytest

from sample_images import Delivered, FlitchPlan, draw_flat, draw_stack, shuffle_stack

SMALL = FlitchPlan(seed=4, length_mm=900, width_mm=160, leaves=30, photo_px=(300, 450))


def test_a_delivery_holds_every_leaf_once_but_the_missing():
    stack = shuffle_stack(SMALL, missing=4)

    numbers = [one.leaf for one in stack]
    assert len(numbers) == len(set(numbers)) == 26
    assert {1, 30} <= set(numbers)
    assert numbers != sorted(numbers)
    assert stack == shuffle_stack(SMALL, missing=4)


def test_the_shot_list_of_a_delivery_tells_nothing_of_the_true_order(tmp_path):
    stack = (Delivered(3, "face-over"), Delivered(1))

    list(draw_stack(replace(SMALL, leaves=3), stack, tmp_path))

    with (tmp_path / "shots.csv").open() as file:
        rows = list(csv.DictReader(file))
    truth = json.loads((tmp_path / "stack.json").read_text())["photos"]
    assert [(row["leaf"], row["laid"]) for row in rows] == [("001", "as-lies"), ("002", "as-lies")]
    assert [(one["leaf"], one["laid"]) for one in truth] == [("03", "face-over"), ("01", "as-lies")]
    assert all((tmp_path / row["file"]).is_file() for row in rows)


def test_the_next_leaf_face_over_shows_the_mirrored_cut_of_this_one():
    plan = replace(SMALL, face_albedo_sd=0, face_lobe_sd=0, lobe_ratio=0)

    this = draw_flat(plan, 5)
    following = draw_flat(plan, 6, laid="face-over")

    assert following.light[:, ::-1] == pytest.approx(this.light, abs=1e-4)
    assert np.mean(following.on_leaf[:, ::-1] == this.on_leaf) > 0.99


def test_any_resolution_sees_the_same_wood():
    coarse = draw_flat(SMALL, 2, px_per_mm=0.4).light[..., 1]
    fine = draw_flat(SMALL, 2, px_per_mm=1.6).light[..., 1]

    rows, columns = (size // 4 * 4 for size in fine.shape)
    blocks = fine[:rows, :columns].reshape(rows // 4, 4, columns // 4, 4).mean(axis=(1, 3))
    rows, columns = (min(a, b) for a, b in zip(blocks.shape, coarse.shape, strict=True))
    one, other = blocks[:rows, :columns].ravel(), coarse[:rows, :columns].ravel()
    assert one.mean() == pytest.approx(other.mean(), rel=0.02)
    assert np.corrcoef(one, other)[0, 1] > 0.9

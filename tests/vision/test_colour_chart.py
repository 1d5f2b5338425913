from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.chart_photos import chart_photo
from tests.vision.made_charts import MadeTable, MadeTableTop, patch_centres
from vision.chart_references import NAMES, chart_reference
from vision.colour_chart import find_chart, read_by_holder
from vision.colour_space import lab_to_linear
from vision.tone_curve import decode_table

REFERENCE = chart_reference("after-2014")
PLAIN = MadeTableTop(camera=((1, 0, 0), (0, 1, 0), (0, 0, 1)))


def by_holder(top):
    return read_by_holder(
        top.paint(), MadeTable().holder_to_px, np.array(patch_centres()), lab=REFERENCE.lab
    )


def test_patches_read_in_order_red_before_blue():
    chart = by_holder(PLAIN)

    red, blue = chart.levels()[NAMES.index("red")], chart.levels()[NAMES.index("blue")]
    assert red[0] > 2 * red[2]
    assert blue[2] > 2 * blue[0]


@pytest.mark.parametrize("turned", [False, True])
def test_each_patch_reads_as_it_was_painted_whichever_way_round_it_lies_in_its_holder(turned):
    top = replace(PLAIN, turned=turned)

    chart = by_holder(top)

    x, y = chart.centres_px.round().astype(int).T
    light = chart.light(decode_table(None)) / (top.lamp()[y, x, None] * top.exposure)
    true = np.clip(lab_to_linear(REFERENCE.lab), 0, 1)
    assert np.abs(light - true).max() < 0.01
    assert (chart.centres_px[0] < chart.centres_px[23]).all() != turned


@pytest.mark.parametrize("quarter_turns", [0, 1, 2, 3])
def test_the_finder_finds_the_chart_whichever_way_it_lies(quarter_turns):
    rgb = np.ascontiguousarray(np.rot90(PLAIN.paint(), quarter_turns))

    found, placed = find_chart(rgb, lab=REFERENCE.lab), by_holder(PLAIN)

    assert found is not None
    assert not found.by_holder
    assert np.abs(found.levels() - placed.levels()).max() < 2.5


def test_a_burnt_out_white_is_told():
    chart = by_holder(replace(PLAIN, exposure=1.75))

    assert chart.dropped[NAMES.index("white")] == "clipped"
    assert chart.dropped[NAMES.index("neutral 5")] == ""


def test_a_reflection_over_half_a_patch_is_told():
    chart = by_holder(MadeTableTop(gloss=(3, 13)))

    assert [i for i, why in enumerate(chart.dropped) if why] == [3, 13]


def test_a_chart_cut_by_the_frame_is_not_read():
    rgb = PLAIN.paint()[:, :480]

    centres = np.array(patch_centres())
    assert read_by_holder(rgb, MadeTable().holder_to_px, centres, lab=REFERENCE.lab) is None


def test_no_chart_is_found_where_none_lies():
    assert find_chart(MadeTableTop(edition=None).paint(), lab=REFERENCE.lab) is None


def test_patches_of_a_coarse_photograph_are_called_small():
    assert not by_holder(PLAIN).is_small

    rgb = np.ascontiguousarray(PLAIN.paint()[::2, ::2])
    centres = np.array(patch_centres())
    chart = read_by_holder(
        rgb, lambda at: MadeTable().holder_to_px(at) / 2, centres, lab=REFERENCE.lab
    )
    assert chart is not None
    assert chart.is_small


@pytest.mark.reference
@pytest.mark.parametrize("quarter_turns", [0, 1, 2, 3])
def test_real_charts_are_found_whichever_way_the_photograph_is_held(quarter_turns):
    for notebook in ("inference", "segmentation"):
        for number in (0, 1):
            rgb = np.rot90(chart_photo(notebook, number), quarter_turns)

            chart = find_chart(np.ascontiguousarray(rgb), lab=REFERENCE.lab)

            assert chart is not None
            neutrals = chart.levels()[18:24, 1]
            assert (np.diff(neutrals) < 0).all()

"""The drawn rails are those that the command prints."""

import json

import numpy as np
import pytest

from tests.spectral.printed_rails import HOLDER_IDS, Holder, Rails
from tests.ui.running import run_ui


def test_markers_greys_and_chart_holder_lie_where_the_printed_list_has_them(tmp_path):
    ran = run_ui(
        "rails", "--length-mm", 2800, "--chart-patch-mm", 38, "--out", tmp_path / "rails.pdf"
    )
    assert ran.code == 0
    items = json.loads((tmp_path / "rails.json").read_text())["items"]
    rails = Rails(29, 100.0, 1.0, 1.0, 0.0, 0.0, 0.0)

    for side, first in (("left", 0), ("right", 100)):
        printed = [one for one in items if one["part"] == side]
        markers = {one["marker_id"]: one for one in printed if one["kind"] == "marker"}
        assert {number: one["y_mm"] for number, one in markers.items()} == {
            first + k: 100.0 * k for k in range(29)
        }
        assert {one["x_mm"] for one in markers.values()} == {0.0}
        assert {one["width_mm"] for one in markers.values()} == {40.0}
        greys = [
            (one["x_mm"], one["y_mm"], one["reflectance"])
            for one in printed
            if one["kind"] == "grey"
        ]
        assert np.array(sorted(greys)) == pytest.approx(np.array(sorted(rails.grey_centres(side))))
    held = {
        one["marker_id"]: (one["x_mm"], one["y_mm"]) for one in items if one["part"] == "holder"
    }
    drawn = {
        number: patch.corners.mean(axis=0)
        for number, patch in zip(
            HOLDER_IDS, Holder(38.0, (0.0, 0.0), 0.0).patches()[2:6], strict=True
        )
    }
    for number, place in drawn.items():
        assert place == pytest.approx(held[number])

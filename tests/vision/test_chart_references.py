from __future__ import annotations

import numpy as np
import pytest

from tests.vision.test_colour_space import colour_science
from vision.chart_references import EDITIONS, NAMES, chart_reference, read_chips, read_reference
from vision.errors import ChartUnreadable


def test_the_editions_are_what_is_published():
    # As printed by colour-science 0.4.7 for the chart made after November 2014.
    new = chart_reference("after-2014")

    known = {"dark skin": (37.54, 14.37, 14.92), "white": (95.19, -1.03, 2.93)}
    known |= {"neutral 5": (50.76, -0.13, 0.14), "black": (20.64, 0.07, -0.46)}
    for name, lab in known.items():
        assert new.lab[NAMES.index(name)].tolist() == pytest.approx(lab, abs=1e-9)


@pytest.mark.reference
@pytest.mark.parametrize("edition", EDITIONS)
def test_every_patch_agrees_with_a_reference_library(edition):
    colour = colour_science()
    title = f"ColorChecker24 - {edition.split('-')[0].title()} November 2014"
    chart = colour.CCS_COLOURCHECKERS[title]
    xyz = colour.xyY_to_XYZ(list(chart.data.values()))

    lab = colour.XYZ_to_Lab(xyz, chart.illuminant)

    assert np.abs(chart_reference(edition).lab - lab).max() < 0.0051


def test_an_unknown_edition_is_refused_with_the_choice():
    with pytest.raises(ChartUnreadable, match="before-2014 or after-2014"):
        chart_reference("1976")


def test_a_reference_file_of_the_owner_is_read(tmp_path):
    lab = chart_reference("before-2014").lab
    rows = [f"{name},{one[0]},{one[1]},{one[2]}" for name, one in zip(NAMES, lab, strict=True)]
    path = tmp_path / "mine.csv"
    path.write_text("name,L,a,b\n" + "\n".join(rows) + "\n")

    found = chart_reference(str(path))

    assert found.edition == "mine.csv"
    assert found.lab == pytest.approx(lab)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name,L,a,b\nwhite,95,0,2\n", "1 patches, 24 are needed"),
        ("name,X,Y,Z\nwhite,95,0,2\n", "lacks the columns L, a, b"),
        ("", "lacks the columns"),
        ("name,L,a,b\n" + "white,light,0,2\n" * 24, "plain numbers"),
        ("name,L,a,b\n" + "white,950,0,2\n" * 24, "between 0 and 100"),
    ],
)
def test_a_faulty_reference_file_is_refused_with_what_it_lacks(tmp_path, text, words):
    path = tmp_path / "faulty.csv"
    path.write_text(text)

    with pytest.raises(ChartUnreadable, match=words):
        read_reference(path)


def test_wood_chips_are_read_with_their_place(tmp_path):
    path = tmp_path / "chips.csv"
    path.write_text("name,L,a,b,x_mm,y_mm\noak,66,7,21,350,1200\n")

    (chip,) = read_chips(path)

    assert (chip.name, chip.lab, chip.x_mm, chip.y_mm) == ("oak", (66.0, 7.0, 21.0), 350.0, 1200.0)


def test_chips_without_a_place_are_refused(tmp_path):
    path = tmp_path / "chips.csv"
    path.write_text("name,L,a,b\noak,66,7,21\n")

    with pytest.raises(ChartUnreadable, match="where each chip lies"):
        read_chips(path)

"""The cut list says the same in millimetres and inches, and keeps the face on every cut."""

import csv
import io
import re
from datetime import date

import pytest

from catalog.panel_cuts import cut_lines, cut_list_csv
from catalog.panel_picture import panel_picture
from catalog.panel_sheet import cut_sheet_pdf
from catalog.panel_stock import (
    Known,
    least_piece_for,
    openings_in,
    plan_from_stock,
    stock_leaves,
)
from tests.catalog.painted_stock import painted_catalog
from vision.panel_job import Face, Job, LeafState, Panel
from vision.panel_plan import plan_panels
from vision.shot import Shot

JOB = Job((Panel("door", 600.0, 1700.0), Panel("=drawer", 400.0, 200.0)))


@pytest.fixture(scope="module")
def stock(tmp_path_factory):
    shots = [Shot(f"{i:02}.jpg", f"{i:02}") for i in range(1, 13)]
    catalog, bundle = painted_catalog(tmp_path_factory.mktemp("stock"), shots)
    yield catalog, bundle
    catalog.close()


@pytest.fixture(scope="module")
def planned(stock):
    catalog, bundle = stock
    plans, others = plan_from_stock(catalog, JOB, bundles=[bundle])
    assert not others
    return plans[0]


def test_inches_are_millimetres_over_25_4(planned):
    rows = list(csv.DictReader(io.StringIO(cut_list_csv(planned.plan))))

    cuts = [row for row in rows if row["line"]]
    assert len(cuts) == 4 * sum(len(panel.pieces) for panel in planned.plan.panels)
    for row in cuts:
        assert float(row["rough mm"]) / 25.4 == pytest.approx(float(row["rough in"]), abs=0.007)
        assert float(row["face mm"]) / 25.4 == pytest.approx(float(row["face in"]), abs=0.007)


def test_the_kept_side_of_every_cut_is_the_side_of_the_face(planned):
    for panel in planned.plan.panels:
        for piece in panel.pieces:
            for cut in cut_lines(piece):
                ahead = cut.keep in ("right of the line", "below the line")
                assert ahead == (cut.face_mm > cut.rough_mm)


def test_a_name_that_a_spreadsheet_would_take_for_a_formula_is_defused(planned):
    assert "'=drawer" in cut_list_csv(planned.plan)


def test_the_paper_names_every_panel_and_is_the_same_every_time(stock, planned):
    catalog, _ = stock

    first, second = (cut_sheet_pdf(catalog, planned, on=date(2026, 3, 4)) for _ in range(2))

    assert first == second
    assert first.startswith(b"%PDF")
    assert len(re.findall(rb"/Type /Page\b", first)) >= 3


def test_a_panel_is_drawn_in_its_proportions(stock, planned):
    catalog, _ = stock

    rgb = panel_picture(catalog.pictures, planned, 0, px_per_mm=500 / 1700)

    wood = (rgb.astype(int).max(axis=2) - rgb.min(axis=2)) > 40
    rows, columns = wood.any(axis=1).nonzero()[0], wood[60:400].any(axis=0).nonzero()[0]
    assert rows.size == pytest.approx(500, abs=24)
    assert columns[-1] - columns[0] == pytest.approx(500 * 600 / 1700, abs=6)


def test_usable_sizes_are_those_between_the_straightened_edges(stock):
    catalog, bundle = stock

    leaves = stock_leaves(catalog, [catalog.bundle(bundle)])

    for one in leaves:
        assert one.leaf.length_mm == pytest.approx(2000.0, abs=5.0)
        assert 236.0 <= one.leaf.width_mm <= 244.5


def test_what_is_known_of_leaves_is_believed(stock):
    catalog, bundle = stock
    known = Known(gone={"1/02"}, held={"1/03"})

    leaves = stock_leaves(catalog, [catalog.bundle(bundle)], known=known)

    states = [one.leaf.state for one in leaves[:4]]
    assert states == [LeafState.FREE, LeafState.GONE, LeafState.HELD, LeafState.FREE]


def test_a_hole_with_wood_all_round_is_no_split():
    import numpy as np

    leaf = np.ones((300, 80), bool)
    leaf[100:110, 30:40] = False

    (hole,) = openings_in(leaf, 0.5)

    assert hole.kind == "hole"
    assert (hole.left_mm, hole.top_mm, hole.right_mm, hole.bottom_mm) == (60, 200, 80, 220)


def test_plain_sliced_flitches_ask_for_wider_pieces():
    assert least_piece_for("crown cut", 76.0) == 152.0
    assert least_piece_for("rift", 76.0) == 76.0


def test_all_of_stock_is_looked_through_and_a_flitch_that_will_not_do_says_why(stock):
    catalog, _ = stock
    tall = Job((Panel("tall", 600.0, 2400.0),), face=Face.BALANCE)

    plans, others = plan_from_stock(catalog, tall)

    assert plans == ()
    ((flitch, why),) = others
    assert flitch.name == "Ashgrove 17"
    assert "2500 mm" in why


def test_a_plan_from_stock_is_the_plan_of_its_leaves(stock, planned):
    catalog, bundle = stock
    leaves = stock_leaves(catalog, [catalog.bundle(bundle)])

    plan = plan_panels(JOB, [one.leaf for one in leaves])[0]

    assert planned.plan == plan

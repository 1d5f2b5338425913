"""Templates and cut lists, opened by other programs: sizes right to 0.2 %."""

import csv
import io
import re
import shutil
import subprocess
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from catalog.cut_list import cut_list_csv
from catalog.errors import CatalogError
from catalog.match_chart import match_chart
from catalog.rails_layout import RailsPaper
from catalog.template_sheets import print_templates, template_sheets, templates
from vision.cuts import CutPiece, cut_pieces
from vision.match_layout import Allowances, FaceWish, Layout, LeafExtent, Match, lay_out
from vision.match_names import MATCH_NAMES

LEAVES = [LeafExtent(f"{number:02}", 160.0, 900.0) for number in range(1, 13)]
DAY = date(2026, 3, 4)
DPI = 300


def cut(match: Match, wish: FaceWish) -> tuple[Layout, tuple[CutPiece, ...]]:
    layout = lay_out(LEAVES, match, wish=wish)
    return layout, cut_pieces(layout.placements, LEAVES, allowances=wish.allowances)


def needs(program: str) -> None:
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed")


def sheet(pdf: Path, number: int) -> np.ndarray:
    stem = pdf.with_suffix("")
    subprocess.run(
        ["pdftoppm", "-r", str(DPI), "-gray", "-png", "-singlefile", "-f", str(number), pdf, stem],
        check=True,
    )
    return np.asarray(Image.open(pdf.with_suffix(".png")).convert("L"))


def line_through(rows: np.ndarray, columns: list[int]) -> np.ndarray:
    """Return the straight line of a cut, the short strokes beside it left out."""
    kept = np.ones(len(rows), bool)
    at = np.array(columns)
    for limit in (10.0, 4.0, 1.5, 1.5):
        line = np.polyfit(rows[kept], at[kept], 1)
        kept = np.abs(at - np.polyval(line, rows)) < limit
    assert kept.mean() > 0.4
    return np.polyfit(rows[kept], at[kept], 1)


def test_a_wedge_on_paper_has_its_true_size_to_a_fifth_of_a_percent(tmp_path: Path) -> None:
    needs("pdftoppm")
    spare = Allowances(0.0, 0.0, 0.0)
    wish = FaceWish(width_mm=400.0, pieces=12, allowances=spare)
    layout, pieces = cut(Match.SUNBURST, wish)
    pdf = tmp_path / "wedge.pdf"
    pdf.write_bytes(print_templates(layout, pieces, paper=RailsPaper.A4, on=DAY))

    ink = sheet(pdf, 2) < 160
    px = DPI / 25.4
    rows = np.arange(round(45 * px), round(215 * px))
    left, right = (
        line_through(rows, [np.flatnonzero(ink[row])[end] for row in rows]) for end in (0, -1)
    )

    # a wedge of 30 degrees is 400 tan(15) wide at its rim, 200 mm below its tip
    assert right[0] - left[0] == pytest.approx(2 * np.tan(np.radians(15)), rel=0.002)
    tip = (left[1] - right[1]) / (right[0] - left[0])
    rim = tip + 200 * px
    wide = np.polyval(right, rim) - np.polyval(left, rim)
    assert wide / px == pytest.approx(400 * np.tan(np.radians(15)), rel=0.002)


def test_the_check_line_is_100_mm_on_paper(tmp_path: Path) -> None:
    needs("pdftoppm")
    layout, pieces = cut(Match.DIAMOND, FaceWish())
    pdf = tmp_path / "diamond.pdf"
    pdf.write_bytes(print_templates(layout, pieces, paper=RailsPaper.LETTER, on=DAY))

    ink = sheet(pdf, 2) < 100

    longest = 0
    for row in ink[-round(45 * DPI / 25.4) :]:
        at = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(int)))
        longest = max(longest, int(np.max(at[1::2] - at[::2], initial=0)))
    assert longest / DPI * 25.4 == pytest.approx(100.0, rel=0.004)


def test_the_paper_is_as_asked_for_and_every_sheet_is_there(tmp_path: Path) -> None:
    needs("pdfinfo")
    layout, pieces = cut(Match.HERRINGBONE, FaceWish(pieces=2))
    pdf = tmp_path / "strips.pdf"
    pdf.write_bytes(print_templates(layout, pieces, paper=RailsPaper.A4, on=DAY))

    told = subprocess.run(["pdfinfo", pdf], check=True, capture_output=True, text=True).stdout

    assert "A4" in told
    pages = int(re.search(r"Pages:\s+(\d+)", told)[1])
    assert 2 <= pages <= 1 + template_sheets(pieces, RailsPaper.A4)


def test_the_same_layout_and_day_give_the_same_bytes() -> None:
    layout, pieces = cut(Match.BOX, FaceWish())

    one, other = (print_templates(layout, pieces, paper=RailsPaper.A4, on=DAY) for _ in range(2))

    assert one == other


def test_pieces_of_one_shape_share_a_template() -> None:
    _, pieces = cut(Match.SUNBURST, FaceWish(pieces=12))

    assert [one.numbers for one in templates(pieces)] == [tuple(range(1, 13))]


def test_more_sheets_than_anyone_would_glue_are_refused_in_words() -> None:
    leaves = [LeafExtent(f"{n:02}", 300.0 + n, 3300.0) for n in range(1, 13)]
    layout = lay_out(leaves, Match.RUNNING)
    pieces = cut_pieces(layout.placements, leaves, allowances=Allowances())

    with pytest.raises(CatalogError, match="cut list"):
        print_templates(layout, pieces, paper=RailsPaper.A4, on=DAY)


def test_the_cut_list_says_millimetres_and_inches_of_one_and_the_same_cut() -> None:
    layout, pieces = cut(Match.BALANCE, FaceWish(width_mm=400.0, length_mm=800.0))

    rows = list(csv.DictReader(io.StringIO(cut_list_csv(layout, pieces))))

    assert len(rows) == 4 * len(layout.placements)
    assert {row["keep_side"] for row in rows} == {"right"}
    assert {row["use"] for row in rows} == {"joint", "rim"}
    for row in rows:
        for name in ("from_x", "from_y", "to_x", "to_y", "length"):
            mm, inch = float(row[f"{name}_mm"]), float(row[f"{name}_in"])
            assert inch * 25.4 == pytest.approx(mm, abs=0.02)
    joints = [float(row["length_mm"]) for row in rows if row["use"] == "joint"]
    # 800 mm finished, 30 mm standing out at either end
    assert joints == pytest.approx([860.0] * len(joints), abs=0.01)


def test_the_chart_draws_every_match_with_its_names() -> None:
    chart = match_chart()

    for named in MATCH_NAMES.values():
        assert f">{named.name}</text>" in chart
        assert named.also in chart
    assert chart == match_chart()

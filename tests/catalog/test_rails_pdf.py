"""The printed rails, read back from the PDF: its numbers, and what a viewer makes of it."""

import functools
import itertools
import math
import os
import re
import shutil
import subprocess
import zlib
from dataclasses import dataclass
from datetime import date

import cv2
import numpy as np
import pytest
from PIL import Image

from catalog.errors import EntryFaulty
from catalog.rails_layout import RailsLayout, RailsPaper, lay_out_rails
from catalog.rails_pdf import print_rails
from vision.rail_plan import GREY_STEPS, HOLDER_IDS, Holder, RailPlan

ON = date(2026, 3, 2)
PX_PER_MM = 8
PER_MM = 6
"""Pixels to the millimetre of pages that a viewer draws."""
PT = 25.4 / 72


@dataclass(frozen=True)
class Sheet:
    """What a page's content stream draws, in mm from the top left corner."""

    wide: float
    high: float
    boxes: tuple[tuple[float, float, float, float, float], ...]
    """Left, top, width, height, grey 0 to 1, in the order of drawing."""
    lines: tuple[tuple[float, float, float, float], ...]
    words: bytes


@functools.cache
def laid(markers=5, pitch=100.0, paper=RailsPaper.A4, gap=700.0, chart=40.0) -> RailsLayout:
    return lay_out_rails(RailPlan(markers, pitch), paper=paper, gap_mm=gap, holder=Holder(chart))


@functools.cache
def printed(layout: RailsLayout) -> bytes:
    return print_rails(layout, on=ON)


@functools.cache
def read_sheets(pdf: bytes) -> list[Sheet]:
    """Read rectangles and lines out of a PDF, trusting nothing but its numbers."""
    box = rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]"
    upright = re.search(box + rb"\s*/Type /Pages", pdf)
    objects = re.findall(rb"obj\n<<\n(/Contents.*?)/Type /Page\n", pdf, flags=re.DOTALL)
    boxes = [re.search(box, each) or upright for each in objects]
    sizes = [tuple(float(side) * PT for side in found.groups()) for found in boxes]
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, flags=re.DOTALL)
    pages = [text for text in map(unpacked, streams) if text.startswith(b"2 J")]
    return [read_sheet(text, *size) for text, size in zip(pages, sizes, strict=True)]


def pieces_of(layout, *parts):
    """The pieces of some parts, in the order of the pages."""
    return tuple(piece for piece in layout.pieces if piece.part in parts)


def unpacked(stream: bytes) -> bytes:
    try:
        return zlib.decompress(stream)
    except zlib.error:
        return b""


def read_sheet(text: bytes, wide: float, high: float) -> Sheet:
    grey, boxes, lines = 0.0, [], []
    for row in text.decode("latin-1").splitlines():
        if found := re.fullmatch(r"([\d.]+) g", row):
            grey = float(found[1])
        if found := re.fullmatch(r"(\S+) (\S+) (\S+) (\S+) re f", row):
            x, y, w, h = (float(v) * PT for v in found.groups())
            boxes.append((x, high - y, w, -h, grey))
        if found := re.fullmatch(r"(\S+) (\S+) m (\S+) (\S+) l S", row):
            x1, y1, x2, y2 = (float(v) * PT for v in found.groups())
            lines.append((x1, high - y1, x2, high - y2))
    return Sheet(wide, high, tuple(boxes), tuple(lines), text)


def painted(sheet: Sheet) -> np.ndarray:
    """Paint the rectangles of a sheet, eight pixels to the millimetre."""
    size = round(sheet.high * PX_PER_MM), round(sheet.wide * PX_PER_MM)
    grey = np.full(size, 255, np.uint8)
    for x, y, wide, high, level in sheet.boxes:
        left, right = round(x * PX_PER_MM), round((x + wide) * PX_PER_MM)
        top, bottom = round(y * PX_PER_MM), round((y + high) * PX_PER_MM)
        grey[top:bottom, left:right] = round(255 * level)
    return grey


def found_markers(grey: np.ndarray, px_per_mm: float) -> dict[int, tuple[float, float]]:
    """Return centres of markers, mm, as OpenCV finds them."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    centres = [quad.reshape(4, 2).mean(axis=0) + 0.5 for quad in corners]
    return {
        int(number): tuple((centre / px_per_mm).tolist())
        for number, centre in zip(np.ravel(ids) if ids is not None else (), centres, strict=True)
    }


def squares(sheet: Sheet) -> list[tuple[float, float]]:
    """Return the centres of the markers' black squares, mm."""
    return [
        (x + wide / 2, y + high / 2)
        for x, y, wide, high, level in sheet.boxes
        if level == 0 and wide == pytest.approx(40.0, abs=0.01) == high
    ]


def level_lines(sheet: Sheet, *, length: float) -> list[tuple[float, float]]:
    """Return left end and height of the lines across of some length, mm."""
    return [
        (min(x1, x2), y1)
        for x1, y1, x2, y2 in sheet.lines
        if y1 == y2 and abs(x2 - x1) == pytest.approx(length, abs=0.02)
    ]


@pytest.mark.parametrize("paper", list(RailsPaper))
@pytest.mark.parametrize(("markers", "pitch"), [(5, 100.0), (3, 400.0)])
def test_every_marker_is_found_where_the_list_says(paper, markers, pitch):
    layout = laid(markers, pitch, paper)

    sheets = read_sheets(printed(layout))

    found = [found_markers(painted(sheet), PX_PER_MM) for sheet in sheets]
    listed = {i.marker_id: i for i in layout.items if i.marker_id is not None}
    assert set(listed) == {*range(markers), *range(100, 100 + markers), *HOLDER_IDS}
    assert sum(map(len, found)) == len(listed)
    for number, item in listed.items():
        place = found[item.page - 1][number]
        assert place == pytest.approx((item.page_x_mm, item.page_y_mm), abs=0.1)


def test_markers_stand_upright():
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    sheet = read_sheets(printed(laid()))[1]

    corners, _ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(painted(sheet))

    for quad in corners:
        first = quad.reshape(4, 2)[0]
        assert (first == quad.reshape(4, 2).min(axis=0)).all()


@pytest.mark.parametrize("paper", list(RailsPaper))
def test_pieces_glued_by_their_marks_keep_the_pitch_across_every_seam(paper):
    layout = laid(36, paper=paper)
    sheets = read_sheets(printed(layout))[1:19]

    rails = {0: [], 1: []}
    for sheet in sheets:
        for rail, centres in rails.items():
            (left, head), (_, foot) = sorted(level_lines(sheet, length=84.0), key=lambda e: e[1])[
                rail::2
            ]
            # glued on: this piece's head lies on the line at the last one's foot
            shift = centres[-1][2] - head if centres else 0.0
            inside = [c for c in squares(sheet) if left < c[0] < left + 84.0]
            centres += [(x - left, y + shift, foot + shift) for x, y in sorted(inside, key=key_y)]

    for centres in rails.values():
        assert len(centres) == 36
        steps = [(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(centres)]
        assert all(abs(x) < 0.005 and y == pytest.approx(100.0, abs=0.01) for x, y in steps)
        # the PDF's numbers end at a hundredth of a point, 0.0035 mm; eighteen pieces add up
        assert centres[-1][1] - centres[0][1] == pytest.approx(3500.0, abs=0.1)


def key_y(centre):
    return centre[1]


def test_crosses_meet_at_every_seam():
    sheets = read_sheets(printed(laid(9)))[1:6]

    for upper, lower in itertools.pairwise(sheets):
        for (left, foot), (start, head) in zip(
            sorted(level_lines(upper, length=84.0), key=key_y)[-2:],
            sorted(level_lines(lower, length=84.0), key=key_y)[:2],
            strict=True,
        ):
            above = crossing(upper, foot, left, below=True)
            below = crossing(lower, head, start, below=False)
            assert len(above) == len(below) == 3
            assert above == pytest.approx(below, abs=0.01)


def crossing(sheet: Sheet, seam: float, left: float, *, below: bool) -> list[float]:
    """Return where short upright strokes meet a seam, mm from the piece's left edge."""
    return sorted(
        x1 - left
        for x1, y1, x2, y2 in sheet.lines
        if x1 == x2
        and 1 < x1 - left < 83
        and abs(y2 - y1) < 12
        and min(y1, y2) - 0.01 <= seam < max(y1, y2)
        and (min(y1, y2) < seam - 1) is below
    )


@pytest.mark.parametrize("paper", list(RailsPaper))
@pytest.mark.parametrize("chart", [10.0, 30.0, 44.0])
def test_every_sheet_has_a_check_line_of_the_length_that_stands_beside_it(paper, chart):
    layout = laid(paper=paper, chart=chart)

    sheets = read_sheets(printed(layout))

    lengths = {page: set() for page in range(1, layout.page_count + 1)}
    for check in layout.check_lines:
        sheet, end = sheets[check.page - 1], check.length_mm
        across, down = (0.0, end) if check.upright else (end, 0.0)
        wanted = (check.x_mm, check.y_mm, check.x_mm + across, check.y_mm + down)
        assert any(line == pytest.approx(wanted, abs=0.01) for line in sheet.lines)
        lengths[check.page].add(end)
    assert all(lengths.values())
    assert all(200.0 in lengths[piece.page] for piece in pieces_of(layout, "left", "stop"))


def test_greys_are_printed_at_the_level_of_their_reflectance_in_three_copies():
    layout = laid(33)

    sheets = read_sheets(printed(layout))

    greys = [item for item in layout.items if item.kind == "grey"]
    assert len(greys) == 2 * 3 * 7
    for item in greys:
        x, y = item.page_x_mm, item.page_y_mm
        box = next(
            box
            for box in reversed(sheets[item.page - 1].boxes)
            if box[0] < x < box[0] + box[2] and box[1] < y < box[1] + box[3]
        )
        assert box[0] + box[2] / 2 == pytest.approx(x, abs=0.01)
        assert box[1] + box[3] / 2 == pytest.approx(y, abs=0.01)
        encoded = box[4]
        assert ((encoded + 0.055) / 1.055) ** 2.4 == pytest.approx(item.reflectance, rel=0.01)
        assert round(255 * encoded) == item.grey_level
    assert {item.reflectance for item in greys} == set(GREY_STEPS)


def test_nothing_but_black_ink_is_asked_for():
    for sheet in read_sheets(printed(laid())):
        assert not re.search(rb"\s(rg|RG|k|K|Do)\s", sheet.words)


def test_the_stop_tells_where_both_rails_go():
    layout = laid(gap=655.0)
    stop = pieces_of(layout, "stop")
    sheets = read_sheets(printed(layout))

    marks = [
        round(x1 - piece.x0_mm, 1)
        for piece in stop
        for x1, y1, x2, y2 in sheets[piece.page - 1].lines
        if x1 == x2
        and abs(y2 - y1) == pytest.approx(14.0, abs=0.01)
        and piece.y0_mm < y1 <= piece.y0_mm + 34.01
    ]

    assert sorted(marks) == [-54.0, 0.0, 30.0, 625.0, 655.0, 709.0]
    assert stop[0].start_mm == -64.0
    assert stop[-1].end_mm == pytest.approx(719.0)


@pytest.mark.parametrize("paper", list(RailsPaper))
@pytest.mark.parametrize("chart", [8.0, 24.0, 30.0, 40.0, 44.0])
def test_the_halves_of_the_holder_put_its_markers_round_the_window(paper, chart):
    layout = laid(paper=paper, chart=chart)
    sheets = read_sheets(printed(layout))

    places = {}
    for piece in pieces_of(layout, "holder"):
        for number, (x, y) in found_markers(painted(sheets[piece.page - 1]), PX_PER_MM).items():
            places[number] = (x - piece.x0_mm, y - piece.y0_mm)

    across = 6 * chart + 4 + 2 * 10 + 40
    assert math.dist(places[240], places[241]) == pytest.approx(across, abs=0.15)
    assert math.dist(places[243], places[242]) == pytest.approx(across, abs=0.15)
    assert places[243][1] - places[240][1] == pytest.approx(max(4 * chart - 36, 60), abs=0.15)


def test_a_gap_without_room_for_a_leaf_is_refused():
    with pytest.raises(EntryFaulty, match="100 to 2000 mm"):
        laid(gap=90.0)


def test_the_same_rails_give_the_same_bytes():
    assert print_rails(laid(), on=ON) == print_rails(laid(), on=ON)


def rendered(pdf: bytes, folder, *, per_mm=PER_MM) -> list[np.ndarray]:
    """Return the pages as poppler draws them."""
    if shutil.which("pdftoppm") is None:
        if os.environ.get("CI"):
            pytest.fail("pdftoppm is missing; the server must have it.")
        pytest.skip("pdftoppm is missing.")
    (folder / "rails.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(25.4 * per_mm), "-png", folder / "rails.pdf", folder / "sheet"]
    subprocess.run(command, check=True)
    return [np.asarray(Image.open(file).convert("RGB")) for file in sorted(folder.glob("sheet*"))]


@pytest.mark.browser
@pytest.mark.parametrize(("paper", "chart"), [("a4", 40.0), ("letter", 44.0), ("letter", 12.0)])
def test_a_viewer_shows_markers_greys_and_whites_where_the_list_says(tmp_path, paper, chart):
    layout = laid(9, paper=RailsPaper(paper), chart=chart)

    sheets = rendered(printed(layout), tmp_path)

    found = [found_markers(cv2.cvtColor(sheet, cv2.COLOR_RGB2GRAY), PER_MM) for sheet in sheets]
    assert sum(map(len, found)) == 2 * 9 + 4
    for item in layout.items:
        x, y = item.page_x_mm, item.page_y_mm
        if item.marker_id is not None:
            assert found[item.page - 1][item.marker_id] == pytest.approx((x, y), abs=0.1)
        if item.kind in {"grey", "white"}:
            half_x, half_y = item.width_mm / 2 - 0.2, item.height_mm / 2 - 0.2
            rows = slice(round((y - half_y) * PER_MM), round((y + half_y) * PER_MM))
            columns = slice(round((x - half_x) * PER_MM), round((x + half_x) * PER_MM))
            shown = sheets[item.page - 1][rows, columns]
            wanted = 255 if item.grey_level is None else item.grey_level
            assert np.abs(shown.astype(int) - wanted).max() <= 1, item.name


@pytest.mark.browser
@pytest.mark.parametrize(("paper", "chart"), [("a4", 40.0), ("letter", 44.0), ("a4", 20.0)])
def test_a_viewer_shows_nothing_within_eight_millimetres_of_the_edge(tmp_path, paper, chart):
    layout = laid(6, paper=RailsPaper(paper), chart=chart, gap=1500.0)

    sheets = rendered(printed(layout), tmp_path, per_mm=4)

    for number, sheet in enumerate(sheets, start=1):
        rows, columns = np.nonzero(sheet.min(axis=2) < 240)
        high, wide = sheet.shape[:2]
        edges = (rows.min(), columns.min(), high - 1 - rows.max(), wide - 1 - columns.max())
        assert min(edges) >= 7.7 * 4, (number, edges)


@pytest.mark.browser
def test_a_viewer_shows_the_check_line_200_mm_long(tmp_path):
    layout = laid()
    sheets = rendered(printed(layout), tmp_path)

    for check in layout.check_lines:
        if check.length_mm != 200.0:
            continue
        dark = sheets[check.page - 1].min(axis=2) < 128
        turned = dark if check.upright else dark.T
        along, beside = (check.y_mm, check.x_mm) if check.upright else (check.x_mm, check.y_mm)
        column = round((beside - 2.5) * PER_MM)  # crosses none but the long end ticks
        inked = np.flatnonzero(turned[:, column])
        near = inked[(inked > (along - 1) * PER_MM) & (inked < (along + 201) * PER_MM)]
        assert (near.max() - near.min()) / PER_MM == pytest.approx(200.0, abs=0.1)

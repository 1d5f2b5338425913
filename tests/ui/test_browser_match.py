"""A real browser: leaves moved, swapped and begun another way; what is shown is what is written."""

import base64
import csv
import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from catalog.catalog import open_catalog
from catalog.match_preview import MatchPreview, preview_match
from tests.ui.served import screens_served
from tests.ui.test_browser import SETTLED, browser  # noqa: F401 - a fixture
from vision.match_layout import FaceWish, Match
from vision.shot import Laid, Lamp

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 1000}
LABELS = ("01", "02", "03", "04")


@pytest.fixture(scope="module")
def address(stock) -> Iterator[str]:
    with screens_served(stock) as served:
        yield served


@pytest.fixture
def page(browser, address, request):  # noqa: F811 - the fixture of that name
    size = getattr(request, "param", DESK)
    page = browser.new_page(viewport=size, has_touch=size is PHONE, accept_downloads=True)
    page.set_default_timeout(60_000)
    page.goto(f"{address}/match?bundle=1")
    page.locator(".piece").first.wait_for(state="attached")
    page.wait_for_selector(SETTLED)
    page.locator(".match-table .stage").evaluate("one => one.scrollIntoView({block: 'center'})")
    yield page
    page.close()


def source(page) -> str:
    return page.locator(".match-table img").get_attribute("src")


def laid_anew(page, act) -> None:
    """Do something and wait until the match is painted anew."""
    before = source(page)
    act()
    page.wait_for_function(
        """before => {
            const img = [...document.querySelectorAll('*')].map(node => node.shadowRoot ?? node)
                .map(node => node.querySelector?.('.match-table img')).find(Boolean);
            return img && img.getAttribute('src') !== before;
        }""",
        arg=before,
    )
    page.wait_for_selector(SETTLED)


def shown(page) -> np.ndarray:
    with Image.open(io.BytesIO(base64.b64decode(source(page).split(",")[1]))) as picture:
        return np.asarray(picture.convert("RGB")).astype(float)


def painted(stock, labels=LABELS, **asked) -> MatchPreview:
    with open_catalog(
        stock["FLITCHWRIGHT_CATALOG"], pictures=stock["FLITCHWRIGHT_PICTURES"]
    ) as catalog:
        wish = FaceWish(**asked)
        return preview_match(
            catalog, 1, labels, match=Match.BOOK, lamp=Lamp.A, long_px=1800, wish=wish
        )


def is_shown(page, preview: MatchPreview) -> bool:
    seen = shown(page)
    return seen.shape == preview.rgb.shape and np.abs(seen - preview.rgb).mean() < 2.0


def downloaded(page, name: str) -> bytes:
    with page.expect_download() as coming:
        page.get_by_role("button", name=name).click()
    return Path(coming.value.path()).read_bytes()


def middle_of(page, at: int) -> tuple[float, float]:
    box = page.locator(".piece").nth(at).bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_leaf_dragged_along_its_grain_is_so_in_picture_file_and_cut_list(page, stock):
    page.locator("[data-act=moves]").click()
    x, y = middle_of(page, 1)

    def drag():
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, y + 30, steps=5)
        page.mouse.up()

    laid_anew(page, drag)

    down = float(page.locator(".match-table input").input_value())
    assert 30 < down < 120
    expected = painted(stock, shifts_mm=(("02", down),))
    assert is_shown(page, expected)
    assert not is_shown(page, painted(stock))
    length = expected.layout.length_mm
    with Image.open(io.BytesIO(downloaded(page, "mm (PNG)"))) as png:
        assert png.height / png.info["dpi"][1] * 25.4 == pytest.approx(length, rel=0.002)
        small = np.asarray(
            png.convert("RGB").resize(expected.rgb.shape[1::-1], Image.Resampling.BOX)
        )
    assert np.abs(small.astype(float) - expected.rgb).mean() < 6.0
    cuts = csv.DictReader(io.StringIO(downloaded(page, "cut list").decode()))
    tops = {
        leaf: min(float(cut["from_y_mm"]) for cut in rows)
        for leaf, rows in by_leaf(list(cuts)).items()
    }
    finished = {
        place.leaf: min(y for _, y in place.on_leaf_mm) for place in expected.layout.placements
    }
    assert finished["01"] - finished["02"] == pytest.approx(down, abs=0.01)
    # rims stand out as far as wanted or as the leaf goes
    assert all(
        tops[leaf] == pytest.approx(max(0.0, finished[leaf] - 30.0), abs=0.1) for leaf in LABELS
    )


def by_leaf(cuts):
    return {leaf: [cut for cut in cuts if cut["leaf"] == leaf] for leaf in LABELS}


def test_leaves_are_swapped_and_the_run_begun_another_way(page, stock):
    page.mouse.click(*middle_of(page, 2))
    assert page.locator(".chosen-name").inner_text() == "Leaf 03"

    laid_anew(page, page.locator("[data-act=right]").click)
    assert is_shown(page, painted(stock, ("01", "02", "04", "03")))

    laid_anew(page, page.locator("[data-act=flip]").click)
    flipped = painted(stock, ("01", "02", "04", "03"), start=Laid.FACE_OVER)
    assert is_shown(page, flipped)
    page.get_by_text("Leaf 01 begins: turned over, right edge first, top end up.").wait_for()

    laid_anew(page, page.locator("[data-act=edge]").click)
    spun = painted(stock, ("01", "02", "04", "03"), start=Laid.END_OVER)
    assert is_shown(page, spun)

    laid_anew(page, page.locator("[data-act=again]").click)
    assert is_shown(page, painted(stock))

    page.mouse.click(*middle_of(page, 0))
    page.locator("[data-act=with]").click()
    laid_anew(page, lambda: page.mouse.click(*middle_of(page, 3)))
    assert is_shown(page, painted(stock, ("04", "02", "03", "01")))

    laid_anew(page, page.locator("[data-act=again]").click)
    assert is_shown(page, painted(stock))


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_by_keyboard_and_buttons_a_leaf_goes_no_further_than_it_may(page, stock):
    page.locator(".match-table .stage").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")

    def steps():
        page.keyboard.press("Shift+ArrowDown")
        page.keyboard.press("ArrowUp")
        page.locator("[data-act=down]").click()

    laid_anew(page, steps)

    assert is_shown(page, painted(stock, shifts_mm=(("02", 14.0),)))
    field = page.locator(".match-table input")

    def too_far():
        field.fill("5000")
        field.press("Enter")

    laid_anew(page, too_far)
    most = 0.25 * min(leaf.length_mm for leaf in painted(stock).leaves)
    assert float(field.input_value()) == pytest.approx(most, abs=0.1)
    assert "can be moved up by" in page.locator(".match-table .said").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_one_comes_nearer_and_sees_a_door_round_it_but_the_print_stays_bare(page, stock):
    scale = """img => new DOMMatrix(getComputedStyle(img).transform).a"""
    img = page.locator(".match-table img")
    whole = img.evaluate(scale)
    page.locator("[data-act=in]").click()
    assert img.evaluate(scale) == pytest.approx(1.5 * whole, rel=1e-6)
    before = img.bounding_box()
    x, y = middle_of(page, 1)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y + 25, steps=4)
    page.mouse.up()
    after = img.bounding_box()
    assert (after["x"] - before["x"], after["y"] - before["y"]) == pytest.approx((40, 25), abs=1)
    page.locator("[data-act=fit]").click()

    page.get_by_role("radio", name="Door").click()
    page.locator(".scene path").first.wait_for(state="attached")
    page.wait_for_selector(SETTLED)

    layout = painted(stock).layout
    face, piece = img.bounding_box(), page.locator(".piece").nth(0).bounding_box()
    first = layout.placements[0]
    assert piece["width"] / face["width"] == pytest.approx(
        first.width_mm / layout.width_mm, rel=0.01
    )
    high = "path => path.getBBox().height"
    assert page.locator(".scene path").nth(1).evaluate(high) == pytest.approx(2040, abs=0.1)
    assert page.locator(".piece").nth(0).evaluate(high) == pytest.approx(first.length_mm, abs=0.1)
    with Image.open(io.BytesIO(downloaded(page, "mm (PNG)"))) as png:
        assert png.width / png.info["dpi"][0] * 25.4 == pytest.approx(layout.width_mm, rel=0.002)
    with Image.open(io.BytesIO(downloaded(page, "with what is drawn round it"))) as png:
        assert png.height / png.info["dpi"][1] * 25.4 > 2040

"""A real browser: a photograph's quality sheet opened, its outline dragged, saved and undone."""

import re
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from catalog.catalog import open_catalog
from tests.ui.served import screens_served
from tests.ui.test_browser import SETTLED, browser  # noqa: F401 - a fixture

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


@pytest.fixture(scope="module")
def own_stock(stock, tmp_path_factory) -> dict[str, str]:
    """Return the environment of a copy of the stock, to be changed."""
    place = tmp_path_factory.mktemp("outlines") / "stock"
    shutil.copytree(Path(stock["FLITCHWRIGHT_CATALOG"]).parent, place)
    return {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
    }


@pytest.fixture(scope="module")
def address(own_stock) -> Iterator[str]:
    """Serve the screens on that stock and return their address."""
    with screens_served(own_stock) as served:
        yield served


@pytest.fixture
def page(browser, address, request):  # noqa: F811 - the fixture of that name
    """Return the bundle with the first photograph of leaf 02 chosen, on a desk or a telephone."""
    size = getattr(request, "param", DESK)
    page = browser.new_page(viewport=size, has_touch=size is PHONE)
    page.set_default_timeout(60_000)
    page.goto(f"{address}/bundle?bundle=1")
    page.wait_for_selector(SETTLED)
    for picture in page.locator(".fw-leaf img").all():
        picture.evaluate("image => image.decode()")  # until then the page may still move
    choose_photograph(page, "(02, as it lies, lamp A)")
    page.get_by_role("img", name="Quality sheet of").wait_for()
    yield page
    page.close()


def choose_photograph(page, name: str) -> None:
    """Choose from the list, which closes when the page moves under it: then open it again."""
    from playwright.sync_api import TimeoutError as TooLate

    choice = page.get_by_role("combobox", name="Photograph")
    option = page.locator("[role=option]", has_text=name)
    for _ in range(4):
        choice.evaluate("box => box.scrollIntoView({block: 'center'})")
        choice.press("ArrowDown")  # a click would scroll
        with suppress(TooLate):
            option.click(timeout=8_000)
            return
    pytest.fail(f"The list of photographs did not stay open long enough to choose {name}.")


def open_editor(page) -> None:
    """Show the outline instead of the sheet, the whole picture in view."""
    page.get_by_role("radio", name="Outline").click()
    page.locator(".editor .corner").first.wait_for()
    page.wait_for_selector(SETTLED)
    page.locator(".editor img").evaluate("image => image.decode()")
    page.locator(".editor .stage").evaluate("stage => stage.scrollIntoView({block: 'center'})")


def corners(page) -> list[tuple[float, float]]:
    """Return where the corners stand on the screen."""
    boxes = [dot.bounding_box() for dot in page.locator(".editor .corner .dot").all()]
    return [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in boxes]


def drag(page, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    page.mouse.move(*end)
    page.mouse.up()


def shorten(page) -> None:
    """Drag both lower corners up by a fifth of the leaf's length."""
    found = corners(page)
    top, bottom = min(y for _, y in found), max(y for _, y in found)
    for x, y in sorted(found, key=lambda place: -place[1])[:2]:
        drag(page, (x, y), (x, y - (bottom - top) / 5))


def size_told(page) -> tuple[int, int]:
    """Return length and width, mm, as the section says them."""
    words = page.get_by_text("Outline of leaf 02").inner_text()
    length, width = re.search(r"(\d+) × (\d+) mm", words).groups()
    return int(length), int(width)


def stored_size(own_stock) -> tuple[float, float]:
    with open_catalog(
        own_stock["FLITCHWRIGHT_CATALOG"], pictures=own_stock["FLITCHWRIGHT_PICTURES"]
    ) as catalog:
        leaf = next(leaf for leaf in catalog.leaves(1) if leaf.label == "02")
    return leaf.size.length_px, leaf.size.width_px


def test_a_dragged_outline_is_measured_and_undo_brings_the_figures_back(page, own_stock):
    open_editor(page)
    before = stored_size(own_stock)
    page.get_by_label("Your name, for the record").fill("Ines")
    page.get_by_label("Your name, for the record").press("Enter")
    page.wait_for_selector(SETTLED)
    shorten(page)

    page.get_by_role("button", name="Save outline").click()
    page.get_by_text("Measured again: leaf 02").wait_for()

    after = stored_size(own_stock)
    assert after[0] == pytest.approx(0.8 * before[0], rel=0.02)
    assert after[1] == pytest.approx(before[1], rel=0.02)
    page.get_by_text("Ines: outline drawn by hand").wait_for()
    page.get_by_role("button", name="Undo the last change").click()
    page.get_by_text("last change undone").wait_for()
    assert stored_size(own_stock) == before


def test_a_corner_is_added_by_a_click_on_the_edge_and_taken_away_again(page):
    open_editor(page)
    found = sorted(corners(page), key=lambda place: place[1])
    (left, top), (right, also_top) = sorted(found[:2])

    page.mouse.click((left + right) / 2, (top + also_top) / 2)

    assert len(corners(page)) == len(found) + 1
    page.get_by_role("button", name="Remove point").click()
    assert len(corners(page)) == len(found)


def test_an_outline_that_crosses_itself_is_refused_and_stays_on_screen(page, own_stock):
    open_editor(page)
    before = stored_size(own_stock)
    found = corners(page)
    lower = sorted(found, key=lambda place: -place[1])[:2]
    (left, y), (right, also_y) = sorted(lower)
    drag(page, (left, y), (right + 60, also_y))

    page.get_by_role("button", name="Save outline").click()
    page.get_by_text("crosses itself").wait_for()

    assert stored_size(own_stock) == before
    assert corners(page) != found


@pytest.mark.parametrize("page", [PHONE], indirect=True, ids=["390 px"])
def test_sheet_and_outline_fit_a_telephone_and_a_finger_moves_a_corner(page):
    wide = "document.querySelector('[data-testid=stMain]').scrollWidth"
    assert page.evaluate(wide) <= 390
    open_editor(page)
    assert page.evaluate(wide) <= 390
    found = corners(page)
    x, y = min(found, key=lambda place: place[0] + place[1])
    touch = page.context.new_cdp_session(page)
    path = [(x, y), (x - 8, y - 10), (x - 20, y - 30)]
    for kind, places in zip(
        ("touchStart", "touchMove", "touchMove", "touchEnd"), [*path, None], strict=True
    ):
        points = [] if places is None else [{"x": places[0], "y": places[1]}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    moved = min(corners(page), key=lambda place: place[0] + place[1])

    assert moved == pytest.approx((x - 20, y - 30), abs=1.5)
    assert page.get_by_role("button", name="Save outline").is_enabled()

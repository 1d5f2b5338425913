"""A real browser: the lamp over a match dragged, by mouse, finger and keys; what the eye then sees.

The picture on the page is held against the reference relighter's, for both ways of drawing it.
"""

import base64
import io
from collections.abc import Iterator
from urllib.parse import urlsplit

import numpy as np
import pytest
from PIL import Image

from catalog.catalog import open_catalog
from catalog.match_preview import preview_match
from catalog.relit_match import RelitMatch, relit_match
from tests.ui.served import screens_served
from tests.ui.test_browser import (
    LOCAL_HOSTS,
    LOCAL_SCHEMES,
    SETTLED,
    browser,  # noqa: F401 - a fixture
)
from vision.match_layout import Match
from vision.shot import Lamp

pytestmark = pytest.mark.browser

LABELS = ("01", "02", "03", "04")
DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
READY = ".relit[data-ready=yes]"


@pytest.fixture(scope="module")
def address(stock) -> Iterator[str]:
    """Serve the screens on the stock and return their address."""
    with screens_served(stock) as served:
        yield served


@pytest.fixture(scope="module")
def reference(stock) -> RelitMatch:
    """Return what the reference relighter makes of the match on the page."""
    with open_catalog(
        stock["FLITCHWRIGHT_CATALOG"], pictures=stock["FLITCHWRIGHT_PICTURES"]
    ) as catalog:
        preview = preview_match(catalog, 1, LABELS, match=Match.BOOK, lamp=Lamp.A)
        return relit_match(catalog, 1, preview.layout)


@pytest.fixture(scope="module")
def asked() -> list[str]:
    """Every address the pages asked for."""
    return []


@pytest.fixture(scope="module")
def page(browser, address, asked):  # noqa: F811 - the fixture of that name
    """Return the match of all four leaves with the lamp let go, on a desk."""
    yield from opened(browser, address, asked, DESK)


@pytest.fixture
def phone(browser, address, asked):  # noqa: F811
    """Return the same on a telephone."""
    yield from opened(browser, address, asked, PHONE)


def opened(browser, address, asked, size):  # noqa: F811
    page = browser.new_page(viewport=size, has_touch=size is PHONE)
    page.set_default_timeout(90_000)
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    page.goto(f"{address}/match?bundle=1&move-lamp=true")
    page.wait_for_selector(SETTLED)
    page.locator(READY).wait_for()
    page.locator(".relit").evaluate("view => view.scrollIntoView({block: 'center'})")
    yield page
    page.close()


def picture(page) -> np.ndarray:
    """Return the pixels of the match on the page, once it stands still."""
    page.locator(READY).wait_for()
    url = page.locator(".relit canvas").evaluate("canvas => canvas.toDataURL('image/png')")
    file = base64.b64decode(url.partition("base64,")[2])
    return np.asarray(Image.open(io.BytesIO(file)).convert("RGB"))


def lamp_place(page) -> tuple[float, float]:
    view = page.locator(".relit")
    return float(view.get_attribute("data-along")), float(view.get_attribute("data-height"))


def settle(page, act) -> None:
    """Do something to the lamp and wait until the match has been lit anew, whole."""
    page.locator(".relit").evaluate("view => { view.dataset.ready = ''; }")
    act()
    page.locator(READY).wait_for()


def drag_to(page, along: float, height: float) -> None:
    """Drag the lamp to a place with the mouse."""
    x, y = page.locator(".relit").evaluate(
        "(view, place) => view.relit.toSide(...place)", [along, height]
    )
    box = page.locator(".relit .side").bounding_box()
    lamp = page.locator(".relit .lamp .bulb").bounding_box()

    def act() -> None:
        page.mouse.move(lamp["x"] + lamp["width"] / 2, lamp["y"] + lamp["height"] / 2)
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.move(box["x"] + x / 400 * box["width"], box["y"] + y / 248 * box["height"])
        page.mouse.up()

    settle(page, act)


def leaf_levels(page, reference) -> np.ndarray:
    """Return the mean grey level of the middle of each leaf, left to right."""
    shown = picture(page).mean(axis=2)
    levels = []
    for place in reference.places:
        rows, columns = place.leaf.figure.shape[:2]
        part = shown[rows // 4 : 3 * rows // 4, place.left_px + 8 : place.left_px + columns - 8]
        levels.append(part.mean())
    return np.array(levels)


def test_dragging_the_lamp_from_end_to_end_swaps_light_and_dark(page, reference):
    lamp_a, lamp_b = reference.marks
    drag_to(page, lamp_a.along, lamp_a.height)
    at_a = np.diff(leaf_levels(page, reference))
    drag_to(page, lamp_b.along, lamp_b.height)
    at_b = np.diff(leaf_levels(page, reference))

    assert (at_a * at_b < 0).all(), (at_a, at_b)
    assert min(np.abs(at_a).min(), np.abs(at_b).min()) > 1.0, (at_a, at_b)


def test_the_photographed_light_is_marked_and_named(page, reference):
    lamp_a, _ = reference.marks
    settle(page, lambda: page.locator(".relit").get_by_role("button", name="Lamp A").click())

    assert page.locator(".relit .side .name").all_text_contents() == [
        "A photographed",
        "B photographed",
    ]
    assert page.locator(".relit .state").inner_text() == "As photographed: lamp A"
    assert lamp_place(page) == pytest.approx((lamp_a.along, lamp_a.height))


def test_beyond_the_photographs_the_match_is_grey_hatched_and_named(page, reference):
    lamp_a, _ = reference.marks
    drag_to(page, reference.eye_along, lamp_a.height)
    told, colour = page.locator(".relit .state").inner_text(), picture(page).astype(int)
    drag_to(page, float(reference.grid.along[0]), float(reference.grid.height[0]))
    grey = picture(page).astype(int)

    assert told == "Between the photographs"
    assert np.ptp(colour, axis=2).mean() > 15
    assert np.ptp(grey, axis=2).mean() < 3
    across = np.abs(np.diff(grey.mean(axis=2), axis=0)).mean()
    assert across > 2 * np.abs(np.diff(colour.mean(axis=2), axis=0)).mean()
    assert page.locator(".relit .beyond").is_visible()
    assert page.locator(".relit .state").inner_text() == "Beyond the photographs"
    assert "guess" in page.locator(".relit .why").inner_text()


def test_arrow_keys_move_the_lamp_along_and_up(page, reference):
    settle(page, lambda: page.locator(".relit").get_by_role("button", name="Lamp A").click())
    before = lamp_place(page)
    page.locator(".relit .lamp").focus()

    settle(page, lambda: page.keyboard.press("Shift+ArrowRight"))
    settle(page, lambda: page.keyboard.press("ArrowUp"))

    along, height = lamp_place(page)
    assert along - before[0] == pytest.approx(0.1 * reference.layout.length_mm)
    assert height - before[1] == pytest.approx(0.02 * reference.layout.length_mm)


@pytest.mark.parametrize("painter", ["WebGL", "canvas"])
def test_the_page_shows_what_the_reference_relighter_shows(page, reference, painter):
    lamp_a, lamp_b = reference.marks
    way = "view.relit.freshCanvas(true)" if painter == "WebGL" else "view.relit.useCanvas()"
    settle(page, lambda: page.locator(".relit").evaluate(f"view => {{ {way}; }}"))
    for share in (0.0, 0.35, 0.8):
        place = (
            (1 - share) * lamp_a.along + share * lamp_b.along,
            (1 - share) * lamp_a.height + share * lamp_b.height,
        )
        settle(
            page,
            lambda at=place: page.locator(".relit").evaluate(
                "(view, at) => view.relit.move(...at)", list(at)
            ),
        )
        off = np.abs(picture(page).astype(int) - reference.lit(*place))

        assert page.locator(".relit").get_attribute("data-painter") == painter
        assert off.mean() < 1.0, share  # the page's pictures are JPEG, the reference's are not
        assert np.quantile(off, 0.999) <= 10, share


def test_a_finger_moves_the_lamp_and_the_page_fits_a_telephone(phone, reference):
    assert phone.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390
    phone.locator(".relit .side").evaluate("side => side.scrollIntoView({block: 'center'})")
    lamp = phone.locator(".relit .lamp .bulb").bounding_box()
    x, y = lamp["x"] + lamp["width"] / 2, lamp["y"] + lamp["height"] / 2
    before = lamp_place(phone)
    touch = phone.context.new_cdp_session(phone)

    def act() -> None:
        for kind, points in (
            ("touchStart", [{"x": x, "y": y}]),
            ("touchMove", [{"x": x + 20, "y": y - 10}]),
            ("touchMove", [{"x": x + 60, "y": y - 30}]),
            ("touchEnd", []),
        ):
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    settle(phone, act)

    along, height = lamp_place(phone)
    assert along > before[0] + 0.2 * reference.layout.length_mm
    assert height > before[1]


def test_nothing_leaves_the_machine(page, asked):
    strangers = {
        url
        for url in asked
        if urlsplit(url).scheme not in LOCAL_SCHEMES and urlsplit(url).hostname not in LOCAL_HOSTS
    }

    assert asked
    assert strangers == set()

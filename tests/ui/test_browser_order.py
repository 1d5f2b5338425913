"""A real browser: a leaf of the stack dragged, the order kept, and taken back."""

from collections.abc import Iterator

import pytest

from catalog.catalog import open_catalog
from sample_images import FlitchPlan, draw_stack, shuffle_stack
from tests.ui.running import run_ui
from tests.ui.served import screens_served
from tests.ui.test_browser import SETTLED, browser  # noqa: F401 - a fixture

pytestmark = pytest.mark.browser

PLAN = FlitchPlan(
    seed=77, species="walnut", leaves=7, length_mm=1200, width_mm=200, photo_px=(600, 900)
)
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


@pytest.fixture(scope="module")
def shuffled(tmp_path_factory) -> dict[str, str]:
    """Return the environment that names a catalogue with a shuffled stack of six leaves."""
    place = tmp_path_factory.mktemp("shuffled")
    for _ in draw_stack(PLAN, shuffle_stack(PLAN, missing=1), place / "photos"):
        pass
    environment = {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
    }
    taken = run_ui("take-in", place / "photos", "--flitch", "Walnut 77", environment=environment)
    assert taken.code == 0, taken.stderr
    return environment


@pytest.fixture(scope="module")
def address(shuffled) -> Iterator[str]:
    with screens_served(shuffled) as served:
        yield served


@pytest.fixture
def page(browser, address, request):  # noqa: F811 - the fixture of that name
    size = getattr(request, "param", DESK)
    page = browser.new_page(viewport=size, has_touch=size is PHONE)
    page.set_default_timeout(60_000)
    page.goto(f"{address}/order?bundle=1")
    page.locator(".strip .leaf").first.wait_for()
    page.wait_for_selector(SETTLED)
    page.locator(".strip").evaluate("strip => strip.scrollIntoView({block: 'center'})")
    yield page
    page.close()


def shown(page) -> list[str]:
    return page.locator(".strip .leaf").evaluate_all("all => all.map(one => one.dataset.leaf)")


def lying(shuffled) -> list[str]:
    with open_catalog(
        shuffled["FLITCHWRIGHT_CATALOG"], pictures=shuffled["FLITCHWRIGHT_PICTURES"]
    ) as catalog:
        return [leaf.label for leaf in catalog.leaves(1)]


def test_a_dragged_leaf_is_kept_in_its_place_and_put_back_by_undo(page, shuffled):
    came = lying(shuffled)
    before = shown(page)
    leaf = page.locator(".strip .leaf")
    first, third = leaf.nth(0).bounding_box(), leaf.nth(2).bounding_box()
    y = first["y"] + 100

    page.mouse.move(first["x"] + 40, y)
    page.mouse.down()
    page.mouse.move(third["x"] + 80, y, steps=8)
    page.mouse.up()

    wanted = [before[1], before[2], before[0], *before[3:]]
    assert shown(page) == wanted
    page.locator("[data-act=save]").click()
    page.get_by_text("The leaves lie in this order now").wait_for()
    assert lying(shuffled) == wanted

    page.get_by_role("button", name="Undo the last order kept").click()
    page.get_by_text("last order taken back").wait_for()
    assert lying(shuffled) == came


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_arrows_move_a_leaf_and_one_leaf_alone_is_put_where_proposed(page):
    proposed = shown(page)
    page.locator(".strip .leaf").nth(0).focus()

    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")

    assert shown(page) == [proposed[1], proposed[2], proposed[0], *proposed[3:]]
    assert page.locator(".mark.unknown").count() > 1
    page.locator("[data-act=put]").click()
    assert shown(page) == proposed
    page.locator("[data-act=back]").click()
    assert shown(page)[2] == proposed[0]
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]

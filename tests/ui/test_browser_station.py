"""A real browser: a station is set up by upload and fits a desk and a telephone."""

from collections.abc import Iterator

import pytest

from tests.ui.at_station import OAK, SET_UP, TAPE, keep_bench
from tests.ui.served import screens_served
from tests.ui.test_browser import SETTLED, browser  # noqa: F401 - a fixture

pytestmark = pytest.mark.browser

SIZES = [{"width": 1280, "height": 900}, {"width": 390, "height": 844}]


QUIET = """() => {
    const state = document.querySelector('[data-testid=stApp]').dataset.testScriptState;
    if (state !== 'notRunning') window.lastBusy = performance.now();
    return performance.now() - window.lastBusy > 1500;
}"""
"""True once nothing has run for a while: a photograph chosen just before the screen is drawn anew,
as a machine does it and no hand, is lost with the field it was chosen in."""


@pytest.fixture(scope="module")
def address(tmp_path_factory) -> Iterator[str]:
    """Serve the screens on a catalogue with one station and return their address."""
    place = tmp_path_factory.mktemp("served")
    keep_bench(str(place / "catalog.db"), days=1)
    environment = {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
    }
    with screens_served(environment) as served:
        yield served


@pytest.mark.parametrize("size", SIZES, ids=["desk", "telephone"])
def test_a_station_is_set_up_and_nothing_is_wider_than_the_screen(
    browser,  # noqa: F811 - the fixture of that name
    address,
    size,
):
    page = browser.new_page(viewport=size)
    page.set_default_timeout(60_000)
    page.goto(f"{address}/station")
    page.wait_for_selector(SETTLED)
    for label, typed in (
        ("Left rail", TAPE["left_mm"]),
        ("Right rail", TAPE["right_mm"]),
        ("Name of the station", f"table {size['width']}"),
    ):
        field = page.get_by_label(label).first
        field.fill(str(typed))
        field.press("Enter")
        page.wait_for_selector(SETTLED)
    wait_until_quiet(page)
    page.locator("input[type=file]").first.set_input_files(OAK)
    page.locator(".fw-verdict").first.wait_for()
    wait_until_quiet(page)
    page.locator("input[type=file]").last.set_input_files(SET_UP)
    page.locator(".fw-verdict").nth(1).wait_for()
    for sheet in page.get_by_text("Quality sheet", exact=True).all():
        sheet.click()
    page.locator("[data-testid=stExpander] img").nth(1).wait_for()

    wide = page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    drawing = page.locator("[data-testid=stImage] img").all()[0].bounding_box()
    page.get_by_role("button", name="Keep this station").click()
    page.get_by_text("is kept;").wait_for()

    assert wide <= size["width"]
    assert drawing["width"] <= size["width"]
    assert page.locator(".fw-station", has_text=f"table {size['width']}").count() == 1
    assert page.locator(".fw-station", has_text="Expired").count() >= 1
    page.close()


def wait_until_quiet(page):
    page.evaluate("window.lastBusy = performance.now()")
    page.wait_for_function(QUIET)

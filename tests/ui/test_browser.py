"""A real browser: take a bundle in by upload, see light and dark, swing the lamp, get the PDF.

Nothing on the way may ask another machine for anything.
"""

import base64
import io
import itertools
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest
from PIL import Image

from tests.ui.served import screens_served

pytestmark = pytest.mark.browser

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SETTLED = "[data-testid=stApp][data-test-script-state=notRunning]"
LOCAL_HOSTS = {"127.0.0.1", "localhost"}
LOCAL_SCHEMES = {"blob", "data"}


def missing(what: str) -> None:
    """Skip at home, fail on the server: there the browser has to be there."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing; the server must have it.")
    pytest.skip(f"{what} is missing.")


@pytest.fixture(scope="module")
def address(tmp_path_factory) -> Iterator[str]:
    """Serve the screens on a fresh catalogue and return their address."""
    place = tmp_path_factory.mktemp("served")
    environment = {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
    }
    with screens_served(environment) as served:
        yield served


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    """Return a headless Chromium."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright")
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    if not Path(program).exists():
        missing("chromium")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def asked() -> list[str]:
    """Every address the pages asked for."""
    return []


@pytest.fixture(scope="module")
def page(browser, address, asked, drawn):
    """Return a page in which the bundle has been taken in by upload."""
    page = browser.new_page(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    page.set_default_timeout(60_000)
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    page.goto(f"{address}/take-in")
    page.wait_for_selector(SETTLED)
    page.get_by_label("Name or number of the flitch").fill("Walnut by upload")
    page.get_by_label("Name or number of the flitch").press("Enter")
    page.wait_for_selector(SETTLED)
    uploads = [*sorted(drawn.glob("*.jpg")), drawn / "shots.csv"]
    page.locator("input[type=file]").set_input_files(uploads)
    button = page.get_by_test_id("stMain").get_by_role("button", name="Take in", exact=True)
    button.click()
    page.get_by_role("link", name="Look at the bundle").wait_for(timeout=180_000)
    return page


def test_an_uploaded_bundle_shows_its_leaves_and_a_flag_at_every_joint(page):
    page.get_by_role("link", name="Look at the bundle").click()
    page.locator(".fw-film").wait_for()

    words = page.locator(".fw-joint .fw-word").all_inner_texts()

    assert page.locator(".fw-leaf img").count() == 4
    assert len(words) == 3
    assert set(words) != {"not measured"}
    assert all(width > 0 for width in natural_widths(page, ".fw-leaf img"))


def test_swinging_the_lamp_swaps_light_and_dark_in_the_preview(page, address):
    page.goto(f"{address}/match?bundle=1")
    page.wait_for_selector(SETTLED)
    at_a = leaf_lightness(preview_picture(page), leaves=4)
    before = preview_source(page)
    page.get_by_role("radio", name="Lamp B, bottom end").click()
    expect_changed(page, before)
    page.wait_for_selector(SETTLED)

    at_b = leaf_lightness(preview_picture(page), leaves=4)

    for left in range(3):
        step_a, step_b = at_a[left + 1] - at_a[left], at_b[left + 1] - at_b[left]
        assert step_a * step_b < 0, (at_a, at_b)
        assert abs(step_a) > 1.0, at_a
        assert abs(step_b) > 1.0, at_b


def test_the_pdf_of_a_picture_set_opens_and_holds_the_pictures(page, address, tmp_path):
    for program in ("pdftoppm", "pdfimages"):
        if shutil.which(program) is None:
            missing(program)
    page.goto(f"{address}/picture-set?bundle=1")
    page.wait_for_selector(SETTLED)
    page.get_by_role("button", name="Make the picture set").click()
    button = page.get_by_role("button", name=".pdf")
    button.wait_for(timeout=120_000)
    with page.expect_download() as coming:
        button.click()
    pdf = tmp_path / "set.pdf"
    coming.value.save_as(pdf)

    subprocess.run(["pdftoppm", "-r", "50", "-png", pdf, tmp_path / "sheet"], check=True)
    subprocess.run(["pdfimages", "-png", pdf, tmp_path / "inside"], check=True)

    sheets = sorted(tmp_path.glob("sheet*.png"))
    inside = [np.asarray(Image.open(file).convert("RGB")) for file in tmp_path.glob("inside*.png")]
    large = [picture for picture in inside if max(picture.shape[:2]) > 400]
    assert sheets
    assert all(np.asarray(Image.open(sheet)).std() > 2 for sheet in sheets)
    assert len(large) >= 4
    assert all(is_brown(picture) for picture in large)


def test_every_screen_fits_a_telephone(browser, page, address, asked):
    phone = browser.new_page(viewport={"width": 390, "height": 844})
    phone.on("request", lambda request: asked.append(request.url))
    for screen in ("", "bundle?bundle=1", "take-in", "match?bundle=1", "picture-set?bundle=1"):
        phone.goto(f"{address}/{screen}")
        phone.wait_for_selector(SETTLED)

        wide = phone.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")

        assert wide <= 390, screen
    phone.close()


def test_nothing_leaves_the_machine(page, asked):
    strangers = {
        url
        for url in asked
        if urlsplit(url).scheme not in LOCAL_SCHEMES and urlsplit(url).hostname not in LOCAL_HOSTS
    }

    assert asked
    assert strangers == set()


def preview_source(page) -> str:
    """Return the address of the preview picture (a data: address that holds it)."""
    image = page.locator(".stage img")
    image.wait_for()
    return str(image.get_attribute("src"))


def expect_changed(page, before: str) -> None:
    """Wait until the preview shows another picture than ``before``."""
    from playwright.sync_api import expect

    expect(page.locator(".stage img")).not_to_have_attribute("src", before, timeout=60_000)


def preview_picture(page) -> np.ndarray:
    """Return the pixels of the preview that the page shows."""
    _kind, _, encoded = preview_source(page).partition("base64,")
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(encoded))).convert("RGB"))


def leaf_lightness(picture: np.ndarray, *, leaves: int) -> list[float]:
    """Return the mean grey value of each leaf of a captioned match, left to right.

    The leaves are the columns that are darker than paper half way up the picture.
    """
    middle = picture[int(picture.shape[0] * 0.2) : int(picture.shape[0] * 0.6)].mean(axis=2)
    wood = np.flatnonzero(middle.mean(axis=0) < 225)
    edges = np.linspace(wood[0], wood[-1] + 1, leaves + 1)
    spans = itertools.pairwise(edges)
    return [
        float(middle[:, int(a + 0.2 * (b - a)) : int(b - 0.2 * (b - a))].mean()) for a, b in spans
    ]


def natural_widths(page, selector: str) -> list[int]:
    """Return the widths of pictures once the browser has loaded them."""
    for image in page.locator(selector).all():
        image.evaluate("image => image.decode()")
    return [int(image.evaluate("i => i.naturalWidth")) for image in page.locator(selector).all()]


def is_brown(picture: np.ndarray) -> bool:
    """Tell whether a picture shows walnut: more red than blue, neither white nor black."""
    red, _green, blue = picture.reshape(-1, 3).mean(axis=0)
    return bool(red > blue + 3 and 30 < red < 250)

"""A real browser: two leaves in turn, paused, stepped, slowed, never too fast, and laid right."""

from collections.abc import Iterator
from dataclasses import replace
from urllib.parse import urlsplit

import numpy as np
import pytest

from sample_images import Delivered, draw_stack
from tests.ui.running import run_ui
from tests.ui.served import screens_served
from tests.ui.test_browser import LOCAL_HOSTS, LOCAL_SCHEMES, SETTLED, browser  # noqa: F401
from tests.ui.test_browser_order import DESK, PHONE, PLAN, shuffled  # noqa: F401

pytestmark = pytest.mark.browser

READY = ".blink[data-ready]"
WATCH = """async (root, ms) => {
  const found = [];
  const watch = new MutationObserver(() => found.push([performance.now(), root.dataset.showing]));
  watch.observe(root, { attributes: true, attributeFilter: ["data-showing"] });
  await new Promise((done) => setTimeout(done, ms));
  watch.disconnect();
  return found;
}"""
PRESS_FAST = """(root) => {
  const press = () => root.querySelector("[data-act=step]").click();
  const clock = setInterval(press, 20);
  setTimeout(() => clearInterval(clock), 3000);
}"""
SET_RANGE = """(input, value) => {
  input.value = value;
  input.dispatchEvent(new Event("input", { bubbles: true }));
}"""
PIXELS = """(canvas) => {
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  return [canvas.width, canvas.height, Array.from(data.filter((_, at) => at % 4 === 1))];
}"""


@pytest.fixture(scope="module")
def address(shuffled) -> Iterator[str]:  # noqa: F811 - the fixture of that name
    with screens_served(shuffled) as served:
        yield served


@pytest.fixture
def page(browser, address, request):  # noqa: F811 - the fixture of that name
    size, motion = getattr(request, "param", (DESK, "no-preference"))
    page = browser.new_page(viewport=size, has_touch=size is PHONE, reduced_motion=motion)
    page.asked = []
    page.on("request", lambda asked: page.asked.append(asked.url))
    page.on("websocket", lambda socket: page.asked.append(socket.url))
    page.set_default_timeout(60_000)
    page.goto(f"{address}/order?bundle=1")
    page.locator(".strip .leaf").first.wait_for()
    page.wait_for_selector(SETTLED)
    look(page, 1)
    yield page
    page.close()


def look(page, joint: int) -> tuple[str, str]:
    """Choose a joint of the strip, wait for its leaves, and return their labels."""
    leaves = page.locator(".strip .leaf").evaluate_all("all => all.map(one => one.dataset.leaf)")
    name = f"Leaves {leaves[joint]} and {leaves[joint + 1]} in turn"
    button = page.locator(".joint .look").nth(joint)
    button.tap() if page.viewport_size == PHONE else button.click()
    page.get_by_role("heading", name=name).wait_for()
    page.locator(READY).wait_for()
    page.wait_for_selector(SETTLED)
    page.wait_for_function(
        "root => root.dataset.showing", arg=page.locator(".blink").element_handle()
    )
    return leaves[joint], leaves[joint + 1]


def showing(page) -> str:
    return str(page.locator(".blink").get_attribute("data-showing"))


def is_playing(page) -> bool:
    return page.locator(".blink").get_attribute("data-playing") == "true"


def word(page) -> str:
    return page.locator(".blink .now").inner_text()


def pixels(page) -> np.ndarray:
    """The green of what the frame shows."""
    columns, rows, green = page.locator(".blink canvas").evaluate(PIXELS)
    return np.array(green, float).reshape(rows, columns)


def changes(page, seconds: float) -> list[tuple[float, str]]:
    return [
        (at / 1000, label) for at, label in page.locator(".blink").evaluate(WATCH, 1000 * seconds)
    ]


def pause(page) -> None:
    if is_playing(page):
        page.locator("[data-act=play]").click()
    assert not is_playing(page)


def test_leaves_blink_from_the_start_and_the_word_changes_with_them(page):
    pair = {showing(page), *(label for _, label in changes(page, 2.5))}

    assert is_playing(page)
    assert len(pair) == 2
    pause(page)
    assert word(page).startswith(f"Leaf {showing(page)}, ")
    before = word(page)
    page.wait_for_timeout(400)
    page.locator("[data-act=step]").click()
    assert word(page) != before
    assert word(page).startswith(f"Leaf {showing(page)}, ")


def test_paused_nothing_changes_and_keys_step_and_play(page):
    pause(page)
    assert changes(page, 1.5) == []
    first = showing(page)
    one = pixels(page)

    page.locator(".blink .stage").focus()
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")

    assert showing(page) != first
    other = pixels(page)
    assert one.shape == other.shape
    assert np.abs(one - other).mean() > 0.5
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")
    assert showing(page) == first
    assert np.abs(pixels(page) - one).max() == 0
    page.keyboard.press("Space")
    assert is_playing(page)
    page.keyboard.press("Space")
    assert not is_playing(page)


def test_never_more_than_three_changes_in_any_second(page):
    for _ in range(6):
        if page.locator("[data-act=faster]").is_enabled():
            page.locator("[data-act=faster]").click()
    at_fastest = [at for at, _ in changes(page, 4)]

    assert len(at_fastest) >= 8
    assert all(
        later - first > 1.0 for first, later in zip(at_fastest, at_fastest[3:], strict=False)
    )
    pause(page)
    page.locator(".blink .stage").focus()
    page.locator(".blink").evaluate(PRESS_FAST)
    by_hand = [at for at, _ in changes(page, 2.8)]
    assert len(by_hand) >= 4
    assert all(later - first > 1.0 for first, later in zip(by_hand, by_hand[3:], strict=False))


def test_slower_is_slower(page):
    quick = len(changes(page, 4))
    page.locator("[data-act=slower]").click()
    page.locator("[data-act=slower]").click()

    assert page.locator("[data-act=slower]").is_disabled()
    assert page.locator(".blink .pace").inner_text() == "2.0 s"
    assert len(changes(page, 4)) <= 2 < quick


@pytest.mark.parametrize("page", [(DESK, "reduce")], indirect=True)
def test_who_asks_for_little_motion_gets_none_until_play(page):
    assert not is_playing(page)
    assert "little motion" in page.locator(".blink .said").inner_text()
    assert changes(page, 2) == []

    page.locator("[data-act=play]").click()

    assert is_playing(page)
    assert changes(page, 2)


def test_a_line_and_stripes_show_both_leaves_at_once_and_stand_still(page):
    pause(page)
    first = pixels(page)
    page.wait_for_timeout(400)
    page.locator("[data-act=step]").click()
    second = pixels(page)
    page.locator("[data-mode=slide]").click()
    line = page.locator("[data-range=line]")

    half = pixels(page)
    columns = half.shape[1]

    left, right = np.s_[:, : columns // 2 - 4], np.s_[:, columns // 2 + 4 :]
    assert np.abs(half[left] - second[left]).max() == 0
    assert np.abs(half[right] - first[right]).max() == 0
    assert "Left of the line" in word(page)
    line.evaluate(SET_RANGE, 1000)
    assert np.abs(pixels(page)[:, :-4] - second[:, :-4]).max() == 0
    page.locator("[data-mode=stripes]").click()
    stripes = pixels(page)
    ours = [np.abs(stripes - one)[:, 4 : columns // 12 - 4].max() for one in (second, first)]
    theirs = [
        np.abs(stripes - one)[:, columns // 12 + 4 : columns // 6 - 4].max()
        for one in (second, first)
    ]
    assert ours[0] == 0 < ours[1]
    assert theirs[1] == 0 < theirs[0]
    assert changes(page, 1) == []
    assert page.locator("[data-act=play]").is_disabled()


def test_zoomed_in_a_stretch_is_seen_sharper_and_can_be_moved_along(page):
    pause(page)
    for _ in range(4):
        page.locator("[data-act=nearer]").click()
    page.wait_for_selector(SETTLED)
    assert "mm from the top end" in page.locator(".blink .seen").inner_text()
    before = pixels(page)

    page.locator(".blink .stage").focus()
    page.keyboard.press("ArrowRight")

    after = pixels(page)
    assert np.abs(before - after).mean() > 0.5
    words = page.locator(".blink .seen").inner_text()
    along = page.locator("[data-range=along]")
    along.evaluate(SET_RANGE, 0)
    assert page.locator(".blink .seen").inner_text().startswith("Seen: 0 to ")
    assert words != page.locator(".blink .seen").inner_text()


@pytest.fixture(scope="module")
def finer(tmp_path_factory) -> Iterator[str]:
    """Serve three leaves photographed larger than the first pictures for the screen."""
    place = tmp_path_factory.mktemp("finer")
    plan = replace(PLAN, leaves=3, photo_px=(1800, 2700))
    for _ in draw_stack(plan, [Delivered(number) for number in (1, 2, 3)], place / "photos"):
        pass
    environment = {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
    }
    taken = run_ui("take-in", place / "photos", "--flitch", "Walnut 77", environment=environment)
    assert taken.code == 0, taken.stderr
    with screens_served(environment) as served:
        yield served


def test_a_stretch_that_is_looked_at_comes_in_finer_pictures(browser, finer):  # noqa: F811
    page = browser.new_page(viewport=DESK)
    page.set_default_timeout(60_000)
    page.goto(f"{finer}/order?bundle=1")
    page.locator(".strip .leaf").first.wait_for()
    page.wait_for_selector(SETTLED)
    look(page, 0)
    pause(page)
    root = page.locator(".blink").element_handle()
    first = float(root.get_attribute("data-sharpest"))

    for _ in range(3):
        page.locator("[data-act=nearer]").click()
    page.wait_for_function(
        "([root, first]) => Number(root.dataset.sharpest) > 1.2 * first", arg=[root, first]
    )

    assert not is_playing(page)
    before = pixels(page)
    page.locator("[data-act=farther]").click()
    page.locator("[data-act=nearer]").click()
    assert np.abs(before - pixels(page)).max() == 0
    page.close()


@pytest.mark.parametrize("page", [(PHONE, "no-preference")], indirect=True)
def test_a_telephone_shows_the_leaf_upright_and_nothing_runs_over(page):
    pause(page)
    rows, columns = pixels(page).shape

    assert rows > columns
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    small = page.locator(".blink button:visible").evaluate_all(
        "all => all.filter((one) => one.getBoundingClientRect().height < 44).length"
    )
    assert small == 0
    wide = page.locator(".blink").evaluate("root => root.scrollWidth <= root.clientWidth")
    assert wide


def test_another_joint_brings_its_own_leaves_and_words(page):
    told = page.locator(".blink .words").inner_text()
    pair = look(page, 2)
    pause(page)

    assert showing(page) in pair
    assert page.locator(".blink .words").inner_text() != told
    words = page.locator(".blink .words").inner_text()
    assert f"Leaf {pair[1]} on leaf {pair[0]}" in words or "No register" in words
    assert page.locator(".joint.looked").count() == 1


def test_nothing_leaves_the_machine(page):
    strangers = {
        url
        for url in page.asked
        if urlsplit(url).scheme not in LOCAL_SCHEMES and urlsplit(url).hostname not in LOCAL_HOSTS
    }
    assert strangers == set()
    assert page.asked

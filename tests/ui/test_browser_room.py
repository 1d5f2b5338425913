"""A real browser: a match whose pieces lie at a slant, in the light of a room that is chosen."""

import re

import pytest

from catalog.catalog import open_catalog
from catalog.light_asked import LightAsked
from catalog.match_preview import MatchPreview, preview_match
from tests.ui.test_browser import SETTLED, browser  # noqa: F401 - a fixture
from tests.ui.test_browser_match import (  # noqa: F401 - a fixture
    DESK,
    LABELS,
    PHONE,
    address,
    is_shown,
    laid_anew,
)
from ui.words import signed
from vision.match_layout import Match
from vision.room_lights import ROOM_WORDS
from vision.shot import Lamp

pytestmark = pytest.mark.browser


@pytest.fixture
def page(browser, address, request):  # noqa: F811 - the fixtures of those names
    page = browser.new_page(viewport=getattr(request, "param", DESK), accept_downloads=True)
    page.set_default_timeout(60_000)
    page.goto(f"{address}/match?bundle=1&match=Diamond+match")
    page.locator(".piece").first.wait_for(state="attached")
    page.wait_for_selector(SETTLED)
    yield page
    page.close()


def painted(stock, asked=None) -> MatchPreview:
    with open_catalog(
        stock["FLITCHWRIGHT_CATALOG"], pictures=stock["FLITCHWRIGHT_PICTURES"]
    ) as catalog:
        return preview_match(
            catalog, 1, LABELS, match=Match.DIAMOND, lamp=Lamp.A, long_px=1800, asked=asked
        )


def choose(page, words: str) -> None:
    page.get_by_role("combobox", name=re.compile("Or in another light")).click()
    page.get_by_role("option", name=words[:1].upper() + words[1:]).click()


@pytest.mark.parametrize("page", [DESK, PHONE], indirect=True)
def test_a_slanted_match_is_painted_and_flagged_in_the_light_of_the_room_chosen(page, stock):
    under_lamp = painted(stock)
    assert is_shown(page, under_lamp)

    laid_anew(page, lambda: choose(page, ROOM_WORDS["low-sun"]))

    lit = painted(stock, LightAsked("low-sun"))
    assert is_shown(page, lit)
    assert not is_shown(page, under_lamp)
    page.get_by_text("Diamond match, in the light of low sun").first.wait_for()
    entries = page.locator(".fw-entry").all_inner_texts()
    assert len(entries) == len(lit.joints) == 4
    for entry, pair in zip(entries, lit.joints, strict=True):
        assert f"{pair.left} | {pair.right}" in entry
        assert pair.flag in entry
        interval = f"({signed(pair.lightness_low)} to {signed(pair.lightness_high)})"
        assert interval in entry
    assert page.get_by_role("radio", name="Lamp B").is_disabled()
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_a_lamp_is_placed_and_every_light_with_a_name_is_told_of_a_slanted_match(page, stock):
    laid_anew(page, lambda: choose(page, "a lamp and an eye where I place them"))
    aside = page.get_by_label("Lamp: right, m")

    def move():
        aside.fill("-2")
        aside.press("Enter")

    laid_anew(page, move)

    assert is_shown(page, painted(stock, LightAsked("", (-2000.0, 1500.0, 900.0))))
    page.get_by_text("This match in every light").click()
    page.wait_for_selector(SETTLED)
    page.locator(".fw-room").nth(len(ROOM_WORDS)).wait_for()
    cards = page.locator(".fw-room").all_inner_texts()
    for words in ROOM_WORDS.values():
        (told,) = [card for card in cards if words[:1].upper() + words[1:] in card]
        assert "worst pair" in told

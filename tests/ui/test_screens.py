"""Every screen opens, on an empty catalogue and on a filled one."""

import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from catalog.catalog import open_catalog

ROOT = Path(__file__).parents[2]
APP = ROOT / "ui" / "app.py"
SCREENS = [
    "flitches.py",
    "bundle.py",
    "order.py",
    "take_in.py",
    "station.py",
    "match.py",
    "light.py",
    "panels.py",
    "picture_set.py",
]

MAY_BE_STRONG = re.compile(r'class="fw-word">[a-z ]*strong<')
"""The word of a pair whose interval reaches up to strong."""


@pytest.fixture
def empty(tmp_path, monkeypatch):
    monkeypatch.setenv("FLITCHWRIGHT_CATALOG", str(tmp_path / "catalog.db"))
    monkeypatch.setenv("FLITCHWRIGHT_PICTURES", str(tmp_path / "pictures"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture
def filled(stock, monkeypatch):
    for name, value in stock.items():
        monkeypatch.setenv(name, value)


def opened(screen: str, **address: str) -> AppTest:
    """Return the app with ``screen`` open."""
    app = AppTest.from_file(str(APP), default_timeout=60).run()
    for name, value in address.items():
        app.query_params[name] = value
    app = app.switch_page(f"screens/{screen}").run()
    assert not app.exception, [entry.value for entry in app.exception]
    return app


def words_of(app: AppTest) -> str:
    """Return all text of our own pieces of the page."""
    return " ".join(str(entry.proto.body) for entry in app.get("html"))


@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_opens_on_an_empty_catalogue(screen, empty):
    app = opened(screen)

    assert not app.error


@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_opens_on_a_filled_catalogue(screen, filled):
    app = opened(screen)

    assert not app.error


def test_the_shelf_shows_a_flitch_with_its_leaves_and_worst_flag(filled):
    app = opened("flitches.py")

    assert "Walnut 5" in words_of(app)
    assert "4 leaves" in words_of(app)
    assert "Light and dark:" in words_of(app)


def test_a_search_that_nothing_answers_says_so(filled):
    app = opened("flitches.py")

    app.text_input(key="text").set_value("rosewood").run()

    assert "No flitch answers" in app.info[0].value


def test_the_bundle_shows_every_leaf_and_a_word_for_every_joint(filled):
    app = opened("bundle.py")

    film = words_of(app)
    assert film.count('class="fw-leaf"') == 4
    assert film.count('class="fw-joint"') == 3
    assert film.count("L*") >= 3


def test_the_lamp_in_the_address_decides_which_light_is_shown(filled):
    at_a = words_of(opened("bundle.py"))

    at_b = words_of(opened("bundle.py", lamp="Lamp B, bottom end"))

    assert at_a != at_b


def test_an_address_with_an_unknown_bundle_says_so_and_shows_another(filled):
    app = opened("bundle.py", bundle="77")

    assert "no bundle number 77" in app.warning[0].value


def test_another_flitch_can_be_chosen_without_going_back(empty, tmp_path):
    with open_catalog(tmp_path / "catalog.db") as catalog:
        for name in ("Oak 1", "Oak 2"):
            catalog.add_bundle(catalog.add_flitch(name=name, species="", cut=""), label="1")
    app = opened("bundle.py", bundle="1")

    app.selectbox(key="flitch-choice").select_index(0).run()

    assert not app.exception
    assert app.title[0].value == "Oak 2, bundle 1"


def test_the_match_says_in_words_what_each_joint_will_show(filled):
    app = opened("match.py")

    assert words_of(app).count('class="fw-entry"') == 3
    assert "lighter" in words_of(app)


def test_any_match_can_be_chosen_and_its_cuts_taken_away(filled):
    app = opened("match.py")

    app.selectbox(key="match").set_value("four-way").run()

    assert not app.exception
    assert "mirrors both ways" in app.caption[0].value
    assert words_of(app).count('class="fw-entry"') == 4
    assert len(app.get("download_button")) >= 2


def test_a_match_that_the_leaves_do_not_give_is_refused_in_a_sentence(filled):
    app = opened("match.py")

    app.selectbox(key="match").set_value("sunburst").run()

    assert not app.exception
    assert "at least 6" in app.warning[0].value


def test_a_folder_of_this_machine_can_be_taken_in_on_screen(drawn, empty):
    app = opened("take_in.py")
    app.text_input(key="new-flitch").set_value("Walnut from a folder").run()
    app.radio(key="where").set_value("From a folder of the machine that runs this").run()
    app.text_input(key="folder").set_value(str(drawn)).run()

    app.button[0].click().run()

    assert not app.exception
    assert "10 taken in" in app.success[0].value


def test_panels_that_can_be_made_are_shown_with_leaves_and_cut_lists(filled):
    app = opened("panels.py")

    app.text_area(key="sizes").set_value("door=340x1000").run()

    assert not app.exception
    assert "1. Walnut 5, bundle 1" in app.subheader[0].value.replace("\\", "")
    assert words_of(app).count("fw-laid") >= 2
    assert len(app.get("download_button")) == 2 * len(app.subheader)


def test_panels_that_cannot_be_made_say_what_is_lacking(filled):
    app = opened("panels.py")

    app.text_area(key="sizes").set_value("wall=3000x1000").run()

    assert not app.exception
    assert "It is not enough" in app.warning[0].value.replace("\\", "")


def test_the_light_screen_shows_a_flag_at_each_joint_and_every_light_and_match(filled):
    app = opened("light.py")

    words = words_of(app)
    assert words.count('class="fw-joint"') == 3
    assert words.count("data:image/svg+xml") == 6
    assert "Worst pair" in words
    assert "take the slip match" in words
    assert "a finish usually deepens" in words
    assert len(app.get("download_button")) == 1


def test_a_slip_match_on_the_light_screen_shows_less_than_a_book_match(filled):
    app = opened("light.py")
    booked = len(MAY_BE_STRONG.findall(words_of(app)))

    app.selectbox(key="match-light").set_value("slip").run()

    assert not app.exception
    assert len(MAY_BE_STRONG.findall(words_of(app))) < booked


def test_a_lamp_placed_freely_is_drawn_and_where_it_must_hang_is_told(filled):
    app = opened("light.py")
    app.selectbox(key="light").set_value("free").run()

    app.number_input(key="lamp-y").set_value(-1.5)
    app.toggle(key="carry").set_value(True).run()

    assert not app.exception
    assert any("1500 mm down" in one.value for one in app.caption)
    assert words_of(app).count("data:image/svg+xml") == 7
    assert "Worst with a lamp" in words_of(app)


def test_a_picture_set_is_made_and_offered_for_download(filled):
    app = opened("picture_set.py")

    app.button[0].click().run()

    assert not app.exception
    assert app.success
    assert len(app.get("download_button")) == 2

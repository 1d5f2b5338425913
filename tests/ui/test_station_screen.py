"""A station is set up on screen step by step, kept, tried and chosen."""

from datetime import date

import pytest
from streamlit.testing.v1 import AppTest

from catalog.catalog import open_catalog
from tests.ui.at_station import OAK, SET_UP, TAPE, keep_bench
from tests.ui.running import ROOT, run_ui

APP = ROOT / "ui" / "app.py"


@pytest.fixture
def url(tmp_path, monkeypatch):
    """Return a catalogue of its own, empty."""
    monkeypatch.setenv("FLITCHWRIGHT_CATALOG", str(tmp_path / "catalog.db"))
    monkeypatch.setenv("FLITCHWRIGHT_PICTURES", str(tmp_path / "pictures"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return str(tmp_path / "catalog.db")


def opened(screen: str) -> AppTest:
    """Return the app with ``screen`` open."""
    app = AppTest.from_file(str(APP), default_timeout=60).run()
    app = app.switch_page(f"screens/{screen}").run()
    assert not app.exception, [entry.value for entry in app.exception]
    return app


def words_of(app: AppTest) -> str:
    """Return all text of our own pieces of the page."""
    return " ".join(str(entry.proto.body) for entry in app.get("html"))


def typed_in(app: AppTest, *, left_mm: float = TAPE["left_mm"]) -> AppTest:
    """Type name, chart and tape of the drawn station."""
    app.text_input(key="name").set_value("long table")
    app.number_input(key="left").set_value(left_mm)
    app.number_input(key="right").set_value(TAPE["right_mm"])
    app.number_input(key="gap-top").set_value(TAPE["gap_top_mm"])
    app.number_input(key="gap-bottom").set_value(TAPE["gap_bottom_mm"])
    app.number_input(key="patch").set_value(38.0)
    return app.run()


def uploaded(app: AppTest, key: str, photo) -> AppTest:
    """Upload one photograph."""
    app.file_uploader(key=key).upload(photo.name, photo.read_bytes(), "image/jpeg")
    return app.run()


def test_what_is_still_to_be_typed_is_said(url):
    app = opened("station.py")

    assert "left rail" in app.info[0].value
    assert "a name" in app.info[0].value


def test_a_station_set_up_on_screen_is_kept_with_what_was_typed_and_read(url):
    app = uploaded(typed_in(opened("station.py")), "set-up-photo-0", SET_UP)
    assert "mm over 2.5 m" in words_of(app)
    assert "58 markers" in words_of(app)
    with open_catalog(url) as catalog:
        assert catalog.stations() == ()

    (keep,) = [button for button in app.button if button.label == "Keep this station"]
    keep.click().run()

    assert not app.exception
    assert "is kept" in app.success[0].value
    assert "long table" in words_of(app)
    with open_catalog(url) as catalog:
        station = catalog.station_named("long table").station
    assert station.rails is not None
    assert station.rails.markers == 29
    assert station.rails.right_length_mm == TAPE["right_mm"]
    assert station.colour is not None
    assert len(station.greys) > 20


def test_a_rail_that_cannot_be_so_long_is_refused_and_nothing_can_be_kept(url):
    app = uploaded(typed_in(opened("station.py"), left_mm=2745.0), "set-up-photo-0", SET_UP)

    assert "near 2700 mm" in app.error[0].value.replace("\\", "")
    assert "Keep this station" not in [button.label for button in app.button]


def test_a_photograph_can_be_tried_and_is_not_kept(url):
    keep_bench(url, days=36500)

    app = uploaded(opened("station.py"), "try-photo", OAK)

    assert "In use" in words_of(app)
    assert "This photo: ±" in words_of(app)
    with open_catalog(url) as catalog:
        assert catalog.find_flitches() == ()


@pytest.mark.parametrize("screen", ["station.py", "take_in.py"])
def test_an_expired_station_is_called_so_in_words(url, screen):
    keep_bench(url, days=1)
    app = opened(screen)
    if screen == "take_in.py":
        app.selectbox(key="take-in-station").select_index(1).run()

    assert "has expired" in app.warning[0].value
    if screen == "station.py":
        assert "Expired" in words_of(app)


def test_no_station_is_asked_for_where_there_is_none(url):
    app = opened("take_in.py")

    assert "Shooting station" not in [box.label for box in app.selectbox]


def test_a_folder_is_taken_in_at_the_station_chosen_on_screen(url, tmp_path):
    keep_bench(url, days=36500)
    folder = tmp_path / "photographs"
    folder.mkdir()
    (folder / OAK.name).write_bytes(OAK.read_bytes())
    app = opened("take_in.py")
    app.text_input(key="new-flitch").set_value("Oak")
    app.radio(key="where").set_value("From a folder of the machine that runs this").run()
    app.text_input(key="folder").set_value(str(folder))
    app.selectbox(key="take-in-station").select_index(1).run()

    app.button[0].click().run()

    assert not app.exception
    with open_catalog(url) as catalog:
        (card,) = catalog.find_flitches()
        (bundle,) = catalog.bundles(card.flitch.flitch_id)
        (leaf,) = catalog.leaves(bundle.bundle_id)
    assert leaf.size.scale_class == "measured"
    assert leaf.colour.colour_class == "measured"


def test_the_rails_of_the_screen_are_those_of_the_command(url, tmp_path):
    app = opened("station.py")
    app.number_input(key="rails-length").set_value(600.0)
    app.selectbox(key="rails-paper").set_value("Letter").run()
    app.button(key="make-rails").click().run()

    words = ["rails", "--length-mm", 600, "--paper", "letter", "--out", tmp_path / "rails.pdf"]
    assert run_ui(*words).code == 0
    made = app.session_state["rails-sheets"][1]
    assert made.pdf == (tmp_path / "rails.pdf").read_bytes()
    assert len(app.get("download_button")) == 1
    assert str(date.today().year) in made.listed  # noqa: DTZ011 - the dealer's own calendar

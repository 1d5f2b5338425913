"""A report on leaves of which photographs are missing says so and shows what there is."""

from datetime import date
from pathlib import Path

import pytest

from catalog.errors import CatalogError
from catalog.light_asked import LightAsked
from catalog.light_forecast import forecast_light
from catalog.light_report import light_report
from tests.catalog.painted_stock import painted_catalog
from vision.errors import RoomNotPossible
from vision.match_layout import Match
from vision.shot import Lamp, Shot

LABELS = ("01", "02", "03")
ONE_LAMP = [Shot(f"{leaf}.jpg", leaf, lamp=Lamp.A) for leaf in LABELS]


def test_leaves_under_one_lamp_are_not_measured_and_the_photographs_wanting_are_named(
    tmp_path: Path,
) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    told = forecast_light(catalog, bundle, LABELS, asked=LightAsked("lamp-row"), carry_lamp=True)

    assert [pair.flag for pair in told.joints] == ["not-measured"] * 2
    assert told.missing
    assert all("01, 02 and 03" in words for words in told.missing)
    assert told.lamps is not None
    assert told.lamps.worst is None


def test_a_report_is_made_even_where_nothing_was_measured(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    made = light_report(catalog, bundle, LABELS, match=Match.BOOK, on=date(2026, 3, 4))

    assert made.startswith(b"%PDF")


def test_a_match_that_cannot_be_reported_is_refused(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    with pytest.raises(CatalogError, match="choose one of book, slip, reverse-slip"):
        light_report(catalog, bundle, LABELS, match=Match.SUNBURST)


def test_a_lamp_behind_the_wall_is_refused(tmp_path: Path) -> None:
    catalog, bundle = painted_catalog(tmp_path, ONE_LAMP)

    with pytest.raises(RoomNotPossible, match="before the face"):
        forecast_light(catalog, bundle, LABELS, asked=LightAsked("", (0.0, 0.0, -5.0)))

"""Readings survive being stored."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog.reading_json import from_json, to_json
from tests.catalog.made_photos import a_pair, a_photo, a_shot
from vision.bundle_light import BundleLight
from vision.flags import AlternationFlag
from vision.readings import PairAlternation, PhotoReading
from vision.settings import VisionSettings
from vision.shot import Shot

numbers = st.floats(allow_nan=False, allow_infinity=False)
st.register_type_strategy(float, numbers)


@pytest.mark.parametrize("kind", [PhotoReading, PairAlternation, Shot, VisionSettings, BundleLight])
def test_every_value_comes_back_as_it_went(kind: type[Any]) -> None:
    @settings(max_examples=30, deadline=None)
    @given(st.from_type(kind))
    def comes_back(value: Any) -> None:
        assert from_json(kind, json.loads(json.dumps(to_json(value), allow_nan=False))) == value

    comes_back()


def test_fields_of_a_later_version_are_passed_over() -> None:
    reading = a_photo(a_shot("01")).reading
    stored = to_json(reading)
    stored["weather"] = "fine"
    stored["leaves"][0]["size"]["thickness_mm"] = 0.55

    assert from_json(PhotoReading, stored) == reading


def test_fields_that_an_earlier_version_did_not_know_take_their_default() -> None:
    pair = a_pair("01", "02", AlternationFlag.SLIGHT)
    stored = to_json(pair)
    del stored["segments"]

    assert from_json(PairAlternation, stored) == pair


def test_a_missing_field_without_default_is_told_by_name() -> None:
    with pytest.raises(ValueError, match="A stored Shot lacks its 'leaf'"):
        from_json(Shot, {"file": "a.jpg"})


def test_whole_numbers_come_back_as_the_floats_they_were() -> None:
    @dataclass(frozen=True)
    class Width:
        width_mm: float

    width = from_json(Width, {"width_mm": 250})

    assert isinstance(width.width_mm, float)


@pytest.mark.parametrize("value", ["250", True, None, [250]])
def test_a_value_of_the_wrong_kind_is_refused(value: object) -> None:
    @dataclass(frozen=True)
    class Width:
        width_mm: float

    with pytest.raises(ValueError, match="is no float"):
        from_json(Width, {"width_mm": value})

"""From drawn photographs through the catalogue to previews, held against their known truth."""

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from catalog.catalog import Catalog, open_catalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.match_preview import MatchPreview, preview_match
from catalog.picture_set import make_picture_set
from catalog.records import BundleId
from sample_images import FlitchPlan, draw_flitch
from vision.colour_space import linear_to_lab, srgb_to_linear
from vision.match_layout import Match
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Lamp

PLAN = FlitchPlan(
    seed=3,
    species="maple",
    cut="quarter",
    leaves=2,
    mean_tilt_deg=4.0,
    lobe_ratio=0.5,
    photo_px=(900, 1350),
)


@dataclass(frozen=True)
class Stock:
    catalog: Catalog
    bundle: BundleId
    truth: dict[str, Any]

    def true_fifths(self, lamp: Lamp) -> list[float]:
        """L* of the right leaf minus the left in each fifth, from the top."""
        (pair,) = self.truth["pairs"]
        fifths: list[float] = pair["lights"][lamp.value]["segments"]
        return fifths


@pytest.fixture(scope="module")
def stock(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stock]:
    place = tmp_path_factory.mktemp("maple")
    for _ in draw_flitch(PLAN, place / "photos"):
        pass
    with open_catalog(place / "stock.db") as catalog:
        flitch = catalog.add_flitch(name="Thornbeck 4", species="Maple", cut="quarter")
        bundle = catalog.add_bundle(flitch, label="1")
        plan = plan_intake(place / "photos", bundle, catalog=catalog)
        for _ in take_in(plan, catalog=catalog, settings=DEFAULT_VISION_SETTINGS):
            pass
        finish_bundle(bundle, catalog=catalog, settings=DEFAULT_VISION_SETTINGS)
        truth = json.loads((place / "photos" / "truth.json").read_text())
        yield Stock(catalog, bundle, truth)


def fifths_of(preview: MatchPreview) -> list[float]:
    """L* of the right leaf minus the left in each fifth of the picture, edges left out."""
    rows, columns = preview.rgb.shape[0], preview.rgb.shape[1] // 2
    found = []
    for fifth in np.array_split(np.arange(rows), 5):
        light = srgb_to_linear(preview.rgb[fifth[4:-4]])
        left, right = light[:, 8 : columns - 8], light[:, columns + 8 : -8]
        left_lab, right_lab = (linear_to_lab(leaf.mean(axis=(0, 1))) for leaf in (left, right))
        found.append(float(right_lab[0] - left_lab[0]))
    return found


def book(stock: Stock, lamp: Lamp) -> MatchPreview:
    return preview_match(stock.catalog, stock.bundle, ("01", "02"), match=Match.BOOK, lamp=lamp)


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_the_picture_shows_the_steps_that_the_numbers_give(stock: Stock, lamp: Lamp) -> None:
    preview = book(stock, lamp)

    (joint,) = preview.joints
    assert joint is not None
    listed = [segment.lightness_step for segment in joint.segments]
    assert fifths_of(preview) == pytest.approx(listed, abs=0.4)


@pytest.mark.parametrize("lamp", [Lamp.A, Lamp.B])
def test_light_and_dark_along_the_joint_is_that_of_the_true_pair(stock: Stock, lamp: Lamp) -> None:
    shown = np.array(fifths_of(book(stock, lamp)))

    true = np.array(stock.true_fifths(lamp))
    assert shown[2] == pytest.approx(true[2], abs=1.0)
    assert np.sqrt(np.mean((shown - true) ** 2)) < 3.5  # toward the ends the eye slants most
    plain = np.abs(true) > 3.0
    assert plain.any()
    assert np.array_equal(np.sign(shown[plain]), np.sign(true[plain]))


def test_the_set_gives_the_true_size_of_each_leaf(stock: Stock, tmp_path: Path) -> None:
    made = make_picture_set(
        stock.catalog,
        stock.bundle,
        labels=("01", "02"),
        folder=tmp_path,
        on=date(2026, 3, 4),
    )

    with zipfile.ZipFile(made.zip) as archive:
        rows = list(csv.DictReader(io.StringIO(archive.read("captions.csv").decode("utf-8-sig"))))
    for row, leaf in zip(rows, stock.truth["leaves"], strict=False):
        assert float(row["length_mm"]) == pytest.approx(leaf["length_mm"], rel=0.005)
        assert float(row["width_mm"]) == pytest.approx(leaf["width_mm"], rel=0.03)

import csv
import json
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from sample_images import FlitchPlan, Scene, draw_photo
from sample_images.scene import flitch_of
from sample_images.truth import leaf_truth

LEAVES = Path(__file__).parents[2] / "sample_images" / "leaves"


def test_the_samples_in_the_repository_are_complete_and_small():
    with (LEAVES / "shots.csv").open() as file:
        listed = {row["file"] for row in csv.DictReader(file)}

    assert listed == {path.name for path in LEAVES.glob("*.jpg")}
    assert sum(path.stat().st_size for path in LEAVES.iterdir()) < 3_000_000


def test_the_samples_in_the_repository_are_what_their_plan_draws(tmp_path):
    truth = json.loads((LEAVES / "truth.json").read_text())
    known = {field.name for field in fields(FlitchPlan)}
    values = {name: value for name, value in truth["plan"].items() if name in known}
    plan = FlitchPlan(
        **{
            name: tuple(value) if isinstance(value, list) else value
            for name, value in values.items()
        }
    )

    photo = draw_photo(plan, Scene(leaf=1, lamp="A"), tmp_path / "again.jpg")

    listed = next(one for one in truth["photos"] if one["leaf"] == "01" and one["lamp"] == "A")
    again, kept = leaf_truth(flitch_of(plan).leaf(1)), truth["leaves"][0]
    assert again["tilt_slices_deg"] == pytest.approx(kept["tilt_slices_deg"], abs=1e-3)
    assert again["lab"] == pytest.approx(kept["lab"], abs=0.02)
    assert np.abs(np.array(photo.outlines[0]) - np.array(listed["outlines"][0])).max() < 0.05

import csv
import json
from dataclasses import fields
from pathlib import Path

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
    values = {field.name: truth["plan"][field.name] for field in fields(FlitchPlan)}
    plan = FlitchPlan(
        **{
            name: tuple(value) if isinstance(value, list) else value
            for name, value in values.items()
        }
    )

    photo = draw_photo(plan, Scene(leaf=1, lamp="A"), tmp_path / "again.jpg")

    listed = next(one for one in truth["photos"] if one["leaf"] == "01" and one["lamp"] == "A")
    assert leaf_truth(flitch_of(plan).leaf(1)) == truth["leaves"][0]
    assert photo.outlines[0] == tuple(map(tuple, listed["outlines"][0]))

"""Draw a whole flitch into a folder: photographs, shot list and truth."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sample_images.plan import FlitchPlan, read_shot
from sample_images.scene import PhotoTruth, Scene, draw_photo, flitch_of
from sample_images.truth import leaf_truth, pair_truth, truth_of

SHOT_COLUMNS = ("file", "leaf", "laid", "lamp", "wet", "length_mm", "width_mm")


def draw_flitch(plan: FlitchPlan, folder: Path) -> Iterator[Path]:
    """Yield each file of a flitch as soon as it is written: photographs, shots.csv, truth.json.

    Parameters
    ----------
    plan : FlitchPlan
        What to draw.
    folder : Path
        Made if it is missing; files of the same names are replaced.

    Notes
    -----
    ``shots.csv`` lists the photographs as a dealer would, with the leaf's size to the millimetre
    if ``plan.give_size``. What ``truth.json`` holds is told in its entry "about".
    """
    folder.mkdir(parents=True, exist_ok=True)
    flitch = flitch_of(plan)
    photos: list[PhotoTruth] = []
    leaves: list[dict[str, Any]] = []
    pairs: list[dict[str, Any]] = []
    for scene in _scenes(plan, None):
        path = folder / file_name(plan, scene)
        photos.append(draw_photo(plan, scene, path))
        yield path
    for number in range(1, plan.leaves + 1):
        leaves.append(leaf_truth(flitch.leaf(number)))
        if number > 1:
            pairs.append(pair_truth(flitch.leaf(number - 1), flitch.leaf(number), plan=plan))
        for scene in _scenes(plan, number):
            path = folder / file_name(plan, scene)
            photos.append(draw_photo(plan, scene, path))
            yield path
    photos.sort(key=lambda photo: (photo.laid == "opened-pair", photo.leaf))
    yield _write_shots(folder / "shots.csv", plan, photos, leaves)
    truth = truth_of(plan, flitch, photos, leaves=leaves, pairs=pairs)
    truth_file = folder / "truth.json"
    truth_file.write_text(write_numbers(truth), encoding="utf-8")
    yield truth_file


def write_numbers(values: dict[str, Any]) -> str:
    """Return JSON with one entry a line and each list of numbers or words on one line.

    Examples
    --------
    >>> print(write_numbers({"step": 1.5, "outline": [[1, 2], [3, 4]]}), end="")
    {
     "step": 1.5,
     "outline": [[1, 2], [3, 4]]
    }
    """
    text = json.dumps(values, indent=1)
    text = re.sub(r"\[[^][{}]*\]", lambda found: _on_one_line(found[0]), text)
    text = re.sub(r"\[(?:\s*\[[^][{}]*\],?)+\s*\]", lambda found: _on_one_line(found[0]), text)
    return text + "\n"


def _on_one_line(text: str) -> str:
    return re.sub(r"\s+", " ", text).replace("[ ", "[").replace(" ]", "]")


def file_name(plan: FlitchPlan, scene: Scene) -> str:
    """Return the file name of a scene's photograph.

    Examples
    --------
    >>> file_name(FlitchPlan(seed=1, label="N7"), Scene(leaf=2, laid="opened-pair", lamp="B"))
    'N7_02-03_opened-pair_B.jpg'
    >>> file_name(FlitchPlan(seed=1), Scene(leaf=None, lamp="A"))
    'flitch_blank_A.jpg'
    """
    lamp = scene.lamp or "unknown"
    if scene.leaf is None:
        return f"{plan.name}_blank_{lamp}.jpg"
    return f"{plan.name}_{'-'.join(scene.labels)}_{scene.laid}_{lamp}.jpg"


def _scenes(plan: FlitchPlan, number: int | None) -> list[Scene]:
    """Return the scenes that become possible with a leaf; those without one for None.

    A pair is drawn with its right leaf, when both are at hand.
    """
    scenes = []
    for word in plan.shots:
        laid, lamp = read_shot(word)
        if (laid == "blank") != (number is None):
            continue
        if number is None:
            scenes.append(Scene(leaf=None, lamp=lamp))
        elif laid != "opened-pair":
            scenes.append(Scene(leaf=number, laid=laid, lamp=lamp))
        elif number > 1:
            scenes.append(Scene(leaf=number - 1, laid=laid, lamp=lamp))
    return scenes


def _write_shots(
    path: Path, plan: FlitchPlan, photos: list[PhotoTruth], leaves: list[dict[str, Any]]
) -> Path:
    sizes = {leaf["label"]: (round(leaf["length_mm"]), round(leaf["width_mm"])) for leaf in leaves}
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(SHOT_COLUMNS)
        for photo in photos:
            size = sizes.get(photo.leaf.partition("+")[0]) if plan.give_size else None
            length, width = size or ("", "")
            table.writerow([photo.file, photo.leaf, photo.laid, photo.lamp, 0, length, width])
    return path

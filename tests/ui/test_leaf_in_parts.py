"""A long leaf photographed in parts, from files through the command line."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from catalog.catalog import open_catalog
from catalog.photo_picture import quality_sheet_of
from catalog.records import BundleId, PhotoRecord
from tests.accuracy.judged_station import write_list, write_photo
from tests.accuracy.station_commands import NAME, set_up
from tests.spectral.bands import colour_science
from tests.spectral.station_scene import draw_leaf, draw_station
from tests.spectral.table_scene import Leaf
from tests.ui.running import ROOT, run_ui, run_ui_alone
from vision.settings import DEFAULT_VISION_SETTINGS

pytestmark = pytest.mark.reference

LENGTH_MM = 1350.0
FILES = ("part-1.jpg", "part-2.jpg")


@dataclass(frozen=True)
class InParts:
    """Two photographs of one leaf, the catalogue that knows their station, and the truth."""

    folder: Path
    catalog: Path
    leaf: Leaf


@pytest.fixture(scope="module")
def in_parts(tmp_path_factory: pytest.TempPathFactory) -> InParts:
    colour_science()
    home = tmp_path_factory.mktemp("parts")
    rng = np.random.default_rng()
    station = draw_station(rng, lamp_name="LED-V2", megapixels=12, markers=17)
    write_photo(station.photo(station.table(), rng), home / "set-up.jpg")
    set_up(station, home / "set-up.jpg", catalog=f"sqlite:///{home / 'catalog.db'}")
    leaf = draw_leaf(station, rng, wood="oak", length_mm=LENGTH_MM)
    folder = home / "photos"
    folder.mkdir()
    for name, along in zip(FILES, (430.0, 1170.0), strict=True):
        part = station.photo(
            station.table(leaf, chart=False),
            rng,
            height_mm=1150.0,
            centre_mm=(station.rails.gap_top_mm / 2, along),
        )
        write_photo(part, folder / name)
    said = {"leaf": "07", "thickness_mm": leaf.height_mm}
    write_list(folder, {name: {**said, "part": at + 1} for at, name in enumerate(FILES)})
    return InParts(folder, home / "catalog.db", leaf)


@pytest.fixture
def catalog(in_parts: InParts, tmp_path: Path) -> Path:
    """Return a catalogue of its own that knows the station and holds no photograph."""
    return Path(shutil.copyfile(in_parts.catalog, tmp_path / "catalog.db"))


def take_in_words(in_parts: InParts, catalog: Path) -> list[str]:
    words = ["take-in", in_parts.folder, "--flitch", "17", "--species", "oak", "--cut", "crown"]
    return [str(word) for word in (*words, "--station", NAME, "--catalog", f"sqlite:///{catalog}")]


def photos_in(catalog: Path) -> tuple[PhotoRecord, ...]:
    with open_catalog(f"sqlite:///{catalog}") as opened:
        return opened.photos(BundleId(1))


def test_two_parts_give_one_record_in_true_millimetres(in_parts):
    words = ["--station", NAME, "--catalog", f"sqlite:///{in_parts.catalog}", "--json"]

    ran = run_ui("measure", in_parts.folder / FILES[1], *words)

    (record,) = ran.json
    assert (record["file"], record["leaf"]) == (FILES[0], "07")
    assert record["size"]["scale_class"] == "measured"
    assert record["size"]["length_mm"] == pytest.approx(LENGTH_MM, abs=0.5)
    assert record["size"]["width_mm"] == pytest.approx(in_parts.leaf.width_mm, abs=0.2)
    assert "Joined from 2 photographs" in record["size_words"]


def test_parts_without_a_station_are_refused_in_words(in_parts):
    ran = run_ui("measure", in_parts.folder, "--json")

    (record,) = ran.json
    assert record["file"] == FILES[0]
    assert "Name the shooting station" in record["refused"]


def test_a_take_in_of_parts_that_was_killed_is_finished_without_doubles(in_parts, catalog):
    words = take_in_words(in_parts, catalog)
    rng = np.random.default_rng()
    for _ in range(4):
        running = subprocess.Popen(
            [sys.executable, "-m", "ui", *words],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        time.sleep(float(rng.uniform(0.5, 8.0)))
        os.kill(running.pid, signal.SIGKILL)
        running.wait()

    assert run_ui_alone(*words).code == 0
    assert run_ui_alone(*words).code == 0

    (photo,) = photos_in(catalog)
    assert photo.shot.parts == FILES
    with open_catalog(f"sqlite:///{catalog}") as opened:
        kept = [opened.pictures.read(name) for name in photo.reading.part_sha256]
        assert [leaf.label for leaf in opened.leaves(BundleId(1))] == ["07"]
        changes = [change.what for change in opened.changes()]
    assert kept == [(in_parts.folder / name).read_bytes() for name in FILES]
    assert changes.count("photograph taken in") == 1


def test_a_part_lost_from_the_picture_store_comes_back_with_its_folder(in_parts, catalog):
    assert run_ui(*take_in_words(in_parts, catalog)).code == 0
    (photo,) = photos_in(catalog)
    lost = photo.reading.part_sha256[1]
    file = catalog.parent / "pictures" / lost[:2] / lost
    file.unlink()

    assert run_ui(*take_in_words(in_parts, catalog)).code == 0

    assert file.read_bytes() == (in_parts.folder / FILES[1]).read_bytes()
    assert len(photos_in(catalog)) == 1


def test_a_joined_leaf_has_a_quality_sheet_and_its_outline_is_not_drawn_by_hand(
    in_parts, catalog, tmp_path
):
    assert run_ui(*take_in_words(in_parts, catalog)).code == 0
    (photo,) = photos_in(catalog)
    place = ["--catalog", f"sqlite:///{catalog}"]
    points = tmp_path / "points.json"
    points.write_text(str([list(point) for point in photo.reading.leaves[0].outline]))

    with open_catalog(f"sqlite:///{catalog}") as opened:
        sheet = quality_sheet_of(opened, photo.photo_id, settings=DEFAULT_VISION_SETTINGS)
    drawn = run_ui("outline", photo.photo_id, "--points", points, *place)

    assert min(sheet.size) > 500
    assert drawn.code != 0
    assert "joined from 2 photographs" in drawn.stderr

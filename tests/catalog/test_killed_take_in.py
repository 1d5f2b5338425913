"""A take-in that is killed, whenever and however often, is finished by the same command."""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from catalog.catalog import open_catalog
from catalog.records import BundleId
from tests.catalog.kill_take_in import BUNDLE, faults, new_home
from tests.catalog.made_photos import a_photo, a_shot
from tests.catalog.photo_folders import some_photos
from vision.shot_list import read_shot_list

KILLS = 30
KILLS_WHILE_STORING = 40
ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="pidfd_open is Linux's own")
def test_kills_at_random_moments_make_no_double_and_no_loss(photos: Path, tmp_path: Path) -> None:
    folder = some_photos(photos, tmp_path / "photos", lamps=("blank-A", "A", "B"))
    seed = secrets.randbelow(10**6)
    sys.stdout.write(f"seed {seed}\n")
    command = [sys.executable, "-m", "tests.catalog.kill_take_in", folder, tmp_path]

    done = subprocess.run(
        [*map(str, command), str(seed), str(KILLS), str(KILLS_WHILE_STORING)],
        cwd=ROOT,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["anywhere"]["kills"] >= KILLS
    assert report["while_storing"]["kills"] >= KILLS_WHILE_STORING
    unharmed = holdings(tmp_path / "unharmed")
    assert unharmed["files"] == digests(folder)
    for part in report.values():
        sys.stdout.write(f"{part['kills']} kills in {len(part['homes'])} catalogues\n")
        assert part["faults"] == []
        for home in part["homes"]:
            assert holdings(Path(home)) == unharmed


def digests(photos: Path) -> list[tuple[str, str]]:
    """Return name and SHA-256 of every photograph of a folder."""
    return sorted(
        (shot.file, hashlib.sha256((photos / shot.file).read_bytes()).hexdigest())
        for shot in read_shot_list(photos).shots
    )


def holdings(home: Path) -> dict[str, object]:
    """Return everything that must not depend on how often a take-in was killed."""
    bundle = BundleId(BUNDLE)
    with open_catalog(home / "catalog.db") as catalog:
        photos = catalog.photos(bundle)
        return {
            "files": sorted((photo.shot.file, photo.sha256) for photo in photos),
            "readings": sorted((photo.reading for photo in photos), key=lambda r: r.file),
            "pictures": sorted((photo.shot.file, photo.pictures) for photo in photos),
            "leaves": [(leaf.label, leaf.position, leaf.size) for leaf in catalog.leaves(bundle)],
            "alternation": [catalog.alternation(bundle, match=m) for m in ("book", "slip")],
            "refusals": catalog.refusals(bundle),
            "changes": sorted(change.what for change in catalog.changes()),
        }


def test_what_is_looked_for_after_a_kill_would_be_found(tmp_path: Path) -> None:
    home = new_home(tmp_path)
    with open_catalog(home / "catalog.db") as catalog:
        catalog.record_photo(BUNDLE, a_photo(a_shot("01")), listed=["01"])
    connection = sqlite3.connect(home / "catalog.db")
    connection.execute("INSERT INTO leaf VALUES (7, 1, '02', 2, NULL, NULL, 'none')")
    connection.execute(
        "INSERT INTO photo SELECT 8, 5, sha256, file, leaf, laid, lamp, blank, wet, "
        "NULL, NULL, reading, '1', settings, taken_in_at, NULL, NULL, NULL FROM photo"
    )
    connection.commit()
    connection.close()

    found = " ".join(faults(home))

    assert found.count("a row without its picture") == 5
    assert "leaf without a picture" in found
    assert "leaf without its change" in found
    assert "photograph of leaves without pictures" in found
    assert "photograph without its change" in found
    assert "('photo', 8, 'bundle', 0)" in found

"""Take the same photographs in again and again, killed at random moments; see test_killed_take_in.

Run as ``python -m tests.catalog.kill_take_in PHOTOS WORK SEED KILLS KILLS_WHILE_STORING``. Each
take-in is a process of its own, forked from this one to spare the imports, and is killed with
SIGKILL. A catalogue goes on being filled by the next take-in until one gets to its end; then a new
one is begun. The first kills fall anywhere, mostly while a photograph is measured; then follow
kills of take-ins in which measuring is left out, so that nearly all of them fall into the storing.
Writes what was found wrong, after every kill, as JSON to standard output.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import select
import signal
import sqlite3
import sys
import time
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import cv2

from catalog.catalog import open_catalog
from catalog.intake import finish_bundle, plan_intake, take_in
from catalog.records import BundleId
from tests.catalog.measured_before import MeasuredBefore
from vision.pipeline import read_shot
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot_list import read_shot_list

BUNDLE = BundleId(1)
MOST_KILLS_A_CATALOGUE = 6
"""Then the next take-in is left to its end: a busy machine may be slower than was reckoned."""
PICTURE_NAMES = (
    "SELECT sha256 FROM photo UNION SELECT flat FROM leaf_picture UNION SELECT screen FROM "
    "leaf_picture UNION SELECT thumb FROM leaf_picture UNION SELECT mask FROM leaf_picture"
)
ORPHANS = {
    "leaf without a picture": "SELECT id FROM leaf WHERE id NOT IN "
    "(SELECT leaf_id FROM leaf_picture WHERE is_plain)",
    "photograph of leaves without pictures": "SELECT id FROM photo WHERE NOT blank AND id NOT IN "
    "(SELECT photo_id FROM leaf_picture)",
    "photograph without its change": "SELECT id FROM photo WHERE id NOT IN "
    "(SELECT kind_id FROM change WHERE kind = 'photo')",
    "change without its photograph": "SELECT id FROM change WHERE kind = 'photo' "
    "AND kind_id NOT IN (SELECT id FROM photo)",
    "leaf without its change": "SELECT id FROM leaf WHERE id NOT IN "
    "(SELECT kind_id FROM change WHERE kind = 'leaf')",
    "double": "SELECT sha256 FROM photo GROUP BY bundle_id, sha256 HAVING count(*) > 1",
}


def main() -> None:
    photos, work = Path(sys.argv[1]), Path(sys.argv[2])
    chance = random.Random(int(sys.argv[3]))
    warm_up(photos)
    whole_s = timed_take_in(photos, new_home(work / "unharmed"), None)
    anywhere = kill_often(
        photos,
        work / "anywhere",
        kills=int(sys.argv[4]),
        after_s=lambda: chance.uniform(0, whole_s),
    )
    storing = MeasuredBefore()
    take_all_in(photos, new_home(work / "measured"), storing)
    whole_s = timed_take_in(photos, new_home(work / "stored"), storing)
    while_storing = kill_often(
        photos,
        work / "storing",
        kills=int(sys.argv[5]),
        after_s=lambda: chance.uniform(0, whole_s),
        executor=storing,
    )
    sys.stdout.write(json.dumps({"anywhere": anywhere, "while_storing": while_storing}))


def kill_often(
    photos: Path,
    work: Path,
    *,
    kills: int,
    after_s: Callable[[], float],
    executor: Executor | None = None,
) -> dict[str, Any]:
    """Return how often take-ins were killed, where, and what was found wrong after any of it."""
    homes: list[str] = []
    found: list[str] = []
    count = 0
    while count < kills:
        home = new_home(work / f"{len(homes):03}")
        homes.append(str(home))
        kills_left = MOST_KILLS_A_CATALOGUE
        while killed(photos, home, after_s=after_s() if kills_left else None, executor=executor):
            count += 1
            kills_left -= 1
            found += faults(home)
        found += faults(home)
    return {"kills": count, "homes": homes, "faults": found}


def warm_up(photos: Path) -> None:
    """Load in this process, once, what reading a photograph loads when it is first needed."""
    cv2.setNumThreads(1)
    shot = next(shot for shot in read_shot_list(photos).shots if not shot.blank)
    read_shot(photos / shot.file, shot, settings=DEFAULT_VISION_SETTINGS)


def new_home(home: Path) -> Path:
    with open_catalog(home / "catalog.db") as catalog:
        flitch = catalog.add_flitch(name="17", species="walnut", cut="plain")
        assert catalog.add_bundle(flitch, label="1") == BUNDLE
    return home


def timed_take_in(photos: Path, home: Path, executor: Executor | None) -> float:
    start = time.perf_counter()
    assert not killed(photos, home, after_s=None, executor=executor)
    return time.perf_counter() - start


def killed(photos: Path, home: Path, *, after_s: float | None, executor: Executor | None) -> bool:
    """Take in, in a process killed after so long; tell whether it was killed before its end."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            take_all_in(photos, home, executor)
            status = 0
        finally:
            os._exit(status)
    over = os.pidfd_open(child)
    select.select([over], [], [], after_s)
    os.kill(child, signal.SIGKILL)  # until it is waited for, its number is not given away
    os.close(over)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return True
    assert os.WEXITSTATUS(status) == 0, "the take-in failed by itself"
    return False


def take_all_in(photos: Path, home: Path, executor: Executor | None) -> None:
    with open_catalog(home / "catalog.db") as catalog:
        plan = plan_intake(photos, BUNDLE, catalog=catalog)
        settings = DEFAULT_VISION_SETTINGS
        for _ in take_in(plan, catalog=catalog, settings=settings, executor=executor):
            pass
        finish_bundle(BUNDLE, catalog=catalog, settings=settings)


def faults(home: Path) -> list[str]:
    """Return what is wrong with a catalogue and its pictures, seen from outside the program."""
    connection = sqlite3.connect(home / "catalog.db")
    found = [f"{home.name}: {row}" for row in connection.execute("PRAGMA foreign_key_check")]
    found += [
        f"{home.name}: {what}"
        for what, query in ORPHANS.items()
        if connection.execute(query).fetchall()
    ]
    if connection.execute("PRAGMA integrity_check").fetchone() != ("ok",):
        found.append(f"{home.name}: database damaged")
    for (name,) in connection.execute(PICTURE_NAMES):
        file = home / "pictures" / name[:2] / name
        if not file.is_file() or hashlib.sha256(file.read_bytes()).hexdigest() != name:
            found.append(f"{home.name}: a row without its picture {name}")
    connection.close()
    return found


if __name__ == "__main__":
    main()

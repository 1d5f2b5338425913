"""Several processes on one catalogue; what becomes of workers when something dies."""

from __future__ import annotations

import os
import select
import subprocess
import sys
from collections import Counter
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest

from catalog.catalog import open_catalog
from catalog.errors import MeasuringStopped
from catalog.measuring import executor_for, measure_all
from catalog.photo_job import PhotoJob, measure_photo
from catalog.records import Refused
from tests.catalog.made_photos import a_bundle, a_shot
from vision.settings import DEFAULT_VISION_SETTINGS

ROOT = Path(__file__).resolve().parents[2]
COUNT = 25


def test_two_processes_that_write_at_once_lose_nothing(database: str, tmp_path: Path) -> None:
    with open_catalog(database, pictures=tmp_path / "pictures") as catalog:
        bundle = a_bundle(catalog)
    writers = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.catalog.record_many", database]
            + [str(tmp_path / "pictures"), str(bundle), who, str(COUNT)],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        for who in ("Ines", "Jo")
    ]

    for writer in writers:  # both are ready before either may begin
        assert writer.stdin is not None
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write(b"go\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate()

    assert [writer.returncode for writer in writers] == [0, 0]
    with open_catalog(database, pictures=tmp_path / "pictures") as catalog:
        leaves = catalog.leaves(bundle)
        assert [leaf.position for leaf in leaves] == list(range(1, 3 * COUNT + 1))
        assert len({leaf.label for leaf in leaves}) == 3 * COUNT
        assert len(catalog.photos(bundle)) == 3 * COUNT
        assert Counter(change.what for change in catalog.changes()) == {
            "flitch added": 1,
            "bundle added": 1,
            "leaf added": 3 * COUNT,
            "photograph taken in": 3 * COUNT,
        }


def a_job(folder: Path, **given: Any) -> PhotoJob:
    values = {"settings": DEFAULT_VISION_SETTINGS, "light": None, "blank": None, **given}
    return PhotoJob(folder=folder, shot=a_shot("01"), pictures=str(folder / "pictures"), **values)


def test_a_worker_that_dies_is_told_in_a_sentence(tmp_path: Path) -> None:
    class Dies(Executor):
        def submit(self, *_: Any) -> Future[Any]:  # type: ignore[override]
            future: Future[Any] = Future()
            future.set_exception(BrokenProcessPool())
            return future

    with pytest.raises(MeasuringStopped, match="with fewer workers"):
        list(measure_all([a_job(tmp_path)], executor=Dies(), workers=2))


def test_a_fault_of_the_program_is_one_refusal_and_says_so(tmp_path: Path, photos: Path) -> None:
    job = a_job(tmp_path, settings=None)  # type: ignore[arg-type]
    first = next(photos.glob("*as-lies_A.jpg"))
    (tmp_path / job.shot.file).write_bytes(first.read_bytes())

    outcome = measure_photo(job)

    assert isinstance(outcome, Refused)
    assert "This program failed on it (AttributeError" in outcome.reason


def test_a_photograph_that_is_gone_is_one_refusal(tmp_path: Path) -> None:
    outcome = measure_photo(a_job(tmp_path))

    assert isinstance(outcome, Refused)


def test_jobs_are_handed_out_a_few_at_a_time(tmp_path: Path) -> None:
    handed_out: list[str] = []

    def jobs() -> Any:
        for number in range(50):
            handed_out.append(f"{number}")
            yield a_job(tmp_path)

    with executor_for(1) as executor:
        measured = measure_all(jobs(), executor=executor, workers=1)
        next(measured)

    assert len(handed_out) <= 2


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="pidfd_open is Linux's own")
def test_workers_end_when_the_process_that_started_them_is_killed() -> None:
    script = (
        "import os, sys; from catalog.measuring import executor_for\n"
        "with executor_for(2) as pool:\n"
        "    print(*{pool.submit(os.getpid).result() for _ in range(9)}, flush=True)\n"
        "    sys.stdin.read()\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", script], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert parent.stdout is not None
    workers = [os.pidfd_open(int(pid)) for pid in parent.stdout.readline().split()]

    parent.kill()
    parent.communicate()

    assert workers
    for worker in workers:
        ended, _, _ = select.select([worker], [], [], 60)
        os.close(worker)
        assert ended

"""Many photographs measured at once: by this process, by several, or by another's executor."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from itertools import islice
from typing import Any

from catalog.errors import MeasuringStopped
from catalog.new_photo import NewPhoto
from catalog.photo_job import PhotoJob, measure_photo
from catalog.records import Refused

JOBS_A_WORKER = 2
"""One at work and one waiting: enough to keep a worker busy, little to throw away at a stop."""


class InThisProcess(Executor):
    """Does each piece of work at once, where it is handed in."""

    def submit(self, work: Any, /, *args: Any, **named: Any) -> Future[Any]:
        """Return the finished future of ``work``."""
        future: Future[Any] = Future()
        try:
            future.set_result(work(*args, **named))
        except Exception as error:  # noqa: BLE001 - raised again by `Future.result`
            future.set_exception(error)
        return future


@contextmanager
def executor_for(workers: int, executor: Executor | None = None) -> Iterator[Executor]:
    """Yield the executor given, else one for so many processes; one's own is shut down after."""
    if executor is not None:
        yield executor
        return
    if workers <= 1:
        yield InThisProcess()
        return
    own = ProcessPoolExecutor(
        workers, mp_context=multiprocessing.get_context("spawn"), initializer=_end_with_parent
    )
    try:
        yield own
    finally:
        own.shutdown(cancel_futures=True)


def measure_all(
    jobs: Iterable[PhotoJob], *, executor: Executor, workers: int
) -> Iterator[NewPhoto | Refused]:
    """Yield photographs as they are measured, not always in the order of ``jobs``.

    Jobs are handed out a few at a time, so that stopping early leaves little undone work behind.

    Raises
    ------
    MeasuringStopped
        If a measuring process died.
    """
    left = iter(jobs)
    in_flight = 1 if isinstance(executor, InThisProcess) else max(1, workers) * JOBS_A_WORKER
    try:
        waiting = {executor.submit(measure_photo, job) for job in islice(left, in_flight)}
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                yield future.result()
                waiting |= {executor.submit(measure_photo, job) for job in islice(left, 1)}
    except BrokenProcessPool as error:
        raise MeasuringStopped(
            "A measuring process ended before its time; most often the memory was full. What was "
            "taken in stays. Take the folder in again, with fewer workers."
        ) from error


def _end_with_parent() -> None:
    """Let this worker end when the process that started it is gone, however that ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_wait_and_exit, args=(parent,), daemon=True).start()


def _wait_and_exit(parent: Any) -> None:
    parent.join()
    os._exit(1)

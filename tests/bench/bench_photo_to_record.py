"""CPU time of one 24-megapixel photograph, file to stored record, in units of one plain decode.

    python tests/bench/bench_photo_to_record.py            draws its photograph (takes a minute)
    python tests/bench/bench_photo_to_record.py --quick    small photograph, few rounds: a smoke run
    python tests/bench/bench_photo_to_record.py --photo F  a photograph of yours

D is one full `cv2.imdecode` of the same bytes, measured right before or after each call (order
reversed each round), one thread, garbage collection off, page-fault churn of the allocator off.
"""

from __future__ import annotations

import argparse
import gc
import os
import resource
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

STEADY = {
    "MALLOC_MMAP_MAX_": "0",
    "MALLOC_TRIM_THRESHOLD_": "8000000000",
    "MALLOC_TOP_PAD_": "268435456",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
}
STEADY_WITHIN = 1.3
"""Slowest over fastest reference decode beyond which the run says nothing."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photo", type=Path)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args()
    if any(os.environ.get(name) != value for name, value in STEADY.items()):
        os.environ.update(STEADY)
        os.execv(sys.executable, [sys.executable, *sys.argv])  # noqa: S606 - itself again
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    with tempfile.TemporaryDirectory() as scratch:
        photo = chosen.photo or draw_photo(Path(scratch) / "photo", quick=chosen.quick)
        return measure(photo, Path(scratch), rounds=2 if chosen.quick else chosen.rounds)


def draw_photo(folder: Path, *, quick: bool) -> Path:
    """Return a drawn photograph of some 0.37 bytes a pixel, as cameras write at their best.

    The fewer bytes, the less a decode costs, while all the rest costs the same.
    """
    from sample_images import FlitchPlan, draw_flitch

    plan = FlitchPlan(
        seed=1,
        leaves=1,
        shots=("as-lies/A",),
        photo_px=(800, 1200) if quick else (4000, 6000),
        pixel_noise=0.06,
        jpeg_quality=97,
    )
    for _ in draw_flitch(plan, folder):
        pass
    return next(folder.glob("*.jpg"))


def measure(photo: Path, scratch: Path, *, rounds: int) -> int:
    import cv2
    import numpy as np

    cv2.setNumThreads(1)
    data = np.frombuffer(photo.read_bytes(), np.uint8)
    parts: dict[str, list[float]] = {"D": [], "photo to record": [], "survey of the light": []}

    def decode() -> None:
        cv2.imdecode(data, cv2.IMREAD_COLOR)

    calls = {"D": decode, **walk(photo, scratch)}
    for call in calls.values():
        call()
    gc.disable()
    for index in range(rounds):
        names = list(calls) if index % 2 == 0 else list(calls)[::-1]
        for name in names:
            start = time.process_time()
            calls[name]()
            parts[name].append(time.process_time() - start)
            gc.collect()
    reference = parts.pop("D")
    height, width = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE).shape
    print(f"{width} x {height}, {len(data) / width / height:.2f} bytes a pixel; {rounds} rounds")
    print(f"D {statistics.median(reference) * 1000:.0f} ms")
    for name, times in parts.items():
        ratio = statistics.median([t / d for t, d in zip(times, reference, strict=True)])
        print(f"{name:20} {statistics.median(times) * 1000:6.0f} ms  {ratio:.2f} D")
    peak_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"memory at its peak {peak_kib / 1024:.0f} MiB")
    steady = max(reference) / min(reference)
    if steady > STEADY_WITHIN:
        print(f"inconclusive: D itself varied by {steady:.2f}")
    return 0


def walk(photo: Path, scratch: Path):
    """Return what is timed: the measuring and recording of one photograph, and the survey."""
    from catalog.catalog import open_catalog
    from catalog.photo_job import PhotoJob, measure_photo
    from vision.pipeline import survey_light
    from vision.settings import VisionSettings
    from vision.shot import Lamp, Shot

    settings = VisionSettings()
    shot = Shot(photo.name, "01", lamp=Lamp.A, length_mm=2000, width_mm=240)
    light = survey_light(photo.parent, [shot], settings=settings)
    pictures = scratch / "pictures"
    catalog = open_catalog(f"sqlite:///{scratch / 'bench.sqlite'}", pictures=pictures)
    flitch = catalog.add_flitch(name="Bench", species="walnut", cut="plain")
    count = iter(range(10_000))

    def record() -> None:
        shutil.rmtree(pictures, ignore_errors=True)
        bundle = catalog.add_bundle(flitch, label=str(next(count)))
        job = PhotoJob(photo.parent, shot, settings, light, None, catalog.pictures.place)
        catalog.record_photo(bundle, measure_photo(job), listed=("01",))

    def survey() -> None:
        survey_light(photo.parent, [shot], settings=settings)

    return {"photo to record": record, "survey of the light": survey}


if __name__ == "__main__":
    sys.exit(main())

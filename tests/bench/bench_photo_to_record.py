"""CPU time of one 24-megapixel photograph, file to stored record, in units of one plain decode.

    python tests/bench/bench_photo_to_record.py            draws its photograph (takes a minute)
    python tests/bench/bench_photo_to_record.py --rails    the same at a station: rails and a chart
    python tests/bench/bench_photo_to_record.py --quick    small photographs of both, few rounds
    python tests/bench/bench_photo_to_record.py --photo F  a photograph of yours
    ... --profile                                          tells where the time goes

D is one full `cv2.imdecode` of the same bytes, measured right before or after each call (order
reversed each round), one thread, garbage collection off, page-fault churn of the allocator off.
Memory is that of a process of its own, as a worker runs, which measures the photograph twice.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

STEADY = {
    "MALLOC_MMAP_MAX_": "0",
    "MALLOC_TRIM_THRESHOLD_": "8000000000",
    "MALLOC_TOP_PAD_": "268435456",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
}
STEADY_WITHIN = 1.3
"""Slowest over fastest reference decode beyond which the run says nothing."""
ROOT = Path(__file__).resolve().parents[2]
STAGES = (
    ("vision.photo", "read_photo"),
    ("vision.station_use", "hold_at_station"),
    ("vision.board", "shrink"),
    ("vision.marker_search", "find_markers"),
    ("vision.rail_fit", "fit_table"),
    ("vision.board", "_hold"),
    ("vision.frame_calibration", "calibrate_frame"),
    ("vision.rail_greys", "read_rail_greys"),
    ("vision.chart_colour", "calibrate_by_chart"),
    ("vision.outline", "find_leaves"),
    ("vision.fine_edge", "refine_edge"),
    ("vision.openings", "find_openings"),
    ("vision.cut_out", "cut_out"),
    ("vision.flatten", "straighten"),
    ("vision.flatten", "flatten"),
    ("vision.station", "find_station"),
    ("vision.photo_faults", "find_faults"),
    ("vision.leaf_colour", "measure_colour"),
    ("vision.figure", "measure_figure"),
    ("vision.light_profile", "measure_light"),
    ("catalog.kept_pictures", "keep_leaf"),
    ("catalog.kept_pictures", "encode_leaf"),
    ("catalog.store_photos", "record_photo"),
)
"""Modules and functions whose time `--profile` tells; some hold others."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photo", type=Path)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--rails", action="store_true")
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--peak", type=Path, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    if chosen.peak is not None:
        return tell_peak(chosen.peak, chosen.photo)
    if any(os.environ.get(name) != value for name, value in STEADY.items()):
        os.environ.update(STEADY)
        os.execv(sys.executable, [sys.executable, *sys.argv])  # noqa: S606 - itself again
    rounds = 2 if chosen.quick else chosen.rounds
    for rails in (False, True) if chosen.quick else (chosen.rails,):
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch)
            if rails:
                photo = paint_station(folder, quick=chosen.quick)
            else:
                photo = chosen.photo or draw_photo(folder / "photo", quick=chosen.quick)
            measure(photo, folder, rounds=rounds, profile=chosen.profile)
    return 0


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


def paint_station(folder: Path, *, quick: bool) -> Path:
    """Return a painted photograph with rails, chart and leaf; beside it lie its set-up and truth.

    In a process of its own, so that its memory does not count.
    """
    place = folder / "station"
    place.mkdir()
    words = [sys.executable, "-m", "tests.bench.painted_station", str(place)]
    subprocess.run([*words, *(["--quick"] if quick else [])], cwd=ROOT, check=True)
    return place / "leaf.jpg"


def measure(photo: Path, scratch: Path, *, rounds: int, profile: bool) -> None:
    import cv2
    import numpy as np

    cv2.setNumThreads(1)
    data = np.frombuffer(photo.read_bytes(), np.uint8)
    parts: dict[str, list[float]] = {}

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
            parts.setdefault(name, []).append(time.process_time() - start)
            gc.collect()
    gc.enable()
    reference = parts.pop("D")
    height, width = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE).shape
    print(f"{width} x {height}, {len(data) / width / height:.2f} bytes a pixel; {rounds} rounds")
    print(f"D {statistics.median(reference) * 1000:.0f} ms, {span(reference, 1000, ' ms')}")
    for name, times in parts.items():
        ratios = [t / d for t, d in zip(times, reference, strict=True)]
        ratio = statistics.median(ratios)
        told = f"{name:20} {statistics.median(times) * 1000:6.0f} ms  {ratio:.2f} D"
        print(f"{told}, {span(ratios, 1, ' D')}")
    print(f"memory of a worker at its peak {peak_mib(photo):.0f} MiB")
    steady = max(reference) / min(reference)
    if steady > STEADY_WITHIN:
        print(f"inconclusive: D itself varied by {steady:.2f}")
    if profile:
        tell_stages(calls["photo to record"], rounds, statistics.median(reference))


def span(values: list[float], unit: float, name: str) -> str:
    return f"{min(values) * unit:.2f} to {max(values) * unit:.2f}{name}"


def tell_stages(call: Callable[[], None], rounds: int, reference: float) -> None:
    """Print the CPU time of each stage, what it calls included; it is a clock, no profiler."""
    spent: dict[str, list[float]] = {".".join(stage): [] for stage in STAGES}

    def clocked(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*args: Any, **kwargs: Any) -> Any:
            start = time.process_time()
            try:
                return function(*args, **kwargs)
            finally:
                spent[name].append(time.process_time() - start)

        return timed

    ours = [m for n, m in sys.modules.items() if n.partition(".")[0] in {"vision", "catalog"}]
    for module, name in STAGES:
        function = getattr(sys.modules[module], name, None)
        if function is None:
            continue
        timed = clocked(f"{module}.{name}", function)
        for one in ours:
            if vars(one).get(name) is function:
                setattr(one, name, timed)
    for _ in range(rounds):
        call()
    print(f"{'stage':42} calls     ms     D")
    for name, times in spent.items():
        if times:
            each = sum(times) / rounds
            told = f"{name:42} {len(times) / rounds:5.1f} {each * 1000:6.1f}"
            print(f"{told}  {each / reference:.3f}")


def peak_mib(photo: Path) -> float:
    """Return the most memory a fresh process takes to measure the photograph, with its own heap."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
    with tempfile.TemporaryDirectory() as scratch:
        words = [sys.executable, __file__, "--peak", scratch, "--photo", str(photo.resolve())]
        done = subprocess.run(words, env=kept, capture_output=True, text=True, check=True)
    return float(done.stdout)


def tell_peak(scratch: Path, photo: Path) -> int:
    import cv2

    cv2.setNumThreads(1)
    record = walk(photo, scratch)["photo to record"]
    record()
    record()
    print(own_peak_kib() / 1024)
    return 0


def own_peak_kib() -> int:
    """Return the most memory held by this process; Linux counts the parent's in ``getrusage``."""
    status = Path("/proc/self/status")
    if not status.exists():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    line = next(one for one in status.read_text().splitlines() if one.startswith("VmHWM"))
    return int(line.split()[1])


def walk(photo: Path, scratch: Path) -> dict[str, Callable[[], None]]:
    """Return what is timed: the measuring and recording of one photograph, and the survey."""
    from catalog.catalog import open_catalog
    from catalog.photo_job import PhotoJob, measure_photo
    from catalog.records import Refused
    from vision.pipeline import survey_light
    from vision.settings import VisionSettings
    from vision.shot import Lamp, Shot

    settings = VisionSettings()
    pictures = scratch / "pictures"
    catalog = open_catalog(f"sqlite:///{scratch / 'bench.sqlite'}", pictures=pictures)
    truth, station = known_station(photo, catalog)
    if station is None:
        shot = Shot(photo.name, "01", lamp=Lamp.A, length_mm=2000, width_mm=240)
        light = survey_light(photo.parent, [shot], settings=settings)
    else:
        shot, light = Shot(photo.name, "01", lamp=Lamp.A), None
    flitch = catalog.add_flitch(name="Bench", species="walnut", cut="plain")
    count = iter(range(10_000))
    today = date(2026, 5, 5)

    def record() -> None:
        shutil.rmtree(pictures, ignore_errors=True)
        bundle = catalog.add_bundle(flitch, label=str(next(count)))
        job = PhotoJob(
            photo.parent, shot, settings, light, None, catalog.pictures.place, station, today
        )
        new = measure_photo(job)
        if isinstance(new, Refused):
            raise SystemExit(f"The bench's own photograph was refused: {new.reason}")
        catalog.record_photo(bundle, new, listed=("01",))
        if truth:
            hold_against(new.reading.leaves[0].size, truth)

    def survey() -> None:
        survey_light(photo.parent, [shot], settings=settings)

    return {"photo to record": record} | ({} if truth else {"survey of the light": survey})


def known_station(photo: Path, catalog: Any) -> tuple[dict[str, Any], Any]:
    """Return the truth beside a painted photograph and its station, set up; else nothing."""
    beside = photo.parent / "station.json"
    if not beside.exists():
        return {}, None
    from vision.photo import read_photo
    from vision.settings import VisionSettings
    from vision.shooting_station import RailsByTape, ShootingStation
    from vision.station_setup import set_up_station

    truth = json.loads(beside.read_text())
    tape = RailsByTape(
        truth["markers"],
        truth["pitch_mm"],
        truth["left_length_mm"],
        truth["right_length_mm"],
        truth["gap_top_mm"],
        truth["gap_bottom_mm"],
    )
    today = date(2026, 5, 4)
    typed = ShootingStation(
        "bench",
        today,
        "painted",
        "painted",
        rails=tape,
        chart_edition=truth["edition"],
        chart_patch_mm=truth["patch_mm"],
    )
    bare = read_photo(photo.parent / "bare.jpg", settings=VisionSettings())
    done = set_up_station(bare, typed, settings=VisionSettings(), today=today)
    return truth, catalog.station(catalog.add_station(done.station, done.quality))


def hold_against(size: Any, truth: dict[str, Any]) -> None:
    """End the run where speed was bought with wrong millimetres."""
    off = [size.length_mm - truth["length_mm"], size.width_mm - truth["width_mm"]]
    if max(map(abs, off)) > 0.5 or size.scale_class != "measured":
        raise SystemExit(f"The leaf was measured wrong: {off[0]:+.2f} and {off[1]:+.2f} mm.")


if __name__ == "__main__":
    sys.exit(main())

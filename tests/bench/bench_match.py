"""Time matches of twelve leaves and a picture set, in full decodes of a 24-megapixel photo.

Each job is timed cold (every picture opened, scaled and mapped anew) and again (the same leaves
looked at a second time, under a lamp or in an order that changes nothing of what is kept).

python -m tests.bench.bench_match
"""

from __future__ import annotations

import argparse
import gc
import io
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

STEADY = {
    "MALLOC_MMAP_MAX_": "0",
    "MALLOC_TRIM_THRESHOLD_": "8000000000",
    "MALLOC_TOP_PAD_": "268435456",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
}
"""Without these a decode spends half its time in page faults, and flatters what it is held to."""

import cv2  # noqa: E402
import numpy as np  # noqa: E402
from PIL import Image  # noqa: E402

import catalog.leaf_pictures as leaf_pictures  # noqa: E402
import catalog.match_preview as match_preview  # noqa: E402
import vision.match_render as match_render  # noqa: E402
import vision.piece_render as piece_render  # noqa: E402
from catalog.picture_set import make_picture_set  # noqa: E402
from tests.catalog.painted_stock import painted_catalog  # noqa: E402
from vision.kept_arrays import KeptArrays  # noqa: E402
from vision.match_layout import FaceWish, Match  # noqa: E402
from vision.picture_file import PictureKind, encode_picture  # noqa: E402
from vision.shot import Lamp, Shot  # noqa: E402

LABELS = [f"{number:02}" for number in range(1, 13)]
STORES = (
    leaf_pictures._opened,
    leaf_pictures._masks,
    leaf_pictures._cuts,
    leaf_pictures._lengths,
    match_render._painted,
    piece_render._maps,
    piece_render._faces,
    piece_render._scaled,
)


def main() -> None:
    """Print a table: what, median CPU seconds, in decodes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one round, to see that it runs")
    rounds = 1 if parser.parse_args().quick else 9
    cv2.setNumThreads(1)
    shots = [Shot(f"{one}{lamp}.jpg", one, lamp=Lamp(lamp)) for one in LABELS for lamp in "AB"]
    photo = np.frombuffer(_photo_of_24_megapixels(), np.uint8)
    with tempfile.TemporaryDirectory() as place:
        catalog, bundle = painted_catalog(Path(place), shots, times=5)

        def preview(match: Match, long_px: int) -> match_preview.MatchPreview:
            return match_preview.preview_match(
                catalog,
                bundle,
                LABELS,
                match=match,
                lamp=Lamp.A,
                long_px=long_px,
                wish=FaceWish(pieces=12 if match is Match.SUNBURST else None),
            )

        def picture_set() -> object:
            return make_picture_set(catalog, bundle, labels=LABELS, folder=Path(place) / "set")

        jobs: list[tuple[str, Callable[[], object]]] = []
        for name, match, long_px in (
            ("book 1600 px", Match.BOOK, 1600),
            ("book 4000 px", Match.BOOK, 4000),
            ("sunburst 1200 px", Match.SUNBURST, 1200),
        ):
            whole = _whole(preview, match, long_px)
            jobs.append((f"{name}, cold, from the catalogue", _cold(whole)))
            jobs.append((f"{name}, again, from the catalogue", whole))
            jobs.append((f"{name}, again, painted and encoded", _painting(whole)))
            if match is Match.SUNBURST:
                anew = _cold(_painting(whole), (piece_render._faces,))
                jobs.append((f"{name}, by its kept map, encoded", anew))
        jobs.append(("picture set, PDF and zip", picture_set))
        spread: list[float] = []
        for name, job in jobs:
            ours, decodes = _paired(
                job, lambda: cv2.imdecode(photo, cv2.IMREAD_COLOR), rounds, spread
            )
            print(f"{name:42} {ours:7.4f} s   {ours / decodes:7.3f} D   (D = {decodes:.3f} s)")
        steady = max(spread) / min(spread)
        print(f"D max/min {steady:.2f}{'' if steady <= 1.3 else ': inconclusive, machine busy'}")
        catalog.close()


def _whole(
    preview: Callable[[Match, int], match_preview.MatchPreview], match: Match, long_px: int
) -> Callable[[], object]:
    return lambda: _encoded(preview(match, long_px).rgb)


def _encoded(rgb: np.ndarray) -> int:
    return len(encode_picture(rgb, PictureKind.JPEG, half_colour=True))


def _cold(
    job: Callable[[], object], stores: Sequence[KeptArrays[Any]] = STORES
) -> Callable[[], object]:
    def forgetful() -> object:
        for store in stores:
            store.forget()
        return job()

    return forgetful


def _painting(job: Callable[[], object]) -> Callable[[], object]:
    """Return the painting and encoding of a job alone, leaves opened before."""
    taken: list[Callable[[], object]] = []
    render = match_preview.render

    def noted(*args: object, **options: object) -> np.ndarray:
        taken.append(lambda: _encoded(render(*args, **options)))  # type: ignore[arg-type]
        return render(*args, **options)  # type: ignore[arg-type]

    match_preview.render = noted  # type: ignore[assignment]
    job()
    match_preview.render = render
    return taken[0]


def _photo_of_24_megapixels() -> bytes:
    noise = np.random.default_rng(1).integers(90, 170, (1000, 1500, 3), dtype=np.uint8)
    rgb = cv2.resize(noise, (6000, 4000), interpolation=cv2.INTER_CUBIC)
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "JPEG", quality=90)
    return file.getvalue()


def _paired(
    job: Callable[[], object], decode: Callable[[], object], rounds: int, spread: list[float]
) -> tuple[float, float]:
    """Return the median CPU seconds of both, taken in turns; one round to warm up."""
    taken: tuple[list[float], list[float]] = ([], [])
    gc.disable()
    for turn in range(rounds + 1):
        pair = [(0, job), (1, decode)]
        for place, call in pair if turn % 2 else reversed(pair):
            start = time.process_time()
            call()
            if turn:
                taken[place].append(time.process_time() - start)
        gc.collect()
    gc.enable()
    spread.extend(taken[1])
    return statistics.median(taken[0]), statistics.median(taken[1])


if __name__ == "__main__":
    if any(os.environ.get(name) != value for name, value in STEADY.items()):
        os.execve(  # noqa: S606
            sys.executable,
            [sys.executable, "-m", "tests.bench.bench_match", *sys.argv[1:]],
            {**os.environ, **STEADY},
        )
    main()

"""Time match previews and a picture set of twelve leaves, in full decodes of a 24-megapixel photo.

python -m tests.bench.bench_match
"""

from __future__ import annotations

import argparse
import gc
import io
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from catalog.match_preview import preview_match
from catalog.picture_set import make_picture_set
from tests.catalog.painted_stock import painted_catalog
from vision.match_layout import Match
from vision.shot import Lamp, Shot


def main() -> None:
    """Print a table: what, median CPU seconds, in decodes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one round, to see that it runs")
    rounds = 1 if parser.parse_args().quick else 7
    labels = [f"{number:02}" for number in range(1, 13)]
    shots = [Shot(f"{one}{lamp}.jpg", one, lamp=Lamp(lamp)) for one in labels for lamp in "AB"]
    photo = _photo_of_24_megapixels()
    with tempfile.TemporaryDirectory() as place:
        catalog, bundle = painted_catalog(Path(place), shots, times=5)

        def preview(long_px: int) -> int:
            shown = preview_match(
                catalog, bundle, labels, match=Match.BOOK, lamp=Lamp.A, long_px=long_px
            )
            return len(shown.file())

        def picture_set() -> object:
            return make_picture_set(catalog, bundle, labels=labels, folder=Path(place) / "set")

        jobs: dict[str, Callable[[], object]] = {
            "preview 1600 px, JPEG": lambda: preview(1600),
            "preview 4000 px, JPEG": lambda: preview(4000),
            "picture set, PDF and zip": picture_set,
        }
        for name, job in jobs.items():
            ours, decodes = _paired(job, lambda: Image.open(io.BytesIO(photo)).load(), rounds)
            print(f"{name:28} {ours:7.3f} s   {ours / decodes:6.2f} D   (D = {decodes:.3f} s)")
        catalog.close()


def _photo_of_24_megapixels() -> bytes:
    noise = np.random.default_rng(1).integers(90, 170, (1000, 1500, 3), dtype=np.uint8)
    rgb = cv2.resize(noise, (6000, 4000), interpolation=cv2.INTER_CUBIC)
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "JPEG", quality=90)
    return file.getvalue()


def _paired(
    job: Callable[[], object], decode: Callable[[], object], rounds: int
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
    return statistics.median(taken[0]), statistics.median(taken[1])


if __name__ == "__main__":
    main()

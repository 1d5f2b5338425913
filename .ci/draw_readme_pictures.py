"""Draw the pictures of README.md anew. Usage: .venv/bin/python .ci/draw_readme_pictures.py

Draws the demo's flitches (or takes those in the folder given), lays the walnut in a book match
under the lamp at either end, and puts both side by side into sample_images/pictures.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import click
import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from catalog.catalog import open_catalog  # noqa: E402
from catalog.match_preview import preview_match  # noqa: E402
from catalog.records import BundleId  # noqa: E402
from vision.match_layout import Match  # noqa: E402
from vision.picture_file import PictureKind, encode_picture  # noqa: E402
from vision.shot import Lamp  # noqa: E402

PICTURES = ROOT / "sample_images" / "pictures"
LONG_PX = 900
GAP_PX = 24
PAPER = 250


@click.command()
@click.option("--demo", type=click.Path(path_type=Path), help="Folder of a demo already run.")
def main(demo: Path | None) -> None:
    """Write match_two_lamps.jpg."""
    with tempfile.TemporaryDirectory() as place:
        folder = demo or Path(place)
        words = [sys.executable, "-m", "ui", "demo", "--no-serve", "--folder", str(folder)]
        subprocess.run(words, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)  # noqa: S603
        PICTURES.mkdir(exist_ok=True)
        written = PICTURES / "match_two_lamps.jpg"
        written.write_bytes(_match_two_lamps(folder / "catalog.db"))
    click.echo(f"{written}: {written.stat().st_size / 1e3:.0f} kB")


def _match_two_lamps(catalog_file: Path) -> bytes:
    """Return one run under lamp A and under lamp B, side by side."""
    with open_catalog(catalog_file) as catalog:
        labels = [leaf.label for leaf in catalog.leaves(BundleId(1))]
        previews = [
            preview_match(
                catalog, BundleId(1), labels, match=Match.BOOK, lamp=lamp, long_px=LONG_PX
            ).captioned()
            for lamp in (Lamp.A, Lamp.B)
        ]
    gap = np.full((previews[0].shape[0], GAP_PX, 3), PAPER, np.uint8)
    return encode_picture(np.hstack([previews[0], gap, previews[1]]), PictureKind.JPEG, quality=85)


if __name__ == "__main__":
    main()

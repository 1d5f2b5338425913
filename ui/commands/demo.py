"""``demo``: two made flitches from photographs to picture sets, then the screens."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import click

from catalog.catalog import Catalog, open_catalog
from catalog.picture_set import make_picture_set
from catalog.records import BundleId
from sample_images import FlitchPlan, draw_flitch
from ui.bundle_entry import bundle_for
from ui.commands.ports import first_free
from ui.commands.progress import with_bar
from ui.commands.take_in import bundle_report, take_in_folder
from ui.commands.where import catalog_options
from ui.settings_file import data_folder, read_settings

DRAWN = "truth.json"
"""Written last by the generator: where it is, the photographs are complete."""
FULL_PX, SMALL_PX = (1600, 2400), (800, 1200)
FULL_LEAVES, SMALL_LEAVES = 6, 3


@dataclass(frozen=True, slots=True)
class DemoFlitch:
    """A flitch of the demo: how it is drawn and how it is entered."""

    folder: str
    name: str
    species: str
    cut: str
    plan: FlitchPlan


WALNUT = DemoFlitch(
    folder="walnut-204",
    name="Walnut 204",
    species="American walnut",
    cut="crown cut",
    plan=FlitchPlan(
        seed=204,
        species="walnut",
        cut="plain",
        shots=("as-lies/A", "as-lies/B", "opened-pair/A", "opened-pair/B", "blank/A", "blank/B"),
        mean_tilt_deg=3.5,
        lobe_ratio=0.9,
        lobe_width_deg=12.0,
    ),
)
MAPLE = DemoFlitch(
    folder="maple-88",
    name="Maple 88, fiddleback",
    species="Sycamore maple",
    cut="quartered",
    plan=FlitchPlan(
        seed=88,
        species="maple",
        cut="quarter",
        figure="fiddleback",
        width_mm=180.0,
        shots=("as-lies/A", "as-lies/B"),
        mean_tilt_deg=-2.0,
        lobe_ratio=0.7,
    ),
)


@click.command()
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="Where photographs, catalogue and picture sets go; else in your data folder.",
)
@click.option("--small", is_flag=True, help="Fewer leaves and smaller photographs.")
@click.option("--serve/--no-serve", default=True, help="Serve the screens when all is done.")
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True)
@catalog_options
def demo(
    *,
    folder: Path | None,
    small: bool,
    serve: bool,
    port: int,
    catalog_url: str | None,
    pictures: str | None,
) -> None:
    """Draw two flitches as photographs, take them in, show what comes of it.

    The demo keeps a catalogue of its own beside its photographs unless another is named. Run
    again, it goes on where it was.
    """
    place = folder or data_folder() / ("demo-small" if small else "demo")
    place.mkdir(parents=True, exist_ok=True)
    url = catalog_url or str(place / "catalog.db")
    with open_catalog(url, pictures=pictures) as catalog:
        for flitch in (WALNUT, MAPLE):
            photos = _draw(flitch, place / flitch.folder, small=small)
            bundle_id = _take_in(flitch, photos, catalog)
            click.echo(f"{bundle_report(catalog, bundle_id)}\n")
            _write_picture_set(catalog, bundle_id, place / "picture-sets")
    _list_files(place)
    if serve:
        from ui.serving import serve as serve_screens  # Streamlit takes a second to import

        port = first_free(port)
        click.echo(f"\nThe screens are at http://127.0.0.1:{port} until you press Ctrl+C.")
        serve_screens(catalog_url=url, pictures=pictures, port=port)


def _draw(flitch: DemoFlitch, photos: Path, *, small: bool) -> Path:
    if not (photos / DRAWN).is_file():
        plan = replace(
            flitch.plan,
            leaves=SMALL_LEAVES if small else FULL_LEAVES,
            photo_px=SMALL_PX if small else FULL_PX,
        )
        for _file in with_bar(
            draw_flitch(plan, photos), length=_file_count(plan), label=f"Drawing {flitch.name}"
        ):
            pass
    return photos


def _file_count(plan: FlitchPlan) -> int:
    """Return how many files a plan makes: photographs, shot list and truth."""
    blanks = sum(shot.startswith("blank") for shot in plan.shots)
    pairs = sum(shot.startswith("opened-pair") for shot in plan.shots)
    singles = len(plan.shots) - blanks - pairs
    return blanks + pairs * (plan.leaves - 1) + singles * plan.leaves + 2


def _take_in(flitch: DemoFlitch, photos: Path, catalog: Catalog) -> BundleId:
    bundle_id = bundle_for(
        catalog, flitch=flitch.name, species=flitch.species, cut=flitch.cut, label="1"
    )
    settings = read_settings().vision
    _done, refused = take_in_folder(photos, bundle_id, catalog=catalog, settings=settings)
    for refusal in refused:
        click.echo(f"Refused {refusal.file}: {refusal.reason}", err=True)
    return bundle_id


def _write_picture_set(catalog: Catalog, bundle_id: BundleId, folder: Path) -> None:
    click.echo("Writing the picture set ...", err=True)
    labels = [leaf.label for leaf in catalog.leaves(bundle_id)]
    make_picture_set(
        catalog,
        bundle_id,
        labels=labels,
        folder=folder,
        customer="A customer",
        dealer="A veneer dealer",
    )


def _list_files(place: Path) -> None:
    click.echo("Files made")
    for folder in (WALNUT.folder, MAPLE.folder):
        count = sum(1 for file in (place / folder).iterdir() if file.suffix == ".jpg")
        click.echo(f"{place / folder}: {count} photographs, shots.csv, truth.json")
    for file in sorted((place / "picture-sets").iterdir()):
        click.echo(f"{file}: {file.stat().st_size / 1e6:.1f} MB")

"""One small flitch, drawn and taken in once for all tests of the screens and commands."""

from pathlib import Path

import pytest

from sample_images import FlitchPlan, draw_flitch
from tests.ui.running import Ran, run_ui

SMALL = FlitchPlan(
    seed=5,
    species="walnut",
    leaves=4,
    length_mm=1200.0,
    width_mm=220.0,
    sapwood=False,
    waney=False,
    end_damage=0.0,
    photo_px=(800, 1200),
    shots=("as-lies/A", "as-lies/B", "blank/A", "blank/B"),
    mean_tilt_deg=3.0,
    tilt_drift_deg=0.2,
    lobe_ratio=0.8,
    lobe_width_deg=12.0,
)


@pytest.fixture(scope="session")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the photographs of four leaves, each under lamp A and lamp B."""
    folder = tmp_path_factory.mktemp("drawn") / "walnut"
    for _file in draw_flitch(SMALL, folder):
        pass
    return folder


@pytest.fixture(scope="session")
def stock(drawn: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Return the environment that names a catalogue with those four leaves taken in."""
    place = tmp_path_factory.mktemp("stock")
    environment = {
        "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
        "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
        "XDG_DATA_HOME": str(place / "data"),
        "XDG_CONFIG_HOME": str(place / "config"),
    }
    words = ["--flitch", "Walnut 5", "--species", "walnut", "--cut", "crown cut"]
    taken = run_ui("take-in", drawn, *words, environment=environment)
    assert taken.code == 0, taken.stderr
    return environment


@pytest.fixture(scope="session")
def measured(drawn: Path) -> Ran:
    """Return what ``measure --json`` says of the drawn folder."""
    return run_ui("measure", drawn, "--json")


@pytest.fixture(scope="session")
def alternating(drawn: Path) -> Ran:
    """Return what ``alternation --json`` says of the drawn folder."""
    return run_ui("alternation", drawn, "--json")

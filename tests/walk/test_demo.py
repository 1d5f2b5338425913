"""The first command of the README, on small photographs and without the screens."""

import pytest

from tests.ui.running import Ran, run_ui_alone


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def first(place) -> Ran:
    return run_ui_alone("demo", "--no-serve", "--small", "--folder", place)


def test_the_demo_prints_order_alternation_and_the_files_made(first, place):
    assert first.code == 0, first.stderr
    assert "Leaves in order" in first.stdout
    assert first.stdout.count("Light and dark if book matched") == 2
    for file in (place / "picture-sets").iterdir():
        assert str(file) in first.stdout


def test_the_demo_run_again_goes_on_where_it_was(first, place):
    again = run_ui_alone("demo", "--no-serve", "--small", "--folder", place)

    assert again.code == 0, again.stderr
    assert again.stdout.split("Files made")[0] == first.stdout.split("Files made")[0]

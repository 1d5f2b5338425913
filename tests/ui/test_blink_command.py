import json
import re

import numpy as np
import pytest
from PIL import Image

from tests.ui.running import run_ui


def frames_of(file) -> list[np.ndarray]:
    found = []
    with Image.open(file) as moving:
        for frame in range(moving.n_frames):
            moving.seek(frame)
            found.append(np.asarray(moving.convert("RGB"), float))
    return found


def test_two_neighbours_of_a_folder_are_written_in_turn(drawn, tmp_path):
    out = tmp_path / "new folder" / "blink.gif"

    done = run_ui("order", drawn, "--blink", "02", "03", "--out", out)

    assert done.code == 0, done.stderr
    assert "Leaf 02, as it lies; Leaf 03, as it lies" in done.stdout
    assert "Leaf 03 on leaf 02" in done.stdout
    assert re.search(r"across \d+\.\d mm", done.stdout)
    assert out.stat().st_size < 2_000_000
    frames = frames_of(out)
    assert len(frames) == 2
    assert max(frames[0].shape) <= 1700
    assert np.abs(frames[0] - frames[1]).mean() > 0.5
    with Image.open(out) as moving:
        assert moving.info["duration"] == 800
        assert moving.info["loop"] == 0


def test_a_bundle_tells_the_register_to_other_programs_and_shows_a_stretch(stock, tmp_path):
    whole, part = tmp_path / "whole.webp", tmp_path / "part.webp"
    asked = ("order", "--bundle", 1, "--blink", "02", "03", "--json")

    done = run_ui(*asked, "--output", whole, environment=stock)
    run_ui(*asked, "--output", part, "--stretch", 300, 600, "--seconds", 0.5, environment=stock)

    record = json.loads(done.stdout)
    assert (record["left"], record["right"], record["unit"]) == ("02", "03", "mm")
    assert record["laid"] == ["as-lies", "as-lies"]
    assert 0 < record["register"]["across_sure"] <= 1
    large, small = frames_of(part)[0], frames_of(whole)[0]
    assert large.shape[0] > small.shape[0]
    assert len(frames_of(part)) == 2


@pytest.mark.parametrize(
    ("pair", "says"),
    [(("02", "9"), "no leaf '9'"), (("", "02"), "no leaf ''"), (("02", "02"), "named twice")],
)
def test_a_label_that_is_not_there_is_answered_in_a_sentence(stock, tmp_path, pair, says):
    out = tmp_path / "blink.gif"

    done = run_ui("order", "--bundle", 1, "--blink", *pair, "--out", out, environment=stock)

    assert done.code == 3
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert "01, 02, 03, 04" in done.stderr or "Name two leaves" in done.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--blink", "02", "03"), "--out"),
        (("--blink", "02", "03", "--out", "blink.txt"), ".gif"),
        (("--blink", "02", "03", "--out", "b.gif", "--seconds", "0.2"), "three times a second"),
        (("--blink", "02", "03", "--out", "b.gif", "--against", "1"), "neither"),
        (("--out", "b.gif"), "--blink"),
        (("--blink", "02", "03", "--out", "b.gif", "--stretch", "900", "400"), "no stretch"),
        (("--blink", "02", "03", "--out", "b.gif", "--stretch", "9000", "9400"), "no stretch"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_written(
    stock, tmp_path, monkeypatch, words, says
):
    monkeypatch.chdir(tmp_path)
    where = () if "--against" in words else ("--bundle", 1)
    folder = (tmp_path,) if "--against" in words else ()

    done = run_ui("order", *folder, *where, *words, environment=stock)

    assert done.code in {2, 3}
    assert says in " ".join(done.stderr.split())
    assert not list(tmp_path.iterdir())

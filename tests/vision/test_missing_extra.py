from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from tests.vision.made_dng import Camera, dng
from tests.vision.made_files import refusal

HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(range(200))
RAW = {
    "leaf.dng": dng(np.full((240, 320, 3), 0.4), Camera()),
    "leaf.cr2": b"II*\0\x10\0\0\0CR\2\0" + bytes(500),
    "leaf.nef": b"MM\0*\0\0\0\x08" + bytes(500),
    "leaf.cr3": b"\0\0\0\x18ftypcrx \0\0\0\1crx isom" + bytes(500),
    "leaf.raf": b"FUJIFILMCCD-RAW 0201" + bytes(500),
    "leaf.orf": b"IIRO\x08\0\0\0" + bytes(500),
    "leaf.rw2": b"IIU\0\x18\0\0\0" + bytes(500),
}


def test_without_the_extra_a_heic_picture_is_refused_with_the_command_that_installs_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setitem(sys.modules, "pillow_heif", None)  # as if it were not installed

    refused = refusal(tmp_path, HEIC, "leaf.heic")

    assert "HEIC" in refused
    assert "pillow-heif is needed" in refused
    assert '.venv/bin/pip install -e ".[heic]"' in refused


@pytest.mark.parametrize("name", RAW)
def test_without_the_extra_camera_raw_is_refused_with_the_command_that_installs_it(
    name: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setitem(sys.modules, "rawpy", None)  # as if it were not installed

    refused = refusal(tmp_path, RAW[name], name)

    assert "camera raw" in refused
    assert "rawpy is needed" in refused
    assert '.venv/bin/pip install -e ".[raw]"' in refused

"""The real photographs of 24-patch charts inside a wheel of another project.

`CHART_WHEEL` names the wheel of colour-checker-detection 0.2.3, or the folder it was downloaded to
(``pip download --no-deps``). The photographs are outputs of its example notebooks.
"""

from __future__ import annotations

import base64
import io
import json
import os
import zipfile
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

NOTEBOOK = "colour_checker_detection/examples/examples_detection_{}.ipynb"
SHOWN_IN_CELL = 4
"""The first pictures of the notebook: the photographs as they are."""


def chart_photo(notebook: str, number: int) -> NDArray[np.uint8]:
    """Return a photograph, R, G, B; a missing wheel is a skip at home and a failure on the server.

    Parameters
    ----------
    notebook : str
        ``inference`` or ``segmentation``.
    number : int
        0 or 1.
    """
    with zipfile.ZipFile(_wheel()) as wheel:
        cells = json.loads(wheel.read(NOTEBOOK.format(notebook)))["cells"]
    png = cells[SHOWN_IN_CELL]["outputs"][number]["data"]["image/png"]
    picture = Image.open(io.BytesIO(base64.b64decode("".join(png))))
    return np.asarray(picture.convert("RGB"))


def _wheel() -> Path:
    named = os.environ.get("CHART_WHEEL", "")
    place = Path(named)
    found = sorted(place.glob("colour_checker_detection-*.whl")) if place.is_dir() else [place]
    if named and found and found[0].is_file():
        return found[0]
    words = (
        "CHART_WHEEL names no wheel of colour-checker-detection 0.2.3. Run pip download --no-deps "
        "colour-checker-detection==0.2.3 and set CHART_WHEEL to the folder."
    )
    if os.environ.get("CI"):
        pytest.fail(words)
    pytest.skip(words)

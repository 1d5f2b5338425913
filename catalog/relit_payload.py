"""A match whose lamp can be moved, as plain values for the screen's own relighter."""

from __future__ import annotations

import base64
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from catalog.relit_lamps import Carried
from catalog.relit_match import RelitMatch, RelitPlace
from vision.match_render import PAPER
from vision.optics import FILM_INDEX
from vision.relight import SLOPE_RANGE, SPREAD_RANGE, Standing

JPEG_QUALITY = 90
CODES = {Carried.YES: 0, Carried.FLAT: 1, Carried.OPEN: 2}


def relit_payload(match: RelitMatch) -> dict[str, Any]:
    """Return what `ui/theme/relit_view.js` needs to light a match: JSON values, base64 pictures.

    Lengths and heights are in the layout's unit from the top of the match; where lamp and eye stood
    for a photograph, in lengths of its leaf.
    """
    grid = match.grid
    return {
        "size": [match.width_px, match.height_px],
        "length": match.layout.length_mm,
        "unit": match.layout.unit,
        "paper": list(PAPER),
        "index": FILM_INDEX,
        "ranges": [SLOPE_RANGE, SPREAD_RANGE],
        "eye": [match.eye_along, match.eye_height],
        "marks": [
            {"name": one.name, "words": one.words, "along": one.along, "height": one.height}
            for one in match.marks
        ],
        "grid": {
            "along": [float(grid.along[0]), float(grid.along[-1]), len(grid.along)],
            "height": [float(grid.height[0]), float(grid.height[-1]), len(grid.height)],
            "sd": grid.sd.round(3).ravel().tolist(),
            "faceSd": grid.face_sd.round(3).ravel().tolist(),
            "carried": [CODES[one] for row in grid.carried for one in row],
        },
        "leaves": [_leaf(place) for place in match.places],
        "unseen": [place.placement.leaf for place in match.places if not place.face_seen],
    }


def _leaf(place: RelitPlace) -> dict[str, Any]:
    leaf = place.leaf
    rows, columns = leaf.figure.shape[:2]
    return {
        "label": place.placement.leaf,
        "box": [place.left_px, place.top_px, columns, rows],
        "top": place.placement.y_mm,
        "length": place.placement.length_mm,
        "strength": leaf.strength,
        "width": leaf.width,
        "seen": [_standing(one) for one in leaf.seen],
        "pictures": [_jpeg(one) for one in leaf.pictures],
        "figure": _encoded(leaf.figure, ".png", [cv2.IMWRITE_PNG_COMPRESSION, 6]),
    }


def _standing(one: Standing) -> list[float]:
    sign = 1.0 if one.same_face else -1.0
    return [one.foot, one.lamp_along, one.lamp_across, one.lamp_height, one.eye_height, sign]


def _jpeg(rgb: NDArray[np.uint8]) -> str:
    options = [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    options += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
    return _encoded(rgb, ".jpg", options)


def _encoded(rgb: NDArray[np.uint8], kind: str, options: list[int]) -> str:
    """Return a picture file without any profile: the screen is to take its values as they are."""
    written, file = cv2.imencode(kind, cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), options)
    if not written:
        raise ValueError(f"A picture of {rgb.shape[1]} x {rgb.shape[0]} pixels was not written.")
    return base64.b64encode(file.tobytes()).decode("ascii")

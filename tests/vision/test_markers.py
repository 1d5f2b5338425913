"""Marker rails drawn at known places must give back their millimetres."""

import cv2
import numpy as np
import pytest

from tests.vision.made_scenes import WOODS, MadeLeaf, Scene
from vision.markers import find_rails, length_between_mm
from vision.pipeline import read_shot
from vision.readings import ScaleClass
from vision.settings import DEFAULT_VISION_SETTINGS
from vision.shot import Shot


def with_rails(picture: np.ndarray, *, px_per_mm: float, pitch_mm: float) -> np.ndarray:
    """Lay two rails of 40 mm markers, ids from 0 and from 100, near the picture's long edges."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    side = round(40 * px_per_mm)
    height, width = picture.shape[:2]
    for first, x in ((0, side), (100, width - 2 * side)):
        for index in range(int((height - 2 * side) / (pitch_mm * px_per_mm))):
            y = round(side + index * pitch_mm * px_per_mm)
            marker = cv2.aruco.generateImageMarker(dictionary, first + index, side)
            quiet = side // 5
            picture[y - quiet : y + side + quiet, x - quiet : x + side + quiet] = 255
            picture[y : y + side, x : x + side] = marker[..., None]
    return picture


@pytest.mark.parametrize("pitch_mm", [100, 200, 400])
def test_rails_tell_the_distance_between_two_rows_whatever_their_pitch(pitch_mm):
    picture = np.full((1800, 1200, 3), 120, np.uint8)

    rails = find_rails(with_rails(picture, px_per_mm=1.0, pitch_mm=pitch_mm))

    assert len(rails) == 2
    assert length_between_mm(rails, 300, 1500) == pytest.approx(1200, abs=1)


def test_without_markers_there_are_no_rails():
    assert find_rails(np.full((400, 300, 3), 120, np.uint8)) == ()
    assert length_between_mm((), 0, 1) is None


def test_a_leaf_between_rails_is_measured_without_a_typed_size(tmp_path):
    scene = Scene((MadeLeaf(WOODS["oak"]),), size_px=(900, 1350), leaf_mm=(240.0, 2000.0))
    cv2.imwrite(
        str(tmp_path / "a.png"),
        with_rails(scene.paint(), px_per_mm=0.5, pitch_mm=100)[..., ::-1],
    )

    result = read_shot(tmp_path / "a.png", Shot("a.png", "1"), settings=DEFAULT_VISION_SETTINGS)

    size = result.reading.leaves[0].size
    assert size.scale_class is ScaleClass.RAILS
    assert size.length_mm == pytest.approx(2000, rel=0.01)
    assert size.width_mm == pytest.approx(240, rel=0.02)

"""Flitches that never grew, as photographs with known truth.

From a seed come a log, the leaves sliced from it, and photographs of them on a board: true
colours, true fibre directions, the true step of light and dark at every joint. It knows nothing
of the rest of the project, so that its truth can judge it.
"""

from sample_images.draw import draw_flitch, file_name
from sample_images.flat import FlatLeaf, draw_flat
from sample_images.plan import BOARDS, STRIP_REFLECTANCES, FlitchPlan
from sample_images.scene import PhotoTruth, Scene, draw_photo
from sample_images.stack import Delivered, draw_stack, shuffle_stack

__all__ = [
    "BOARDS",
    "STRIP_REFLECTANCES",
    "Delivered",
    "FlatLeaf",
    "FlitchPlan",
    "PhotoTruth",
    "Scene",
    "draw_flat",
    "draw_flitch",
    "draw_photo",
    "draw_stack",
    "file_name",
    "shuffle_stack",
]

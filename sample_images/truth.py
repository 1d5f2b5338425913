"""The true light and dark of booked neighbours, and the truth file of a flitch.

See `ABOUT` for what each number of the file means; it is written into the file as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.board_scene import level_camera
from sample_images.colour import delta_e00, lab_of
from sample_images.damage import opening_areas
from sample_images.lamps import lamps_of
from sample_images.leaf import Flitch, LaidFace, Leaf, even_light_lab
from sample_images.placing import Place, place_pair, reflectance
from sample_images.plan import STRIP_REFLECTANCES, FlitchPlan
from sample_images.scene import PhotoTruth

Doubles = NDArray[np.float64]
Floats = NDArray[np.float32]

LIGHTS = ("A", "B")
SEGMENTS = 5
SLICES = 20
TRUTH_PX_PER_MM = 0.7
"""Averages over the leaf need no finer wood than this."""

ILLUMINANT = "D50/2"
"""Illuminant and observer of every L*, a*, b* in the truth file."""

ABOUT = {
    "illuminant": "illuminant and observer of every L*, a*, b* and difference here, adapted "
    "from the pictures' D65 by Bradford's transform",
    "leaves": "label; length_mm and width_mm of the true outline (along the middle; median of the "
    "middle half); tilt_deg: mean fibre tilt of face A, positive where fibres rise toward the top "
    "of the leaf as it lies; tilt_slices_deg: the same in 20 slices from the top; lab: mean "
    "CIELAB of face A under an even white sky seen from above (linear light averaged first); "
    "grain_angle_deg: mean angle of the fibres to the leaf's axis, clockwise positive; "
    "net_area_mm2: wood inside the outline, openings taken off; split_area_mm2 and hole_area_mm2: "
    "the openings, one value each",
    "photos": "outlines: one polygon a leaf, x and y in upright photo pixels, the middle of the "
    "first pixel is 0, 0, a pair left then right; openings: polygons of each leaf's splits "
    "and holes, which may run out past its outline; exposure and cast: factors on linear light; "
    "gain: linear code value of a white sheet at the board's middle; camera: position in mm over "
    "the board's middle and small turns about x, y, z",
    "pairs": "left leaf as it lies, right leaf turned over its long edge (book), butted, the joint "
    "on the middle of the board, camera straight above, no jitter, no noise. Linear reflectance "
    "(light over that of a white matt sheet at the same place) is averaged over the area and then "
    "converted. lightness_step: L* right minus left over the middle half of the length; "
    "lightness_step_whole: over all of it; segments: fifths from the top; tilt_part: half the "
    "difference of the steps under lamp A and B, signed for this light; face_part: half their sum; "
    "tilt_only_step: right leaf shown with its face A's wood (no face difference); slip_step: both "
    "as they lie; delta_e00 and delta_e00_segments: CIEDE2000 of the two mean colours",
    "strip": "reflectances of the grey strip from its upper end down",
}


def truth_of(
    plan: FlitchPlan,
    flitch: Flitch,
    photos: Iterable[PhotoTruth],
    *,
    leaves: list[dict[str, Any]],
    pairs: list[dict[str, Any]],
) -> dict[str, Any]:
    """Return the truth file's content: plain numbers and words for JSON."""
    return {
        "about": ABOUT,
        "illuminant": ILLUMINANT,
        "plan": asdict(plan),
        "strip": list(STRIP_REFLECTANCES) if plan.strip else [],
        "lobes": {name: asdict(lobe) for name, lobe in zip("AB", flitch.lobes, strict=True)},
        "leaves": leaves,
        "photos": [asdict(photo) for photo in photos],
        "pairs": pairs,
    }


def leaf_truth(leaf: Leaf) -> dict[str, Any]:
    """Return what is true of one leaf."""
    on_leaf = leaf.cover > 0.99
    rows = np.flatnonzero(on_leaf.any(axis=1))
    points = leaf.outline.points()
    edges = np.linspace(rows[0], rows[-1] + 1, SLICES + 1).round().astype(int)
    slices = [
        float(leaf.tilt_deg[top:bottom][on_leaf[top:bottom]].mean())
        for top, bottom in pairwise(edges)
    ]
    return {
        "label": leaf.label,
        "length_mm": round(leaf.outline.length_mm, 2),
        "width_mm": round(leaf.outline.width_mm, 2),
        "tilt_deg": round(float(leaf.tilt_deg[on_leaf].mean()), 4),
        "tilt_slices_deg": [round(value, 4) for value in slices],
        "lab": [round(value, 3) for value in even_light_lab(leaf)],
        "grain_angle_deg": round(float(leaf.angle_deg[on_leaf].mean()), 4),
        "net_area_mm2": round(float(leaf.cover.sum(dtype=np.float64)) / leaf.sheet.px_per_mm**2, 1),
        "split_area_mm2": [round(area, 1) for area in opening_areas(leaf.damage.splits, points)],
        "hole_area_mm2": [round(area, 1) for area in opening_areas(leaf.damage.holes, points)],
    }


def pair_truth(left: Leaf, right: Leaf, *, plan: FlitchPlan) -> dict[str, Any]:
    """Return the true steps at the joint of two neighbouring leaves under lamps A and B."""
    step = max(1, int(left.sheet.px_per_mm / TRUTH_PX_PER_MM))
    lying = left.lay("as-lies", step=step)
    book = right.lay("face-over", step=step)
    book_tilt = right.lay("face-over", face="A", step=step)
    slip = right.lay("as-lies", step=step)
    places = place_pair(lying, book)
    slip_place = Place(-places[0].x_mm, 0.0, 0.0)
    found = {}
    for light in LIGHTS:
        base = _areas(plan, lying, places[0], light)
        found[light] = {
            "book": (base, _areas(plan, book, places[1], light)),
            "tilt": (base, _areas(plan, book_tilt, places[1], light)),
            "slip": (base, _areas(plan, slip, slip_place, light)),
        }
    lights = {light: _steps(found[light]) for light in LIGHTS}
    for light, other in (("A", "B"), ("B", "A")):
        own, opposite = lights[light]["lightness_step"], lights[other]["lightness_step"]
        lights[light]["tilt_part"] = (own - opposite) / 2
        lights[light]["face_part"] = (own + opposite) / 2
    return {"left": left.label, "right": right.label, "lights": lights}


def _areas(plan: FlitchPlan, face: LaidFace, place: Place, light: str) -> Doubles:
    """Return mean linear light of the middle half, the whole, and the fifths: shape (7, 3)."""
    return mean_areas(
        face, reflectance(face, place, lamps_of(plan, light), level_camera(plan).position_mm)
    )


def mean_areas(face: LaidFace, seen: Floats) -> Doubles:
    """Return mean linear light of the middle half, the whole, and the fifths: shape (7, 3)."""
    weight = face.cover > 0.99
    rows = np.flatnonzero(weight.any(axis=1))
    first, count = int(rows[0]), int(rows[-1] + 1 - rows[0])
    shares = [(0.25, 0.75), (0.0, 1.0)]
    shares += [(index / SEGMENTS, (index + 1) / SEGMENTS) for index in range(SEGMENTS)]
    means = []
    for low, high in shares:
        part = slice(first + round(low * count), first + round(high * count))
        means.append(seen[part][weight[part]].mean(axis=0, dtype=np.float64))
    return np.array(means)


def _steps(found: dict[str, tuple[Doubles, Doubles]]) -> dict[str, Any]:
    """Return steps and differences of one light from mean linear light."""
    lab = {name: (lab_of(one), lab_of(other)) for name, (one, other) in found.items()}
    step = {name: other[:, 0] - one[:, 0] for name, (one, other) in lab.items()}
    apart = delta_e00(*lab["book"])
    return {
        "lightness_step": float(step["book"][0]),
        "lightness_step_whole": float(step["book"][1]),
        "segments": [float(value) for value in step["book"][2:]],
        "tilt_only_step": float(step["tilt"][0]),
        "slip_step": float(step["slip"][0]),
        "delta_e00": float(apart[0]),
        "delta_e00_segments": [float(value) for value in apart[2:]],
        "left_lab": [float(value) for value in lab["book"][0][0]],
        "right_lab": [float(value) for value in lab["book"][1][0]],
    }

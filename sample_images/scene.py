"""What lies under the camera for one shot, and the photograph of it with its truth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sample_images.board_scene import Thing, fittings, level_camera, move_camera
from sample_images.camera import Camera
from sample_images.lamps import LampLight, lamps_of
from sample_images.leaf import Flitch, LaidFace, open_flitch
from sample_images.noise import chance, random_line
from sample_images.photo import Exposure, take_picture
from sample_images.photo_file import save_photo
from sample_images.placing import Curl, Place, place_pair, reflectance
from sample_images.plan import FlitchPlan

Doubles = NDArray[np.float64]

FULLEST = 0.88
"""Share of full scale that the brightest part of the scene reaches before jitter."""
BUMP = 0.12
"""From shot to shot the camera moves by this share of how far off it hangs."""
CURL_MM = 1000.0
"""Length of one wave of a leaf that does not lie flat."""
SHOP_CAST = (1.035, 1.0, 0.955)
"""The lamps are a little warm for the camera's white balance."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What is photographed: one leaf, a pair, a stray second leaf, or the bare board.

    Examples
    --------
    >>> Scene(leaf=3, laid="face-over", lamp="B").labels
    ('03',)
    >>> Scene(leaf=3, laid="opened-pair").labels
    ('03', '04')
    """

    leaf: int | None = 1
    """Counted from 1; None shows the board without a leaf."""
    laid: str = "as-lies"
    """as-lies | end-turned | face-over | end-over | opened-pair (with leaf + 1 at the right)"""
    lamp: str = "A"
    """A | B | side | both | empty, or a place (`sample_images.lamps.lamp_at`)"""
    second_leaf: int | None = None
    """A leaf that should not be in the picture, beside the first."""
    shift_mm: tuple[float, float] = (0.0, 0.0)
    """Moves the leaf right and up; half the leaf's length up lets the frame cut it."""
    turn_deg: float = 0.0
    """Turns the leaf counter-clockwise; 90 lays it across the picture."""
    take: int = 0
    """Another take of the same scene has other noise, exposure, cast and pose."""

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the labels of the leaves in view, the promised ones first."""
        numbers = [] if self.leaf is None else [self.leaf]
        if self.laid == "opened-pair" and self.leaf is not None:
            numbers.append(self.leaf + 1)
        if self.second_leaf is not None:
            numbers.append(self.second_leaf)
        return tuple(f"{number:02d}" for number in numbers)


@dataclass(frozen=True, slots=True)
class PhotoTruth:
    """What is known about one photograph."""

    file: str
    leaf: str
    """Label, ``LEFT+RIGHT`` for a pair, empty for a bare board."""
    laid: str
    lamp: str
    outlines: tuple[tuple[tuple[float, float], ...], ...]
    """One polygon (x, y in upright photo pixels; 0, 0 is the middle of the first pixel) a leaf."""
    exposure: float
    """Factor on the flitch's common exposure; 1 means no jitter."""
    cast: tuple[float, float, float]
    """Factor on linear R, G, B."""
    gain: float
    """Linear code value of a white sheet at the board's middle."""
    camera_mm: tuple[float, float, float]
    camera_tilt_deg: tuple[float, float, float]
    focal_px: float
    distortion: tuple[float, float]
    px_per_mm: float
    """At the board's middle."""
    openings: tuple[tuple[tuple[tuple[float, float], ...], ...], ...] = ()
    """Splits and holes of each leaf, polygons as in ``outlines``; what lies outside the outline
    is board in any case."""


def draw_photo(plan: FlitchPlan, scene: Scene, path: Path) -> PhotoTruth:
    """Return the truth of one photograph, written as JPEG to ``path``.

    The wood, the board and the flitch's common exposure follow from ``plan``; jitter and noise
    from plan, scene and take. Drawing neighbouring leaves in order is fastest: the last leaves
    are kept in memory.

    Parameters
    ----------
    plan : FlitchPlan
        The flitch; ``plan.shots`` matters only in that pairs need a wider view.
    scene : Scene
        What is in view.
    path : Path
        Where the JPEG goes; its folder must exist.

    Raises
    ------
    ValueError
        If the scene names a leaf that the flitch does not have.
    """
    rng = chance(plan.seed, "shot", scene)
    hung = move_camera(level_camera(plan), chance(plan.seed, "camera"), plan.pose_jitter)
    camera = move_camera(hung, rng, BUMP * plan.pose_jitter)
    lamps = lamps_of(plan, scene.lamp)
    placed = _leaves_of(plan, scene, rng)
    things = list(_fittings(plan))
    outlines, openings = [], []
    for face, place in placed:
        curl = _curl(plan, rng)
        light = reflectance(face, place, lamps, camera.position_mm, curl=curl)
        things.append(Thing(face.sheet, light, face.cover, place, plan.lift_mm))
        outlines.append(camera.to_photo(place.to_board(face.outline_mm)))
        openings.append(
            tuple(
                _rounded(camera.to_photo(place.to_board(opening)))
                for opening in (*face.splits_mm, *face.holes_mm)
            )
        )
    factor = float(np.exp(rng.normal(0, 1) * plan.exposure_jitter))
    cast = np.array(SHOP_CAST) * np.exp(rng.standard_normal(3) * plan.white_balance_jitter)
    exposure = Exposure(
        common_exposure(plan) * factor,
        (float(cast[0]), float(cast[1]), float(cast[2])),
        plan.pixel_noise,
    )
    picture = take_picture(plan, things, lamps, camera, exposure, rng)
    save_photo(picture, path, plan=plan, rng=rng)
    truth = _truth(path.name, scene, camera, outlines, exposure, factor)
    return replace(truth, openings=tuple(openings))


def wood_scale(plan: FlitchPlan) -> float:
    """Return the resolution, px per mm, at which a plan's wood is drawn."""
    if plan.wood_px_per_mm is not None:
        return plan.wood_px_per_mm
    return float(np.clip(1.15 * level_camera(plan).px_per_mm, 0.4, 4.0))


def flitch_of(plan: FlitchPlan) -> Flitch:
    """Return the wood of a plan at the resolution its photographs need."""
    return open_flitch(plan, px_per_mm=wood_scale(plan))


@lru_cache(maxsize=8)
def common_exposure(plan: FlitchPlan) -> float:
    """Return the locked exposure of a flitch: its brightest part just short of full scale."""
    flitch = flitch_of(plan)
    face = flitch.leaf((plan.leaves + 1) // 2).lay("as-lies", step=3)
    camera = level_camera(plan)
    brightest = []
    for lamp in ("A", "B"):
        lamps = lamps_of(plan, lamp)
        wood = reflectance(face, Place(), lamps, camera.position_mm)
        falling = _light_along(lamps, 0.0, face.sheet.y_mm[::3])
        lit = wood.max(axis=2) * falling[:, None].astype(np.float32)
        brightest.append(float(np.percentile(lit[face.cover > 0.99], 99.8)))
        for thing in _fittings(plan):
            falling = _light_along(lamps, thing.place.x_mm, thing.sheet.y_mm)
            brightest.append(float((thing.light.max(axis=(1, 2)) * falling).max()))
    return FULLEST / (max(brightest) * max(SHOP_CAST))


def _light_along(lamps: tuple[LampLight, ...], x_mm: float, y_mm: Doubles) -> Doubles:
    """Return the light of the first lamp on a line along the board."""
    return lamps[0].on(np.stack([np.full_like(y_mm, x_mm), y_mm], axis=-1))[0]


@lru_cache(maxsize=4)
def _fittings(plan: FlitchPlan) -> tuple[Thing, ...]:
    return tuple(fittings(plan, level_camera(plan)))


def _leaves_of(
    plan: FlitchPlan, scene: Scene, rng: np.random.Generator
) -> list[tuple[LaidFace, Place]]:
    """Return the laid leaves and where they lie, carelessly by a few millimetres."""
    careless = rng.standard_normal(4) * plan.placing_jitter
    if scene.leaf is None:
        return []
    flitch = flitch_of(plan)
    x, y = scene.shift_mm[0] + 5 * careless[0], scene.shift_mm[1] + 5 * careless[1]
    turn = scene.turn_deg + 0.3 * careless[2]
    if scene.laid == "opened-pair":
        left = flitch.leaf(scene.leaf).lay("as-lies")
        right = flitch.leaf(scene.leaf + 1).lay("face-over")
        whole = Place(x, y, turn)
        slid = (0.0, 1.0 * careless[3])
        return [
            (face, _within(whole, place, slid_mm))
            for face, place, slid_mm in zip(
                (left, right), place_pair(left, right), slid, strict=True
            )
        ]
    placed = [(flitch.leaf(scene.leaf).lay(scene.laid), Place(x, y, turn))]
    if scene.second_leaf is not None:
        aside = plan.width_mm * 1.12 + 25
        placed.append(
            (flitch.leaf(scene.second_leaf).lay("as-lies"), Place(x + aside, y - 14, turn + 1.5))
        )
    return placed


def _curl(plan: FlitchPlan, rng: np.random.Generator) -> Curl | None:
    """Return how a leaf rises and falls this time; another laying has another curl."""
    if plan.curl_deg == 0:
        return None
    line = random_line(
        rng, length_mm=plan.length_mm, cell_mm=CURL_MM / 4, depth_mm=0, depth_cell_mm=1
    )
    return Curl(line, plan.curl_deg, plan.length_mm)


def _within(whole: Place, part: Place, slid_mm: float) -> Place:
    """Return the place of a part of a pair that is itself laid somewhere."""
    middle = whole.to_board(np.array([part.x_mm, part.y_mm + slid_mm]))
    return Place(float(middle[0]), float(middle[1]), whole.turn_deg + part.turn_deg)


def _rounded(points: Doubles) -> tuple[tuple[float, float], ...]:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in points)


def _truth(
    name: str,
    scene: Scene,
    camera: Camera,
    outlines: list[Doubles],
    exposure: Exposure,
    factor: float,
) -> PhotoTruth:
    bare = scene.leaf is None
    promised = scene.labels[: 2 if scene.laid == "opened-pair" else 1]
    return PhotoTruth(
        file=name,
        leaf="" if bare else "+".join(promised),
        laid="as-lies" if bare else scene.laid,
        lamp=f"blank-{scene.lamp}" if bare else scene.lamp,
        outlines=tuple(_rounded(outline) for outline in outlines),
        exposure=factor,
        cast=exposure.cast,
        gain=exposure.gain,
        camera_mm=camera.position_mm,
        camera_tilt_deg=camera.tilt_deg,
        focal_px=camera.focal_px,
        distortion=camera.distortion,
        px_per_mm=camera.px_per_mm,
    )

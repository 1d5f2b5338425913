"""Leaves whose slope swings within their slices: fiddleback, ribbon."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.test_slope_fit import STOOD
from vision.leaf_light import LeafLight
from vision.leaf_lighting import lighting_on_board, log_respond, respond
from vision.light_pattern import COLUMNS, ROWS, pattern_of
from vision.light_profile import LUMINANCE
from vision.optics import fibre_lobe, refract, transmit
from vision.readings import SLICES, LightProfile, LightReference
from vision.shot import Laid, Lamp, Shot
from vision.slope_fit import fit_slopes
from vision.slope_priors import SWING_PRIOR
from vision.slope_swing import model_varied, what_varies

STRENGTH, WIDTH = 0.8, np.deg2rad(9.0)
SWINGS = np.deg2rad(np.tile([1.5, 3.0, 5.0, 4.0], 5))
"""Of the slices; a fit that holds them for alike takes their difference for slope or wood."""


def figured_slopes(rng, swings):
    """Return slopes of all cells of all slices in wandering stripes, shape (SLICES, ROWS, COLUMNS).

    Stripes are no Gaussian: most of the wood lies near their steepest parts.
    """
    rows, columns = np.mgrid[: SLICES * ROWS, :COLUMNS]
    wander = 1.5 * np.sin(columns / 9 + rng.uniform(0, 6)) + rng.uniform(0, 6)
    wave = np.sin(rows / rng.uniform(1.6, 2.4) + wander) * np.sqrt(2)
    return wave.reshape(SLICES, ROWS, COLUMNS) * swings[:, None, None]


def seen(lamp, slopes, *, lines, laid=Laid.AS_LIES):
    """Return a photograph of wood of those slopes under lamp A or B, as the physics has it."""
    stood = STOOD[lamp]
    place = (np.arange(SLICES * ROWS) + 0.5) / (SLICES * ROWS) - 0.5
    lamp_sine = (stood.lamp_along - place) / np.hypot(stood.lamp_along - place, stood.lamp_height)
    eye_sine = -place / np.hypot(place, stood.eye_height)
    lay = slopes.reshape(-1, COLUMNS)
    if laid is Laid.END_TURNED:
        lay, lines = -lay[::-1, ::-1], lines[::-1, ::-1]
    inside = [refract(one)[:, None] for one in (lamp_sine, eye_sine)]
    lobe = fibre_lobe(*inside, slope=lay, width=float(WIDTH))
    passed = (transmit(lamp_sine) * transmit(eye_sine))[:, None]
    light = 0.2 * np.exp(lines) * passed * (1 + STRENGTH * lobe)
    coloured = np.repeat(light[..., None], 3, axis=2).astype(np.float32)
    parts = coloured.reshape(SLICES, ROWS, COLUMNS, 3)
    wood = np.ones((ROWS, COLUMNS), bool)
    profile = LightProfile(
        slices=tuple((float(one),) * 3 for one in parts[..., 0].mean(axis=(1, 2))),
        foot=0.5,
        edge_left=(),
        edge_right=(),
        edge_pitch_mm=None,
        reference=LightReference.BOARD,
        level_sd=0.004,
        station=stood,
        pattern=tuple(pattern_of(one, wood, LUMINANCE) for one in parts),
    )
    return LeafLight(Shot(f"{laid}{lamp}", "1", laid, lamp), profile)


def two_views(rng, swings, *, mean_deg, second=(Lamp.B, Laid.AS_LIES), lines_sd=0.05):
    slopes = np.deg2rad(mean_deg) + figured_slopes(rng, swings)
    lines = np.broadcast_to(rng.normal(0, lines_sd, COLUMNS), (SLICES * ROWS, COLUMNS))
    lamp, laid = second
    return (seen(Lamp.A, slopes, lines=lines), seen(lamp, slopes, lines=lines, laid=laid))


@pytest.mark.parametrize("mean_deg", [-3.0, 0.5, 2.0])
@pytest.mark.parametrize("second", [(Lamp.B, Laid.AS_LIES), (Lamp.A, Laid.END_TURNED)])
def test_swing_slope_and_highlight_of_figured_wood_are_found(mean_deg, second):
    views = two_views(np.random.default_rng(), SWINGS, mean_deg=mean_deg, second=second)

    fit = fit_slopes(views)

    assert np.corrcoef(np.log(fit.swing), np.log(SWINGS))[0, 1] > 0.7
    assert np.sqrt(np.square(fit.swing).mean() / np.square(SWINGS).mean()) > 0.7
    assert fit.strength == pytest.approx(STRENGTH, rel=0.2)
    assert fit.width == pytest.approx(WIDTH, rel=0.2)
    assert np.rad2deg(fit.slope.mean()) == pytest.approx(mean_deg, abs=0.5)
    assert np.rad2deg(fit.slope - fit.slope.mean()).std() < 1.2


def test_without_patterns_the_same_wood_is_misread():
    """What patterns are for; readings from before have none, and no swing is made up for them."""
    swing_off, slope_off = [], []
    for _ in range(8):
        views = two_views(np.random.default_rng(), SWINGS, mean_deg=0.5)
        bare = tuple(LeafLight(view.shot, replace(view.profile, pattern=())) for view in views)
        fits = [fit_slopes(one) for one in (views, bare)]
        swing_off.append([np.abs(np.log(fit.swing / SWINGS)).mean() for fit in fits])
        slope_off.append([np.rad2deg(fit.slope).std() for fit in fits])

    swing_with, swing_without = np.mean(swing_off, axis=0)
    slope_with, slope_without = np.mean(slope_off, axis=0)

    assert fits[1].swing == pytest.approx(SWING_PRIOR, rel=0.02)
    assert swing_with < 0.3 < swing_without
    assert slope_with < 0.7 * slope_without


def test_straight_wood_with_strong_lines_shows_no_figure():
    views = two_views(np.random.default_rng(), np.full(SLICES, 1e-3), mean_deg=2.0, lines_sd=0.3)

    fit = fit_slopes(views)

    assert np.rad2deg(fit.swing).max() < 1.2
    assert fit.strength == pytest.approx(STRENGTH, rel=0.1)
    assert fit.width == pytest.approx(WIDTH, rel=0.08)


def test_a_swing_widens_and_lowers_the_highlight_as_its_mean_does():
    lit = lighting_on_board(Laid.AS_LIES, STOOD[Lamp.A], 0.5)
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    slope, swing = np.deg2rad(np.linspace(-3, 3, SLICES)), np.deg2rad(3.0)
    fibres = {
        "strength": np.asarray(STRENGTH), "width": np.asarray(WIDTH), "lean": np.asarray(0.0),
    }  # fmt: skip

    at_nodes = [
        log_respond(lit, slope + node * swing, swing=np.zeros(SLICES), **fibres) for node in nodes
    ]
    mean = weights @ np.exp(at_nodes) / weights.sum()
    found = log_respond(lit, slope, swing=np.full(SLICES, swing), **fibres)

    assert found == pytest.approx(np.log(mean), abs=0.004)


def test_the_derivatives_are_those_of_the_model():
    views = two_views(np.random.default_rng(3), SWINGS, mean_deg=1.0)
    varied = what_varies([views])
    lit = [lighting_on_board(v.shot.laid, v.profile.station, 0.5) for v in views]
    stacked = type(lit[0])(
        *(np.array([[getattr(one, name) for one in lit]]) for name in ("lamp", "eye", "share"))
    )
    at = {
        "slope": np.deg2rad(np.linspace(-2, 3, SLICES))[None],
        "strength": np.array([STRENGTH]),
        "width": np.full((1, 2), WIDTH),
        "lean": np.array([0.02]),
        "swing": SWINGS[None],
        "left": np.array([[0.3, 0.2]]),
    }
    other = np.array([[0.0, 1.0]])
    small = 1e-6

    def model(**changed):
        return model_varied(varied, stacked, other_face=other, **{**at, **changed})

    here = model()
    grown = np.exp(small)
    assert (model(slope=at["slope"] + small).seen - here.seen) / small == pytest.approx(
        here.by_slope, abs=1e-3
    )
    for name, by in (
        ("strength", here.by_strength), ("width", here.by_width), ("swing", here.by_swing),
    ):  # fmt: skip
        there = model(**{name: at[name] * grown})
        assert (there.seen - here.seen) / small == pytest.approx(by, abs=1e-3)
    there = model(lean=at["lean"] + small)
    assert (there.seen - here.seen) / small == pytest.approx(here.by_lean, abs=1e-3)
    there = model(width=at["width"] * np.exp(small * other))
    assert (there.seen - here.seen) / small == pytest.approx(here.by_face_width, abs=1e-3)
    for photo, by in enumerate(here.by_left):
        there = model(left=at["left"] * np.where(np.arange(2) == photo, grown, 1.0))
        assert (there.seen - here.seen) / small == pytest.approx(by, abs=1e-3)


def test_the_derivative_of_light_by_the_swing_is_that_of_the_light():
    lit = lighting_on_board(Laid.AS_LIES, STOOD[Lamp.A], 0.5)
    slope = np.deg2rad(np.linspace(-2, 3, SLICES))
    fibres = {
        "strength": np.asarray(STRENGTH), "width": np.asarray(WIDTH), "lean": np.asarray(0.01),
    }  # fmt: skip
    small = 1e-6

    here = respond(lit, slope, swing=SWINGS, **fibres)
    there = respond(lit, slope, swing=SWINGS * np.exp(small), **fibres)
    wider = respond(
        lit, slope, swing=SWINGS, **{**fibres, "width": np.asarray(WIDTH * np.exp(small))}
    )

    assert (there.log_light - here.log_light) / small == pytest.approx(here.by_swing, abs=1e-4)
    assert (wider.log_light - here.log_light) / small == pytest.approx(here.by_width, abs=1e-4)

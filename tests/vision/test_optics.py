"""Published and worked numbers for light on wood.

Snell's and Fresnel's laws are textbook physics (unpolarised, index 1.5). The highlight on a cone
about the fibre is that of Marschner, Westin, Arbree, Moon, "Measuring and modeling the appearance
of finished wood", ACM Transactions on Graphics 24(3), 2005; the lobe values are worked by hand
from its formula with a Gaussian of 10 degrees and the eye straight above.
"""

import numpy as np
import pytest

from vision.optics import fibre_lobe, refract, transmit


@pytest.mark.parametrize(
    ("outside", "inside"),
    [(10, 6.6478), (15, 9.9359), (30, 19.4712), (45, 28.1255), (60, 35.2644), (75, 40.0870)],
)
def test_light_bends_as_snell_says(outside, inside):
    assert np.rad2deg(refract(np.sin(np.deg2rad(outside)))) == pytest.approx(inside, abs=5e-5)


@pytest.mark.parametrize(
    ("angle", "passed"), [(0, 0.96), (30, 0.95848), (45, 0.94976), (60, 0.91081)]
)
def test_light_passes_the_surface_as_fresnel_says(angle, passed):
    assert transmit(np.sin(np.deg2rad(angle))) == pytest.approx(passed, abs=5e-6)


def lobe(lamp_deg: float, slope_deg: float, width_deg: float = 10) -> float:
    lamp = refract(np.sin(np.deg2rad(lamp_deg)))
    return float(
        fibre_lobe(
            lamp, np.zeros(1), slope=np.deg2rad(slope_deg), width=float(np.deg2rad(width_deg))
        )[0]
    )


@pytest.mark.parametrize(
    ("lamp", "slope", "strength"),
    [
        (15, 0, 0.61503),
        (15, 2, 0.38155),
        (30, 2, 0.06551),
        (30, -2, 0.31106),
        (45, 3, 0.00315),
        (45, -3, 0.09192),
    ],
)
def test_fibres_rising_toward_the_lamp_look_darker(lamp, slope, strength):
    assert lobe(lamp, slope) == pytest.approx(strength, abs=6e-6)


@pytest.mark.parametrize(
    ("lamp", "slope", "width", "log_ratio", "ratio"),
    [
        (15, 2, 10, -0.794871, 0.74888),
        (30, 1, 12, -0.540867, 0.89016),
        (40, -3, 15, 1.353280, 1.30269),
    ],
)
def test_book_over_slip_goes_as_worked_by_hand(lamp, slope, width, log_ratio, ratio):
    here, turned = lobe(lamp, slope, width), lobe(lamp, -slope, width)

    assert np.log(here / turned) == pytest.approx(log_ratio, abs=2e-5)
    assert (1 + here) / (1 + turned) == pytest.approx(ratio, abs=2e-5)


def test_without_slope_a_turned_leaf_looks_the_same():
    assert lobe(30, 0.0) == lobe(30, -0.0)

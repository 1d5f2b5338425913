"""Wavelengths, the eye, and colours of spectra under D50 for the 2 degree observer."""

from __future__ import annotations

import importlib
import os
import warnings
from functools import cache
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray

Doubles = NDArray[np.float64]

NM = np.arange(400.0, 701.0, 5.0)
"""Wavelengths of every spectrum here, nm."""
EPSILON = 216 / 24389
KAPPA = 24389 / 27
"""CIE 15:2004, the constants of CIELAB."""


def colour_science() -> ModuleType:
    """Return the reference library; missing it is a skip at home and a failure on the server."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it cannot plot
        if os.environ.get("CI"):
            return importlib.import_module("colour")
        return pytest.importorskip("colour", exc_type=ImportError)


def on_bands(nm: Doubles, values: Doubles) -> Doubles:
    """Return a spectrum at `NM`, straight between its own wavelengths; shape (61, ...)."""
    columns = np.asarray(values, np.float64).reshape(len(nm), -1)
    found = np.stack([np.interp(NM, nm, column, 0.0, 0.0) for column in columns.T], axis=1)
    return found.reshape(len(NM), *np.shape(values)[1:])


@cache
def xyz_weights() -> Doubles:
    """Return what each wavelength adds to X, Y, Z under D50, shape (61, 3); white has Y = 1."""
    colour = colour_science()
    eye = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    lamp = colour.SDS_ILLUMINANTS["D50"]
    weights = (
        on_bands(eye.wavelengths, eye.values) * on_bands(lamp.wavelengths, lamp.values)[:, None]
    )
    return weights / weights[:, 1].sum()


def to_xyz(reflectance: Doubles) -> Doubles:
    """Return X, Y, Z of reflectances, shape (..., 61), under D50."""
    return np.asarray(reflectance @ xyz_weights())


def xyz_to_lab(xyz: Doubles) -> Doubles:
    """Return L*, a*, b* (D50, 2 degrees) of X, Y, Z."""
    ratio = xyz / xyz_weights().sum(axis=0)
    f = np.where(ratio > EPSILON, np.cbrt(np.maximum(ratio, 0)), (KAPPA * ratio + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])],
        axis=-1,
    )


def lab_to_xyz(lab: Doubles) -> Doubles:
    """Return X, Y, Z of L*, a*, b* (D50, 2 degrees)."""
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    ratio = np.where(f**3 > EPSILON, f**3, (116 * f - 16) / KAPPA)
    return np.asarray(ratio * xyz_weights().sum(axis=0))


def to_lab(reflectance: Doubles) -> Doubles:
    """Return L*, a*, b* (D50, 2 degrees) of reflectances, shape (..., 61)."""
    return xyz_to_lab(to_xyz(reflectance))


def delta_e00(one: Doubles, other: Doubles) -> Doubles:
    """Return CIEDE2000 of L*a*b* values, by the reference library."""
    return np.asarray(colour_science().delta_E(one, other, method="CIE 2000"))

import numpy as np
import pytest

from vision.grid_fit import HELD, LegendreGrid, degrees_of, field_basis


def grid_axes():
    return np.linspace(-0.6, 0.7, 23), np.linspace(-1.0, 0.9, 31)


def test_a_field_on_the_grid_is_the_one_worked_out_place_by_place():
    u, v = grid_axes()
    terms = np.random.default_rng(1).normal(size=(len(degrees_of(4)[0]), 3))

    planes = LegendreGrid(u, v, 4).field(terms)

    each = field_basis(*np.meshgrid(u, v), 4) @ terms
    assert planes.transpose(1, 2, 0) == pytest.approx(each, abs=1e-12)


def test_a_field_of_lower_degree_is_worked_out_on_the_same_grid():
    u, v = grid_axes()
    terms = np.random.default_rng(2).normal(size=(len(degrees_of(2)[0]), 3))

    planes = LegendreGrid(u, v, 4).field(terms)

    each = field_basis(*np.meshgrid(u, v), 2) @ terms
    assert planes.transpose(1, 2, 0) == pytest.approx(each, abs=1e-12)


def test_the_fit_is_that_of_weighted_least_squares():
    u, v = grid_axes()
    rng = np.random.default_rng(3)
    planes, weight = rng.normal(size=(3, 31, 23)), rng.random((31, 23))
    weight[:, :4] = 0.0

    terms = LegendreGrid(u, v, 4).fit(planes, weight, 3)

    basis = field_basis(*np.meshgrid(u, v), 3).reshape(31 * 23, -1)
    root = np.sqrt(weight).ravel()[:, None]
    held = np.sqrt(HELD * weight.sum()) * np.eye(basis.shape[1])
    wanted = np.vstack([planes.reshape(3, -1).T * root, np.zeros((len(held), 3))])
    known, *_ = np.linalg.lstsq(np.vstack([basis * root, held]), wanted)
    assert terms == pytest.approx(known, abs=1e-9)

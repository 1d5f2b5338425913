"""A smooth field on a regular grid: Legendre products, fitted and worked out axis by axis.

On a grid the products of the two axes' polynomials need not be written out for every place: sums
over the grid are taken along one axis, then along the other, at a fiftieth of the arithmetic.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

HELD = 1e-6
"""Share of the weight with which terms are held toward zero where nothing is in view."""


def degrees_of(degree: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the degrees in u and in v of each term up to a total degree, in the order of terms.

    Examples
    --------
    >>> [axis.tolist() for axis in degrees_of(1)]
    [[0, 0, 1], [0, 1, 0]]
    """
    pairs = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]
    in_u, in_v = np.array(pairs, dtype=np.intp).T
    return in_u, in_v


def field_basis(u: NDArray[np.float64], v: NDArray[np.float64], degree: int) -> NDArray[np.float64]:
    """Return the Legendre products of u and v (each -1 to 1) up to a total degree, last axis."""
    pu = np.polynomial.legendre.legvander(u, degree)
    pv = np.polynomial.legendre.legvander(v, degree)
    i, j = degrees_of(degree)
    return np.asarray(pu[..., i] * pv[..., j])


class LegendreGrid:
    """Legendre products on the grid of two axes.

    Parameters
    ----------
    u, v : ndarray, shapes (columns,) and (rows,)
        Each about -1 to 1.
    degree : int
        Highest total degree.
    """

    def __init__(self, u: NDArray[np.float64], v: NDArray[np.float64], degree: int) -> None:
        self._across = np.asarray(np.polynomial.legendre.legvander(u, degree), np.float64)
        self._down = np.asarray(np.polynomial.legendre.legvander(v, degree), np.float64)
        self._across_pairs = _pairs(self._across)
        self._down_pairs = _pairs(self._down)

    def fit(
        self, planes: NDArray[np.float64], weight: NDArray[np.float64], degree: int
    ) -> NDArray[np.float64]:
        """Return the terms of weighted least squares, shape (terms, planes).

        Parameters
        ----------
        planes : ndarray, shape (planes, rows, columns)
        weight : ndarray, shape (rows, columns)
        degree : int
            At most that of the grid.
        """
        i, j = degrees_of(degree)
        size = self._across.shape[1]
        moments = (self._down_pairs.T @ (weight @ self._across_pairs)).reshape(4 * (size,))
        normal = moments[j[:, None], j[None, :], i[:, None], i[None, :]]
        normal[np.diag_indices_from(normal)] += HELD * weight.sum()
        sums = self._down.T @ ((planes * weight) @ self._across)
        return np.asarray(np.linalg.solve(normal, sums[:, j, i].T))

    def field(self, terms: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the field of such terms, shape (planes, rows, columns)."""
        degree = int(np.sqrt(2 * len(terms))) - 1
        i, j = degrees_of(degree)
        table = np.zeros((terms.shape[1], degree + 1, degree + 1))
        table[:, j, i] = terms.T
        down, across = self._down[:, : degree + 1], self._across[:, : degree + 1]
        return np.asarray(down @ table @ across.T)


def _pairs(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the products of each two columns, shape (n, columns squared)."""
    return np.asarray((values[:, :, None] * values[:, None, :]).reshape(len(values), -1))

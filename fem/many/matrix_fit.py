"""A symmetric matrix that depends smoothly on a few numbers, as a Chebyshev polynomial fitted to solved
points.

The numbers are logarithms of ratios of moduli, scaled to -1..1 over the box. A total degree limits the number
of terms. Training points are a Sobol sequence in the Chebyshev measure: the least-squares fit is well
conditioned, and points are dense at the edges of the box.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.polynomial.chebyshev import chebvander
from numpy.typing import NDArray
from scipy.stats import qmc

from fem.geometry.outline import Array

LEAST_SINGULAR = 1e-6
"""Smallest singular value kept, relative to the largest: far below the fit's own error."""


@dataclass(frozen=True)
class Shares:
    """Shares of the modes of a fitted matrix, as polynomials.

    Attributes
    ----------
    half : (d,) half-widths of the box.
    powers : (terms, d) degrees of the terms; the constant is left out.
    coefficients : (terms, modes).
    """

    half: Array
    powers: NDArray[np.int64]
    coefficients: Array

    def inside(self, points: Array) -> NDArray[np.bool_]:
        """Whether points (k, d) lie in the box, (k,)."""
        return np.all(np.abs(points) <= self.half * (1.0 + 1e-12), axis=1)

    def __call__(self, points: Array) -> Array:
        """Shares of the modes at points (k, d), shape (k, modes)."""
        return np.asarray(_terms(points, self.half, self.powers) @ self.coefficients)

    def distance_squared(self, points: Array) -> Array:
        """Squared distance of points (k, d) from the middle of the box, in half-widths, (k,)."""
        return np.asarray(np.sum((points / self.half) ** 2, axis=1))


@dataclass(frozen=True)
class MatrixFit:
    """A fitted symmetric matrix with ``size`` rows: upper triangles of ``modes`` (modes, entries) and of
    ``centre`` (entries,), the matrix at the middle of the box, where the fit is exact.
    """

    shares: Shares
    modes: Array
    centre: Array
    size: int

    def __call__(self, points: Array) -> Array:
        """Matrices at points (k, d), shape (k, size, size)."""
        return unfolded(self.centre + self.shares(points) @ self.modes, self.size)

    def rows(self, keep: NDArray[np.int64]) -> "MatrixFit":
        """The fit of some rows and columns alone."""
        place = _unpack(self.size)[np.ix_(keep, keep)]
        kept = place[np.triu_indices(len(keep))]
        return MatrixFit(
            shares=self.shares,
            modes=np.ascontiguousarray(self.modes[:, kept]),
            centre=self.centre[kept],
            size=len(keep),
        )

    def triangles(self, size: int) -> Array:
        """Modes, then the centre, as upper triangles of a larger matrix with zeros, (modes + 1, entries)."""
        wide = np.zeros((len(self.modes) + 1, size * (size + 1) // 2))
        place = _unpack(size)[: self.size, : self.size][np.triu_indices(self.size)]
        wide[:-1, place], wide[-1, place] = self.modes, self.centre
        return wide


def unfolded(upper: Array, size: int, *, out: Array | None = None) -> Array:
    """Symmetric matrices (k, size, size) from their upper triangles (k, entries), into ``out`` if given."""
    return np.take(upper, _unpack(size), axis=1, out=out, mode="clip")


def training_points(half: Array, *, degree: int) -> Array:
    """Training points, 1.5 times as many as terms, (k, d)."""
    count = int(np.ceil(1.5 * (len(_powers(len(half), degree)) + 1)))
    unit = qmc.Sobol(len(half), scramble=False).random_base2(int(np.ceil(np.log2(count + 1))))[1 : count + 1]
    return np.asarray(half * np.cos(np.pi * unit))


def fit(points: Array, matrices: Array, centre: Array, *, half: Array, degree: int) -> MatrixFit:
    """Least-squares fit through the centre.

    ``matrices`` (k, n, n) are solved at ``points`` (k, d), see `training_points`, and ``centre`` (n, n) at
    the origin; ``half`` (d,) are half-widths of the box, ``degree`` is the polynomial's total degree.
    """
    size = len(centre)
    triangle = np.triu_indices(size)
    scale = np.sqrt(np.abs(np.diag(centre)))
    scale[scale == 0.0] = 1.0
    weight = scale[triangle[0]] * scale[triangle[1]]
    middle = centre[triangle] / weight
    change = matrices[:, triangle[0], triangle[1]] / weight - middle
    left, singular, right = np.linalg.svd(change, full_matrices=False)
    kept = singular > LEAST_SINGULAR * singular[0]
    powers = _powers(len(half), degree)
    terms = _terms(points, half, powers)
    target = left[:, kept] * singular[kept]
    shares = Shares(
        half=half,
        powers=powers,
        coefficients=np.linalg.lstsq(terms, target, rcond=None)[0],
    )
    return MatrixFit(shares=shares, modes=right[kept] * weight, centre=middle * weight, size=size)


def _powers(dimensions: int, degree: int) -> NDArray[np.int64]:
    every = np.array(list(product(range(degree + 1), repeat=dimensions)))
    total = every.sum(axis=1)
    return every[(total > 0) & (total <= degree)]


def _terms(points: Array, half: Array, powers: NDArray[np.int64]) -> Array:
    """Products of Chebyshev polynomials less their value at the origin, (k, terms)."""
    degree = int(powers.max())

    def products(at: Array) -> Array:
        return np.prod([chebvander(at[:, i], degree)[:, powers[:, i]] for i in range(len(half))], axis=0)

    return np.asarray(products(points / half) - products(np.zeros((1, len(half)))))


def _unpack(size: int) -> NDArray[np.int64]:
    """Position in the upper triangle of each entry of the full matrix, (size, size)."""
    place = np.zeros((size, size), dtype=np.int64)
    upper = np.triu_indices(size)
    place[upper] = np.arange(len(upper[0]))
    return np.asarray(np.maximum(place, place.T))

"""A symmetric matrix that depends smoothly on a few numbers, as a polynomial fitted to solved points.

The numbers are logarithms of ratios of moduli. A wider range takes a higher degree; a ratio of width zero
takes no part. Training points are a Sobol sequence in a normal distribution half as wide again as that of the
draws: dense where necks are, and around nearly all of them.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.polynomial.chebyshev import chebvander
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from fem.geometry.outline import Array

REACH = 4.6
"""Half-width of the box in standard deviations of the draws; no neck of ten thousand is expected outside."""
WIDER = 1.5
"""Standard deviation of the training points over that of the draws."""
DEGREE_BY_WIDTH = 1.5
"""Further degree per unit of a ratio's half-width. Measured: with degree 2 the terms left out change the
offsets of drawn necks by a twentieth of the limit at most."""
ROUNDING = 1e-9
"""Distance outside the box that counts as rounding."""


@dataclass(frozen=True)
class Shares:
    """Shares of the modes of a fitted matrix: ``half`` (d,) are half-widths of the box, ``powers`` (terms, d)
    degrees of the terms; the constant is left out.
    """

    half: Array
    powers: NDArray[np.int64]

    def inside(self, points: Array) -> NDArray[np.bool_]:
        """Whether points (k, d) lie in the box, (k,)."""
        return np.all(np.abs(points) <= self.half + ROUNDING, axis=1)

    def __call__(self, points: Array) -> Array:
        """Products of Chebyshev polynomials less their value at the origin, (k, terms)."""
        degree = int(self.powers.max())

        def products(at: Array) -> Array:
            each = [chebvander(at[:, i], degree)[:, powers] for i, powers in enumerate(self.powers.T)]
            return np.prod(each, axis=0)

        scaled = self.scaled(points)
        return np.asarray(products(scaled) - products(np.zeros_like(scaled[:1])))

    def scaled(self, points: Array) -> Array:
        """Points (k, d) in half-widths of the box, zero where that is zero."""
        return np.asarray(points / np.where(self.half > 0.0, self.half, np.inf))

    def distance_squared(self, points: Array) -> Array:
        """Squared distance of points (k, d) from the middle of the box, in half-widths, (k,)."""
        return np.asarray(np.sum(self.scaled(points) ** 2, axis=1))


@dataclass(frozen=True)
class MatrixFit:
    """A fitted symmetric matrix with ``size`` rows: upper triangles of ``modes`` (terms, entries) and of
    ``centre`` (entries,), the matrix at the middle of the box, where the fit is exact.
    """

    shares: Shares
    modes: Array
    centre: Array
    size: int

    def __call__(self, points: Array) -> Array:
        """Matrices at points (k, d), shape (k, size, size)."""
        return unfolded(self.centre + self.shares(points) @ self.modes, self.size)

    def triangles(self, keep: NDArray[np.int64], *, size: int) -> Array:
        """Modes, then the centre, of some rows and columns, as upper triangles of a larger matrix with zeros,
        (terms + 1, entries).
        """
        wide = np.zeros((len(self.modes) + 1, size * (size + 1) // 2))
        first = np.triu_indices(len(keep))
        place = _unpack(size)[: len(keep), : len(keep)][first]
        wide[:, place] = np.vstack([self.modes, self.centre])[
            :, _unpack(self.size)[np.ix_(keep, keep)][first]
        ]
        return wide


def unfolded(upper: Array, size: int, *, out: Array | None = None) -> Array:
    """Symmetric matrices (k, size, size) from their upper triangles (k, entries), into ``out`` if given."""
    return np.take(upper, _unpack(size), axis=1, out=out, mode="clip")


def training_points(half: Array, *, degree: float) -> Array:
    """Training points in a box of half-widths ``half`` (d,), a fifth more than terms, (k, d)."""
    count = int(np.ceil(1.2 * len(_powers(half, degree))))
    sequence = qmc.Sobol(len(half), scramble=False)
    unit = sequence.random_base2(int(np.ceil(np.log2(count + 1))))[1 : count + 1]
    return np.asarray(half * WIDER / REACH * ndtri(unit))


def fit(points: Array, matrices: Array, centre: Array, *, half: Array, degree: float) -> MatrixFit:
    """Least-squares fit through the centre.

    ``matrices`` (k, n, n) are solved at ``points`` (k, d), see `training_points`, and ``centre`` (n, n) at
    the origin; ``half`` (d,) are half-widths of the box, ``degree`` is the polynomial's total degree where
    they are small.
    """
    triangle = np.triu_indices(len(centre))
    middle = centre[triangle]
    shares = Shares(half, _powers(half, degree))
    change = matrices[:, triangle[0], triangle[1]] - middle
    modes = np.asarray(np.linalg.lstsq(shares(points), change, rcond=None)[0], dtype=float)
    return MatrixFit(shares, modes, middle, len(centre))


def _powers(half: Array, degree: float) -> NDArray[np.int64]:
    """Degrees of all terms, (terms, d): those in each ratio over the highest add up to one at most."""
    highest = np.where(half > 0.0, degree + DEGREE_BY_WIDTH * half, 0.5)
    every = np.array(list(product(*(range(int(one) + 1) for one in highest))))
    return every[(every.sum(axis=1) > 0) & (every @ (1.0 / highest) <= 1.0)]


def _unpack(size: int) -> NDArray[np.int64]:
    """Position in the upper triangle of each entry of the full matrix, (size, size)."""
    place = np.zeros((size, size), dtype=np.int64)
    upper = np.triu_indices(size)
    place[upper] = np.arange(len(upper[0]))
    return np.asarray(np.maximum(place, place.T))

"""Guitar-to-guitar differences, drawn as a low-discrepancy sequence (docs/spread.md)."""

from dataclasses import dataclass
from math import ceil, log, log2, radians, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from cases.casefile.case import Case
from cases.offset.build import string_lines, string_weights
from cases.offset.scatter import deviations
from fem.geometry.outline import Array
from fem.many.batch import Necks, taken
from fem.many.moduli import Box
from fem.solve.offset import Question

REACH = 4.6
"""Half-width of the trained box, in standard deviations; no neck of ten thousand is expected outside."""
_TINY = 1e-9


@dataclass(frozen=True)
class Draws:
    """Draws of many guitars, one row each; factors are multiples of the case's own value.

    Attributes
    ----------
    multiples : (n, 8) moduli, see `fem.many.moduli.NAMES`.
    density : (n,) of the neck, for information only.
    layer : (n, pads) stiffness of the shim layers.
    bolts : (n, bolts) tension of each bolt.
    tension : (n,) total tension of the strings.
    shim, seat : (n, pads) errors of shim angle and cut seat [rad].
    reading : (n, 2) standard normal errors of the readings of action and tongue gap.
    """

    multiples: Array
    density: Array
    layer: Array
    bolts: Array
    tension: Array
    shim: Array
    seat: Array
    reading: Array

    def __len__(self) -> int:
        return len(self.tension)

    def take(self, which: slice | NDArray[np.int64]) -> "Draws":
        """Some of the guitars."""
        return taken(self, which)

    def necks(self, question: Question, angles: tuple[float, ...]) -> Necks:
        """The guitars on a pair of shims (angles in pad order) [rad]."""
        return Necks(
            multiples=self.multiples,
            friction=np.tile(np.array(question.friction), (len(self.tension), 1)),
            layer=self.layer,
            bolt_tension=self.bolts * question.bolting.bolt_tension,
            tension=self.tension * question.strings.tension,
            angles=np.array(angles) + self.shim + self.seat,
        )


def log_deviation(cov: float) -> float:
    """Standard deviation of the logarithm of a log-normal with this coefficient of variation.

    >>> round(log_deviation(0.22), 4)
    0.2174
    """
    return sqrt(log(1.0 + cov * cov))


def box_of(case: Case) -> Box:
    """Box of the ratios of moduli that a case's draws need; at least 0.1, to vary a case without scatter."""
    own = deviations(case)
    of_neck, of_board = log_deviation(own.neck), log_deviation(own.board)
    ratio = max(REACH * log_deviation(own.ratio), 0.1)
    neck = [ratio, ratio, max(REACH * sqrt(of_neck**2 + of_board**2), 0.1), ratio]
    if case.bars:
        neck.append(max(REACH * of_neck, 0.1))
    return Box(np.array(neck), np.array([ratio, ratio]))


def draw(case: Case, count: int, *, seed: int) -> Draws:
    """Draw guitars: a Sobol sequence scrambled by the seed, log-normal with the case's values as means."""
    own, scatter = deviations(case), case.scatter
    lines = string_lines(case)
    pads = len(case.shims) if case.joint.kind == "two-shim" else len(case.shims) + 1
    bolts = len(case.bolts)
    normal = _Normals(count, 11 + 3 * pads + bolts + len(lines), seed=seed)
    neck, board, block = normal.take(3).T
    across, shear, rest, block_across, block_shear = normal.take(5).T
    together = scatter.ratio_correlation
    shear, block_shear = _related(across, shear, together), _related(block_across, block_shear, together)
    e_neck, e_board = _factor(own.neck, neck), _factor(own.board, board)
    e_block = _factor(own.block, block)
    multiples = np.stack(
        [
            e_neck,
            e_neck * _factor(own.ratio, across),
            e_neck * _factor(own.ratio, shear),
            e_board,
            e_board * _factor(own.ratio, rest),
            e_block,
            e_block * _factor(own.ratio, block_across),
            e_block * _factor(own.ratio, block_shear),
        ],
        axis=1,
    )
    bolt = normal.take(bolts)
    bolt[:, 1:] = _related(bolt[:, :1], bolt[:, 1:], scatter.bolt_correlation)
    layer = normal.take(pads)
    layer[:, 1:] = _related(layer[:, :1], layer[:, 1:], scatter.layer_correlation)
    strings = _factor(own.string, normal.take(len(lines))) @ string_weights(lines)
    shim, seat = normal.take(pads), normal.take(pads)
    density = _related(neck, normal.take(1)[:, 0], scatter.e_density_correlation)
    return Draws(
        multiples=multiples,
        density=_factor(own.density, density),
        layer=_factor(own.layer, layer),
        bolts=np.stack([_factor(cov, bolt[:, k]) for k, cov in enumerate(own.bolts)], axis=1),
        tension=strings,
        shim=radians(case.tolerance.shim_deg) * shim,
        seat=radians(case.tolerance.pocket_deg) * seat,
        reading=normal.take(2),
    )


class _Normals:
    """Columns of independent standard normals, taken in order."""

    def __init__(self, count: int, columns: int, *, seed: int) -> None:
        sequence = qmc.Sobol(columns, scramble=True, rng=np.random.default_rng(seed))
        unit = sequence.random_base2(max(1, ceil(log2(max(count, 2)))))[:count]
        self._values = ndtri(np.clip(unit, _TINY, 1.0 - _TINY))
        self._next = 0

    def take(self, columns: int) -> Array:
        """The next columns, (count, columns)."""
        first, self._next = self._next, self._next + columns
        return np.asarray(self._values[:, first : self._next])


def _factor(cov: float, normal: Array) -> Array:
    """Log-normal factors with mean 1."""
    deviation = log_deviation(cov)
    return np.asarray(np.exp(deviation * normal - 0.5 * np.square(deviation)))


def _related(first: Array, other: Array, correlation: float) -> Array:
    """Standard normals from independent ones, with a correlation to the first."""
    return np.asarray(correlation * first + sqrt(1.0 - correlation**2) * other)

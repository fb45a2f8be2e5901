"""Guitar-to-guitar differences, drawn as a low-discrepancy sequence (docs/spread.md)."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, hypot, log2, radians, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from cases.casefile.case import Case
from cases.offset.scatter import deviations, factors_at, log_deviation, sources
from fem.geometry.outline import Array
from fem.many.batch import Necks, taken
from fem.many.matrix_fit import REACH
from fem.many.moduli import NAMES, Box
from fem.solve.offset import Question

_TINY = 1e-9


@dataclass(frozen=True)
class Draws:
    """Draws of many guitars, one row each; factors are multiples of the case's own value.

    Attributes
    ----------
    multiples : (n, 8) moduli, see `fem.many.moduli.NAMES`.
    density : (n,) of the neck, for information only.
    layer : (n, pads) stiffness of the shim layers; ``bedding`` that of their surfaces besides, (n, pads).
    bolts : (n, bolts) tension of each bolt.
    tension : (n,) total tension of the strings.
    shim, seat : (n, pads) errors of shim angle and cut seat [rad].
    reading : (n, 2) standard normal errors of the readings of action and tongue gap.
    """

    multiples: Array
    density: Array
    layer: Array
    bedding: Array
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
            bedding=self.bedding,
            bolt_tension=self.bolts * question.bolting.bolt_tension,
            tension=self.tension * question.strings.tension,
            angles=np.array(angles) + self.shim + self.seat,
        )


def box_of(case: Case) -> Box:
    """Box of the ratios of moduli that a case's draws need; at least 0.1, to vary a case without scatter, but
    nothing for moduli across the grain and in shear that always go together.
    """
    own, together = deviations(case), case.scatter.ratio_correlation
    of_neck, of_board, of_ratio = (log_deviation(one) for one in (own.neck, own.board, own.ratio))

    def wide(deviation: float) -> float:
        return max(REACH * deviation, 0.1)

    apart = wide(of_ratio * sqrt(0.5 * (1.0 - together))) if together < 1.0 else 0.0
    mean = wide(of_ratio * sqrt(0.5 * (1.0 + together)))
    neck = [mean, apart, wide(hypot(of_neck, of_board)), wide(of_ratio)] + [wide(of_neck)] * bool(case.bars)
    return Box(np.array(neck), np.array([mean, apart]))


def draw(case: Case, count: int, *, seed: int, first: int = 0) -> Draws:
    """Draw guitars, from the ``first`` of the sequence on: a Sobol sequence scrambled by the seed, log-normal
    with the case's values as means.
    """
    scatter, causes = case.scatter, sources(case)
    pads = len(case.shims) if case.joint.kind == "two-shim" else len(case.shims) + 1
    normal = _Normals(count, len(causes) + 2 * pads + 4, seed=seed, first=first)
    normals = normal.take(len(causes))
    factors = factors_at(causes, normals)

    def of(names: Iterable[str]) -> Array:
        return np.stack([factors.get(name, np.ones(count)) for name in names], axis=1)

    shim, seat = normal.take(pads), normal.take(pads)
    rest, spare = normal.take(2).T
    neck = next((normals[:, k] for k, one in enumerate(causes) if one.name == "neck wood"), spare)
    density = log_deviation(deviations(case).density)
    together = scatter.e_density_correlation
    related = together * neck + sqrt(1.0 - together**2) * rest
    return Draws(
        multiples=of(NAMES),
        density=np.exp(density * related - 0.5 * density**2),
        layer=of(f"layer {k}" for k in range(pads)),
        bedding=of(f"bedding {k}" for k in range(pads)),
        bolts=of(f"bolt {k}" for k in range(len(case.bolts))),
        tension=of(["strings"])[:, 0],
        shim=radians(case.tolerance.shim_deg) * shim,
        seat=radians(case.tolerance.pocket_deg) * seat,
        reading=normal.take(2),
    )


class _Normals:
    """Columns of independent standard normals, taken in order."""

    def __init__(self, count: int, columns: int, *, seed: int, first: int) -> None:
        sequence = qmc.Sobol(columns, scramble=True, rng=np.random.default_rng(seed))
        if first:
            unit = sequence.fast_forward(first).random(count)
        else:
            unit = sequence.random_base2(max(1, ceil(log2(max(count, 2)))))[:count]
        self._values = ndtri(np.clip(unit, _TINY, 1.0 - _TINY))
        self._next = 0

    def take(self, columns: int) -> Array:
        """The next columns, (count, columns)."""
        first, self._next = self._next, self._next + columns
        return np.asarray(self._values[:, first : self._next])

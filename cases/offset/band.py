"""The band of the offset: 5, 50 and 95 % points over guitars whose wood, layers, bolts and strings differ
(docs/theory-readings.md, section 15).

The offset is taken as a quadratic form of the independent causes of scatter, found from full nonlinear
solutions on the case's coarse mesh: two for each cause alone, and two with all causes together at the
most likely guitars of the two tails, which give the interaction. Its quantiles follow from its cumulants.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cases.offset.scatter import NINETY, factors_at, moduli_of, multiplied, sources
from cases.offset.solve import Solved
from fem.geometry.outline import Array
from fem.solve.flexibility import Flexibility
from fem.solve.offset import pair
from materials.errors import NeckpreloadError

STEP = 3.0**0.5
"""Each cause is moved by so many standard deviations either way, less where the joint finds no state. With
the middle these are the points of Gauss and Hermite's rule, exact for mean and slope of a quartic."""
SMALL = 2e-4
"""Change of the offset up to which the shim transfer of the case itself serves [rad]."""


@dataclass(frozen=True)
class QuadraticForm:
    """``constant + slope . z + z . curvature z`` of independent standard normals z, and on top ``cubic``
    times the cube of z along the slope.
    """

    constant: float
    slope: Array
    curvature: Array
    cubic: float = 0.0

    @property
    def cumulants(self) -> tuple[float, float, float, float]:
        """First four cumulants, without the cubic term.

        >>> QuadraticForm(0.0, np.zeros(3), np.eye(3)).cumulants  # chi-square with three degrees of freedom
        (3.0, 6.0, 24.0, 144.0)
        """
        b, a = self.slope, self.curvature
        square = a @ a
        return (
            self.constant + float(np.trace(a)),
            float(b @ b + 2.0 * np.trace(square)),
            float(6.0 * b @ a @ b + 8.0 * np.trace(square @ a)),
            float(48.0 * b @ square @ b + 48.0 * np.trace(square @ square)),
        )

    def quantile(self, normal: float) -> float:
        """Point below which the share of a standard normal below ``normal`` lies: expansion of Cornish and
        Fisher to the fourth cumulant.
        """
        mean, variance, third, fourth = self.cumulants
        if variance == 0.0:
            return mean
        width = float(np.sqrt(variance))
        skew, excess = third / width**3, fourth / width**4
        z = normal
        bent = z + (z**2 - 1.0) * skew / 6.0
        bent += (z**3 - 3.0 * z) * excess / 24.0 - (2.0 * z**3 - 5.0 * z) * skew**2 / 36.0
        return mean + width * bent + self.cubic * z**3


@dataclass(frozen=True)
class OffsetBand:
    """5, 50 and 95 % points of the offset [rad]; for each cause its standard deviation and the change for one
    standard deviation more of it, largest first.
    """

    low: float
    median: float
    high: float
    scatter: tuple[tuple[str, float, float], ...]


def offset_band(solved: Solved) -> OffsetBand:
    """Band of the offset of a solved case, or of the taper of its one shim."""
    found = sources(solved.case)
    changed = offset_changes(solved)

    def at(normals: Array) -> float:
        return changed({name: float(one) for name, one in factors_at(found, normals).items()})

    form = quadratic_form(at, len(found))
    own = np.sqrt(form.slope**2 + 2.0 * np.diag(form.curvature) ** 2)
    each = zip((one.name for one in found), own.tolist(), form.slope.tolist(), strict=True)
    ranked = sorted(each, key=lambda one: -one[1])
    low, median, high = (solved.offset.offset + form.quantile(z) for z in (-NINETY, 0.0, NINETY))
    return OffsetBand(low, median, high, tuple(ranked))


def offset_changes(solved: Solved) -> Callable[[dict[str, float]], float]:
    """The change of the offset by factors on the case's quantities [rad], from full solutions on the coarse
    mesh; the fine one would move the points by up to 0.002 deg.
    """
    question, here, transfer = solved.on_coarse, solved.coarse.pair, solved.offset.transfer
    base = question.misfit(here.strung)
    which = question.varied

    # most causes leave the woods alone
    @lru_cache(maxsize=1)
    def of_woods(moduli: tuple[tuple[str, float], ...]) -> Flexibility:
        return question.flexibility.with_moduli(dict(moduli)) if moduli else question.flexibility

    def turned(by: float) -> tuple[float, ...]:
        return tuple(angle + (by if k == which else 0.0) for k, angle in enumerate(here.angles))

    def changed(factors: dict[str, float]) -> float:
        asked = multiplied(question, factors, flexibility=of_woods(tuple(moduli_of(factors).items())))
        at = pair(asked, here.angles, start=here)
        miss = asked.misfit(at.strung) - base
        by = -miss / transfer
        if abs(by) < SMALL:
            return by
        left = asked.misfit(pair(asked, turned(by), start=at).strung) - base
        return by - left * by / (left - miss)

    return changed


def quadratic_form(function: Callable[[Array], float], count: int) -> QuadraticForm:
    """The form that follows a function of ``count`` standard normals along each of them, and at the most
    likely points of both tails.

    Causes interact in proportion to the product of their slopes: one number, from the two tails.
    """
    middle = function(np.zeros(count))
    slope, own = np.zeros(count), np.zeros(count)
    for k in range(count):
        step, up, down = _both_ways(function, np.eye(count)[k])
        slope[k], own[k] = (up - down) / (2.0 * step), (up + down - 2.0 * middle) / (2.0 * step**2)
    steepest = float(np.linalg.norm(slope))
    plain = QuadraticForm(middle, slope, np.diag(own))
    if count < 2 or steepest == 0.0:
        return plain
    along = slope / steepest
    step, up, down = _both_ways(function, along, step=NINETY)
    apart = 1.0 - float(np.sum(along**4))
    bend = (up + down - 2.0 * middle) / (2.0 * step**2) - float(own @ along**2)
    cubic = ((up - down) / (2.0 * step) - steepest) / step**2
    together = bend / apart * (np.outer(along, along) - np.diag(along**2)) if apart > 1e-6 else 0.0
    return QuadraticForm(middle, slope, np.diag(own) + together, cubic)


def _both_ways(
    function: Callable[[Array], float], along: Array, *, step: float = STEP
) -> tuple[float, float, float]:
    """Step and values at ``step`` either way; a shorter step where a guitar that far out finds no state."""
    try:
        return step, function(step * along), function(-step * along)
    except NeckpreloadError:
        if step < 0.2:
            raise
        return _both_ways(function, along, step=0.5 * step)

"""Creep of wood: how much its deflection grows under a permanent load.

Phi(t) is creep over elastic deflection. The figures are for structural softwood; no creep series for the
hardwoods of necks was found. Numbers in brackets: `sources.md`.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from materials.errors import MaterialError

# Low, middle, high: relative creep 0.3 to 1 in 7 to 8 years in heated or sheltered air, 0.6 at low load
# [15], found.
CREEP_BAND = (0.3, 0.6, 1.0)
# Across the grain and in shear creep is greater (GTR-190 p. 5-39 [2], found); the factor 1.5 to 2 is an
# assumption.
ACROSS_GRAIN_FACTOR = 1.75
ACROSS_GRAIN_BAND = (1.5, 2.0)

DESIGN_LIFE_YEARS = 50.0
# Time at which the curve turns straight on a log axis. A choice, no source: in the trade's experience most of
# the settling comes in the first days.
FIRST_TIME_YEARS = 1.0 / 365.25
_RETARDATION_TIMES = tuple(float(t) for t in np.logspace(-3.0, 2.0, 11))


@dataclass(frozen=True)
class KelvinChain:
    """Springs in parallel with dashpots, in series: phi(t) = sum a_i (1 - exp(-t / tau_i)).

    `retardation_years` are tau_i [years], `weights` a_i [-]; all are >= 0, so that creep never decreases.
    """

    retardation_years: tuple[float, ...]
    weights: tuple[float, ...]

    def at(self, years: float) -> float:
        """Return phi at a time under load [years]."""
        return math.fsum(
            a * -math.expm1(-years / tau) for a, tau in zip(self.weights, self.retardation_years, strict=True)
        )


def log_time_curve(years: float | NDArray[np.float64], *, k_def: float) -> NDArray[np.float64]:
    """Return the curve phi(t) = k_def ln(1 + t / t1) / ln(1 + 50 / t1), t1 = one day, [-] as `years`.

    It reaches k_def at 50 years. The form is a choice (derived, no source), straight on a log axis after
    a few days.
    """
    ratio = np.log1p(np.asarray(years, dtype=float) / FIRST_TIME_YEARS) / math.log1p(
        DESIGN_LIFE_YEARS / FIRST_TIME_YEARS
    )
    return np.asarray(k_def * ratio)


@cache
def kelvin_chain(*, k_def: float = 0.6) -> KelvinChain:
    """Return the chain fitted by non-negative least squares to `log_time_curve`, scaled to k_def at 50 years.

    Parameters
    ----------
    k_def : Creep over elastic deflection after 50 years [-], 0 to 4.

    Raises `MaterialError`: k_def out of range.
    """
    if not 0.0 <= k_def <= 4.0:
        raise MaterialError(
            f"k_def {k_def:g} is outside 0 to 4; EN 1995-1-1 has 0.6 for wood in a heated room"
        )
    times = np.logspace(-3.0, math.log10(DESIGN_LIFE_YEARS), 200)
    shapes = -np.expm1(-times[:, None] / np.asarray(_RETARDATION_TIMES)[None, :])
    weights, _ = nnls(shapes, log_time_curve(times, k_def=1.0))
    unit = KelvinChain(_RETARDATION_TIMES, tuple(float(a) for a in weights))
    scale = k_def / unit.at(DESIGN_LIFE_YEARS)
    return KelvinChain(_RETARDATION_TIMES, tuple(scale * a for a in unit.weights))

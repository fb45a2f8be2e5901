"""Follow the last guitars of a log: by how much they lie beside the model that was learned from all.

Season and wood move on slowly, and what was learned is the mean of all guitars. The weighted mean of what
that leaves, with the weights of the control chart, says how far the shop has come since.
"""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.control_chart import SMOOTHING
from cases.bench.learning.guitar_row import Row
from cases.bench.learning.stiffness_test import KEYS, case_moduli, modulus_scatter
from cases.bench.shims.dry_check import BOLTED
from cases.bench.shims.strung_neck import WOODS, Bench, Effect
from cases.casefile.case import Case
from cases.offset.calibration import DEFAULTS, LEAST_FACTOR, Calibration

Array = NDArray[np.float64]


def left_over(row: Row, mean: Array) -> Array:
    """What the learned parameters leave of a guitar's saddle height [mm] and kink at pitch [deg], (2,).

    What its bolted kinks tell of seats and shims, and a test of its neck, is taken out: the program has used
    both. nan where not measured.

    ``mean`` : posterior minus prior mean of the parameters, (4,).
    """
    left = row.residuals - row.tested - row.slopes @ mean
    covariance = row.scatter + np.diag(row.errors**2)
    read = BOLTED + np.flatnonzero(np.isfinite(left[BOLTED:]))
    told = np.linalg.solve(covariance[np.ix_(read, read)], left[read])
    return np.asarray(left[:BOLTED] - covariance[:BOLTED, read] @ told)


def told_by_test(case: Case, effects: Sequence[Effect], neck: Calibration) -> Array:
    """Change of `Strung.numbers` by the tested woods of a neck, (3,) or (4,)."""
    tested = zip(KEYS, case_moduli(case), modulus_scatter(case), strict=True)
    slopes = {one.name: one for one in effects}
    change = np.zeros(len(effects[0].slope))
    for key, modulus, scatter in tested:
        effect, x = slopes[WOODS[key]], np.log(neck.value(key) / modulus) / scatter
        change += effect.slope * x + effect.curvature * x**2
    return change


def weighted_mean(rows: Iterable[Row], mean: Array, *, start: Array) -> Array:
    """Exponentially weighted mean of `left_over`, (2,), of one row a guitar in the order of the log.

    ``start`` : before the first of them; zeros, so that few guitars shift little.
    """
    beside = start
    for row in rows:
        left = left_over(row, mean)
        beside = np.where(np.isfinite(left), (1.0 - SMOOTHING) * beside + SMOOTHING * left, beside)
    return beside


def moved_by(bench: Bench, beside: Array, mean: Array) -> Array:
    """Change of the four learned parameters that moves saddle height and kink at pitch by ``beside``, (4,).

    The kink goes to the stretch factor, since a kink bias would move the bolted kink too, and a dry reading
    would take most of it back; what would leave no stretch goes to the kink bias.
    """
    change = np.zeros(4)
    change[1] = max(beside[1] / bench.stretch_deg, min(LEAST_FACTOR - DEFAULTS[1] - mean[1], 0.0))
    change[0] = beside[1] - bench.stretch_deg * change[1]
    change[3] = -beside[0] / (np.radians(1.0) * bench.geometry.reach)
    return change

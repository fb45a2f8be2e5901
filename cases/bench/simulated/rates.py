"""Rates, reliability of chances, and alarms of simulated workshops."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.control_chart import ewma_signals, limits_of
from cases.bench.learning.trend import false_alarms_a_month
from cases.bench.simulated.simulate import Simulation, WorkshopResult, workshop
from cases.bench.simulated.ways import WAYS, Way

Array = NDArray[np.float64]
KINDS = ("as in the prior", "body and creep")
"""Kinds of hidden truth, by the seed's last bit."""
BINS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.98, 1.0)
"""Limits of the calculated chance, in each of which the rate is counted."""


@dataclass(frozen=True)
class Rates:
    """First-time-right rates of one way of working over many workshops.

    Attributes
    ----------
    median, worst, kinds : of the share of right guitars; ``kinds`` : medians by `KINDS`.
    trim, trim_kinds : the same medians with the saddle trimmed where only the action is out.
    difference, worst_difference : calculated chance minus rate, mean and largest over the workshops.
    by_gap : share of the wrong guitars whose tongue gap was out of tolerance.
    changed : share of the guitars of which a shim was changed while dry.
    reliability : by kind, (bins, 3): mean calculated chance, rate, guitars.
    """

    way: Way
    median: float
    worst: float
    kinds: tuple[float, float]
    trim: float
    trim_kinds: tuple[float, float]
    difference: float
    worst_difference: float
    by_gap: float
    changed: float
    reliability: tuple[Array, Array]


def rates(at: Simulation, way: Way, *, seeds: Sequence[int]) -> Rates:
    """Fit many workshops with one way of working; needs seeds of both kinds."""
    first = at.settings.judged_from
    results = [_judged(workshop(at, way, seed=seed), first) for seed in seeds]
    right, trim = (np.array([getattr(one, name).mean() for one in results]) for name in ("right", "trim"))
    difference = np.array([one.chance.mean() for one in results]) - right
    of_kind = [[k for k, seed in enumerate(seeds) if seed % 2 == kind] for kind in (0, 1)]
    limit = at.linear.case.tolerance.tongue_gap_mm
    wrong = np.concatenate([np.abs(one.gap_mm)[~one.right] for one in results])
    even, odd = (_reliability([results[k] for k in chosen]) for chosen in of_kind)

    def medians(values: Array) -> tuple[float, float]:
        one, other = (float(np.median(values[chosen])) for chosen in of_kind)
        return one, other

    return Rates(
        way=way,
        median=float(np.median(right)),
        worst=float(right.min()),
        kinds=medians(right),
        trim=float(np.median(trim)),
        trim_kinds=medians(trim),
        difference=float(difference.mean()),
        worst_difference=float(difference[np.argmax(np.abs(difference))]) if way.program else float("nan"),
        by_gap=float(np.mean(wrong > limit)),
        changed=float(np.mean([np.mean(one.changed > 0) for one in results])),
        reliability=(even, odd),
    )


def _judged(result: WorkshopResult, first: int) -> WorkshopResult:
    """A result without its first guitars."""
    kept = {name: value[first:] for name, value in vars(result).items()}
    return replace(result, **kept)


def _reliability(results: Sequence[WorkshopResult]) -> Array:
    chance, right = (np.concatenate([getattr(one, name) for one in results]) for name in ("chance", "right"))
    rows = []
    for low, high in pairwise(BINS):
        chosen = (chance >= low) & (chance < high + (high == 1.0))
        count = int(chosen.sum())
        mean = (float(chance[chosen].mean()), float(right[chosen].mean())) if count else (np.nan, np.nan)
        rows.append((*mean, count))
    return np.array(rows)


@dataclass(frozen=True)
class Alarms:
    """Alarms of the chart of the action's residual, as shares of the workshops.

    ``flagged`` : with an alarm within ``within`` guitars of a shift by one standard deviation; ``false`` :
    with an alarm before the shift, by chance.
    """

    flagged: float
    false: float
    within: int
    before: int
    workshops: int

    @property
    def false_a_month(self) -> float:
        """False alarms a month at 40 guitars a day, 21 days."""
        each = float(-np.log(max(1.0 - self.false, 1e-6)) / self.before)
        return false_alarms_a_month(1.0 / each) if each else 0.0


def alarms(at: Simulation, *, seeds: Sequence[int], within: int = 20) -> Alarms:
    """Shift each workshop by one standard deviation of its residual, and chart it like `trend`.

    Predictions are those of the model only: repeated calibration would learn the shift.
    """
    where = at.settings.shift_at
    flagged = false = 0
    for seed in seeds:
        values = workshop(at, WAYS["model"], seed=seed, guitars=where + within).residual_mm
        values[where:] += float(values[:where].std(ddof=1))
        signals = ewma_signals(list(values), limits_of(list(values)))
        flagged += any(signal.raised >= where for signal in signals)
        false += any(signal.raised < where for signal in signals)
    count = len(seeds)
    return Alarms(flagged / count, false / count, within, where, count)

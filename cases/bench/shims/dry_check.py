"""From the kink of the bolted joint, read before the strings go on, to "string up" or another shim.

The reading sees both seats and both shims at once. One linear Gaussian update with the covariances of
`strung_neck` gives what is then expected at pitch (docs/bench-theory.md, section 3).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import degrees, hypot, radians, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from cases.bench.shims.bivariate_normal import both_within
from cases.bench.shims.choose_pair import (
    action_gap_rows,
    body_included,
    deviation,
    pair_forecast,
    prediction,
)
from cases.bench.shims.geometry import Geometry
from cases.bench.shims.readings import FEELER_MM
from cases.bench.shims.strung_neck import Bench, Strung, Uncertainty, covariance_without_shims
from cases.offset.calibration import DEFAULTS, LEARNED
from materials.errors import InputError

Array = NDArray[np.float64]
MOST_READINGS = 5
SAME_EACH_TIME_MM = 0.005
"""Error of the straightedge and of the crowns under it, the same in every reading [mm]: an assumption, no
source."""
RULE_MM = 0.15
"""Error of a height read with a rule at the saddle, one standard deviation [mm]: an assumption, no source."""
WORTH = 0.01
"""Smallest gain of chance for which one more shim is changed (our choice)."""
ODD = 3.5
"""Standard deviations beyond which a reading is not explained by the usual errors (our choice)."""
TRIED = 12
"""Number of pairs, nearest to the target first, of which the chance is calculated."""
LEANING_DEG = 0.1
"""Change of the lower shim by which tongue gap and kink are related [deg]."""
BOLTED, TUNED_DOWN = 2, 3
"""Places of the two kinks in `Strung.numbers`."""


@dataclass(frozen=True)
class DryReading:
    """Mean of the readings of one kink on one pair.

    ``pair_deg`` : angles printed on the shims; ``kink_deg``, ``error_deg`` : mean and its standard deviation;
    ``place`` : `BOLTED` or `TUNED_DOWN`.
    """

    pair_deg: tuple[float, float]
    kink_deg: float
    error_deg: float
    count: int = 1
    place: int = BOLTED


@dataclass(frozen=True)
class DryPair:
    """A pair as expected after the reading: errors of action and tongue gap [mm], and the chance that it is
    right; where the body is unknown, that its gap alone is.
    """

    upper_deg: float
    lower_deg: float
    action_off_mm: float
    gap_off_mm: float
    bolted_kink_deg: float
    """Kink expected of the bolted joint, before the strings go on [deg]."""
    chance: float


@dataclass(frozen=True)
class DryCheck:
    """Result of a dry check.

    Attributes
    ----------
    kink_deg, error_deg, count : mean of the last readings, and its standard deviation.
    expected_deg, expected_error_deg : the kink expected before it was read, and its standard deviation.
    chance_before : chance of the pair in the guitar before the reading.
    stay : the pair in the guitar; ``change`` : the pair to change to, None to string up.
    gap_sd_mm : standard deviation of the tongue gap of the pair in the guitar, (before, after) the reading.
    body_included : whether the chances include the action.
    warnings : one sentence each.
    """

    kink_deg: float
    error_deg: float
    count: int
    expected_deg: float
    expected_error_deg: float
    chance_before: float
    stay: DryPair
    change: DryPair | None
    gap_sd_mm: tuple[float, float]
    body_included: bool
    warnings: tuple[str, ...] = ()

    @property
    def best(self) -> DryPair:
        """The pair to string up."""
        return self.change or self.stay

    @property
    def odd(self) -> bool:
        """Whether the usual errors do not explain the reading."""
        return abs(self.kink_deg - self.expected_deg) > ODD * self.expected_error_deg


def dry_reading(
    pair_deg: tuple[float, float], kinks: Sequence[float], geometry: Geometry, *, place: int = BOLTED
) -> DryReading:
    """Mean of one to five readings of a kink [deg].

    Its error is that of the feeler, or their scatter if that is larger, over the root of their
    number, and the error that all readings share. Raises `InputError` for another number of readings.
    """
    values = np.asarray(kinks, dtype=float)
    if not 1 <= values.size <= MOST_READINGS:
        raise InputError(
            f"--bolted: {values.size} readings of one joint; 1 to {MOST_READINGS} are allowed. Give the last "
            f"{MOST_READINGS}."
        )
    scatter = float(values.std(ddof=1)) if values.size > 1 else 0.0
    single = max(degrees(FEELER_MM / geometry.tongue_lever), scatter)
    error = hypot(single / sqrt(values.size), degrees(SAME_EACH_TIME_MM / geometry.tongue_lever))
    return DryReading(pair_deg, float(values.mean()), error, int(values.size), place)


def kink_of_gap(gap_mm: float, at: Strung, bench: Bench) -> float:
    """Bolted kink [deg] that leaves a tongue gap of ``gap_mm`` on a pair.

    The last fret alone shows less than the least-squares line of the tongue; the model relates the two.
    """
    level, leaning = bench.strung(0.0, 0.0), bench.strung(0.0, -LEANING_DEG)
    per_gap = (leaning.bolted_kink_deg - level.bolted_kink_deg) / (
        leaning.bolted_gap_mm - level.bolted_gap_mm
    )
    return at.bolted_kink_deg + per_gap * (gap_mm - at.bolted_gap_mm)


def line_off(
    bench: Bench, reading_mm: float, line_mm: float, at: Strung, uncertainty: Uncertainty
) -> tuple[float, float]:
    """Bolted shaft line at the saddle: measured minus expected, and its standard deviation [mm].

    ``line_mm`` : height over the top of a straightedge on the frets up to the joint. The error of the
    pocket's reading is in it, and nothing of wood or strings.
    """
    gains = bench.gains(at.upper_deg, at.lower_deg)[0]
    learned = uncertainty.prior
    if bench.calibration:
        learned = bench.calibration.learned_covariance(learned)
    shim_deg = bench.case.tolerance.shim_deg
    parts = (
        RULE_MM,
        uncertainty.reading_mm,
        uncertainty.seats_deg * gains[1],
        shim_deg * float(np.hypot(*gains)),
        bench.geometry.fall(sqrt(learned[3, 3])),
    )
    return line_mm - reading_mm - at.bolted_line_mm, hypot(*map(float, parts))


class _Belief:
    """Normal distribution of the deviations of a guitar: `Strung.numbers` [mm, deg], then each shim's error
    [deg].
    """

    def __init__(self, bench: Bench, at: Strung, uncertainty: Uncertainty, *, shims: int) -> None:
        self.gains = bench.gains(at.upper_deg, at.lower_deg)
        self.count = len(self.gains)
        base = covariance_without_shims(bench, at, uncertainty, gains=self.gains)
        self.mean = np.zeros(self.count + shims)
        if bench.calibration:
            scale, extra = np.ones(self.count), np.zeros(self.count)
            scale[:2], extra[:2] = bench.calibration.scale, bench.calibration.extra
            base = base * np.outer(scale, scale) + np.diag(extra**2)
            learned = np.array([bench.calibration.value(name) for name in LEARNED]) - DEFAULTS
            # a bench applies what was learned to saddle and kink at pitch only
            self.mean[2 : self.count] = (bench.learned_rows(at) @ learned)[2:]
        shim = bench.case.tolerance.shim_deg**2
        self.covariance = block_diag(base, shim * np.eye(shims))

    def row(self, number: int, shims: tuple[int | None, int | None]) -> Array:
        """One of the numbers with two of the shims, as a row over all deviations; None for a shim that is yet
        to go in.
        """
        row = np.zeros(len(self.mean))
        row[number] = 1.0
        for pad, one in enumerate(shims):
            if one is not None:
                row[self.count + one] += self.gains[number, pad]
        return row

    def update(self, row: Array, off: float, error: float) -> tuple[float, float]:
        """Learn that ``row`` deviates by ``off``; return what was expected of it: mean and deviation."""
        before, spread = float(row @ self.mean), float(row @ self.covariance @ row)
        gain = self.covariance @ row / (spread + error**2)
        self.mean = self.mean + gain * (off - before)
        self.covariance = self.covariance - np.outer(gain, row @ self.covariance)
        return before, sqrt(spread + error**2)

    def at_pitch(self, shims: tuple[int | None, int | None], shim_deg: float) -> tuple[Array, Array]:
        """Mean (2,) and covariance (2, 2) of saddle and misfit, as `row`."""
        rows = np.array([self.row(number, shims) for number in (0, 1)])
        fresh = np.zeros((2, 2))
        for pad, one in enumerate(shims):
            if one is None:
                fresh += shim_deg**2 * np.outer(self.gains[:2, pad], self.gains[:2, pad])
        return rows @ self.mean, rows @ self.covariance @ rows.T + fresh


def dry_check(
    bench: Bench,
    reading_mm: float,
    readings: Sequence[DryReading],
    uncertainty: Uncertainty,
    *,
    correction: float = 0.0,
) -> DryCheck:
    """Decide between the pair in the guitar and another one.

    Parameters
    ----------
    reading_mm : mean reading of the bare pocket.
    readings : in their order, the last on the pair now in the guitar. A shim that stays keeps its error, a
        new one brings its own.
    uncertainty : of the guitar, as for its pair.
    correction : angle of the lower shim that fills the gaps under the squares [deg].
    """
    upper, lower = now = readings[-1].pair_deg
    at = bench.strung(upper, lower - correction)
    shims = tuple(pieces_of([one.pair_deg for one in readings]))
    belief = _Belief(bench, at, uncertainty, shims=1 + max(max(pair) for pair in shims))
    shim_deg = bench.case.tolerance.shim_deg
    known = body_included(bench)
    half = np.array([bench.case.tolerance.action_mm if known else np.inf, bench.case.tolerance.tongue_gap_mm])
    to_errors = action_gap_rows(bench.geometry)

    def forecast(pair_deg: tuple[float, float]) -> DryPair:
        model = bench.strung(pair_deg[0], pair_deg[1] - correction)
        above, below = (
            shim if new == old else None for shim, new, old in zip(shims[-1], pair_deg, now, strict=True)
        )
        mean, spread = belief.at_pitch((above, below), shim_deg)
        off = deviation(bench, reading_mm, model) + to_errors @ mean
        kink = model.bolted_kink_deg + float(belief.row(BOLTED, (above, below)) @ belief.mean)
        chance = both_within(off, to_errors @ spread @ to_errors.T, half)
        return DryPair(*pair_deg, float(off[0]), float(off[1]), kink, chance)

    def gap_sd() -> float:
        return float(to_errors[1, 1] * sqrt(belief.at_pitch(shims[-1], shim_deg)[1][1, 1]))

    chance_before, sd_before = forecast(now).chance, gap_sd()
    expected, spread = 0.0, 0.0
    for one, pieces in zip(readings, shims, strict=True):
        model = bench.strung(one.pair_deg[0], one.pair_deg[1] - correction).numbers[one.place]
        off = one.kink_deg - float(model)
        expected, spread = belief.update(belief.row(one.place, pieces), off, one.error_deg)
        expected += float(model)
    stay = forecast(now)
    last = readings[-1]
    return DryCheck(
        kink_deg=last.kink_deg,
        error_deg=last.error_deg,
        count=last.count,
        expected_deg=expected,
        expected_error_deg=spread,
        chance_before=chance_before,
        stay=stay,
        change=_better(bench, stay, [forecast(pair) for pair in _nearest(bench, stay)]),
        gap_sd_mm=(sd_before, gap_sd()),
        body_included=known,
    )


def dry_prediction(bench: Bench, reading_mm: float, one: DryPair, *, correction: float) -> dict[str, float]:
    """Return what a dry check expects of a pair, readings included, for the logbook, by kind and unit."""
    geometry, setup = bench.geometry, bench.case.setup
    model = pair_forecast(bench, reading_mm, (one.upper_deg, one.lower_deg), correction=correction)
    kink = bench.target_deg + degrees(one.gap_off_mm / geometry.tongue_lever)
    raised = one.action_off_mm - (model.action_bass_mm - setup.action_bass_mm)
    expected = replace(
        model,
        action_bass_mm=setup.action_bass_mm + one.action_off_mm,
        action_treble_mm=setup.action_treble_mm + one.action_off_mm,
        saddle_clearance_mm=model.saddle_clearance_mm + raised / geometry.share,
        kink_deg=kink,
        tongue_gap_mm=model.tongue_gap_mm + radians(kink - model.kink_deg) * geometry.tongue_lever,
        bolted_kink_deg=one.bolted_kink_deg,
        chance=one.chance if body_included(bench) else None,
    )
    return prediction(expected)


def pieces_of(pairs: Sequence[tuple[float, float]]) -> Iterator[tuple[int, int]]:
    """Number of the upper and lower shim of each pair in turn, from 0; another angle is another shim."""
    known: list[tuple[int, float]] = []
    current: list[int | None] = [None, None]
    for pair in pairs:
        for pad, angle in enumerate(pair):
            at = current[pad]
            if at is None or known[at][1] != angle:
                known.append((pad, angle))
                current[pad] = len(known) - 1
        assert current[0] is not None
        assert current[1] is not None
        yield current[0], current[1]


def _nearest(bench: Bench, stay: DryPair) -> Iterator[tuple[float, float]]:
    """Pairs in stock with the smallest expected errors relative to their tolerances, by the gains."""
    stock = np.array(bench.case.stock.angles_deg())
    tolerance = bench.case.tolerance
    rows = action_gap_rows(bench.geometry) @ bench.gains(*bench.reference_deg)[:2]
    upper, lower = np.meshgrid(stock, stock, indexing="ij")
    change = np.stack([upper - stay.upper_deg, lower - stay.lower_deg])
    off = np.array([stay.action_off_mm, stay.gap_off_mm])[:, None, None] + np.einsum(
        "ij,jkl->ikl", rows, change
    )
    cost = (off[0] / tolerance.action_mm) ** 2 + (off[1] / tolerance.tongue_gap_mm) ** 2
    one_shim = (np.abs(change[0]) < 1e-9) | (np.abs(change[1]) < 1e-9)
    for chosen in (one_shim, ~one_shim):
        order = np.argsort(np.where(chosen, cost, np.inf), axis=None)[: TRIED // 2]
        for row, column in zip(*np.unravel_index(order, cost.shape), strict=True):
            if np.abs(change[:, row, column]).max() > 1e-9 and chosen[row, column]:
                yield float(stock[row]), float(stock[column])


def _better(bench: Bench, stay: DryPair, others: Sequence[DryPair]) -> DryPair | None:
    """The pair of the highest chance; each shim more to change must be worth it.

    Where the body is unknown only the lower shim is changed: the gap alone would allow any action.
    """
    best, gain = None, 0.0
    for one in others:
        if not body_included(bench) and one.upper_deg != stay.upper_deg:
            continue
        changed = (one.upper_deg != stay.upper_deg) + (one.lower_deg != stay.lower_deg)
        worth = one.chance - stay.chance - WORTH * changed
        if worth > gain:
            best, gain = one, worth
    return best

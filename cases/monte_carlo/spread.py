"""How often one pair of shims is right when every piece of wood differs (docs/spread.md)."""

import hashlib
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field, fields, replace
from importlib.metadata import version
from math import degrees
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.casefile.files import opened
from cases.monte_carlo.draws import Draws
from cases.monte_carlo.reduced_model import Built, reduced_model
from cases.monte_carlo.solve_necks import Task, begun, beyond_limit, limit_deg
from cases.monte_carlo.success_rate import Aims, Rate, rates
from cases.offset.solve import one_thread, with_known_body
from cases.result import Result
from fem.geometry.outline import Array
from fem.many.batch import Bench, bench
from fem.many.moduli import NAMES
from fem.many.offsets import Outcome, outcomes
from fem.many.start import start_of
from fem.results.reading import string_height
from fem.solve.offset import find_offset, pair
from materials.errors import InputError

LEAST_NECKS, MOST_NECKS = 16, 1_000_000
"""A million necks need 0.5 GB; their rates have a sampling error below 0.1 %, with 95 % confidence."""
MOST_WORKERS = 256
BLOCK = 2**14
"""Guitars drawn again or written at a time, so that memory holds few more numbers than the result's own."""
READINGS = ("offset_deg", "residual_kink_deg", "action_error_mm", "tongue_gap_mm")
"""Columns with a distribution in the result."""
MEASURED_BOLTS_SHARE, MOST_MEASURED_BOLTS = 10, 10_000
"""The rate with measured bolts comes from one guitar in so many, solved again, at most from so many."""


@dataclass(frozen=True)
class Distribution:
    """Median, 90 % band of the guitars, mean and standard deviation, in the unit of the field's name."""

    median: float
    low: float
    high: float
    mean: float
    deviation: float

    @classmethod
    def of(cls, values: Array) -> "Distribution":
        """Distribution of some values."""
        low, median, high = (float(x) for x in np.quantile(values, [0.05, 0.5, 0.95]))
        return cls(median, low, high, float(values.mean()), float(values.std()))


@dataclass(frozen=True)
class Trust:
    """Accuracy of the reduced model on held-out guitars: their number, the largest error [deg], the same over
    its limit, and the number of guitars whose error estimate covers the error.

    Guitars that a spread solves in full for their error estimate are not among them.
    """

    guitars: int
    largest_error_deg: float
    share_of_limit: float
    covered: int

    @property
    def passed(self) -> bool:
        """Whether there are such guitars, none exceeds its limit and at most one estimate is too small."""
        return self.guitars > 0 and self.share_of_limit <= 1.0 and self.covered >= self.guitars - 1


@dataclass(frozen=True)
class Spread(Result):
    """Result of the study. Comparisons of two results ignore times and table.

    Attributes
    ----------
    upper_deg, lower_deg : the fixed pair, the stock's nearest to the case's own answer.
    case_offset_deg : offset of the case itself.
    offset_deg : offset that each guitar would need.
    residual_kink_deg, action_error_mm, tongue_gap_mm : on the fixed pair with a preset saddle.
    rates : first-time-right rates, see docs/spread.md.
    in_full : number of guitars solved in full.
    unsolved : number of guitars without equilibrium, which count as wrong.
    tolerance_mm : of action and tongue gap.
    columns : values of each guitar, by name.
    """

    version: str
    case: str
    case_sha256: str
    seed: int
    necks: int
    upper_deg: float | None
    lower_deg: float
    case_offset_deg: float
    offset_deg: Distribution
    residual_kink_deg: Distribution
    action_error_mm: Distribution
    tongue_gap_mm: Distribution
    rates: tuple[Rate, ...]
    in_full: int
    unsolved: int
    trust: Trust
    tolerance_mm: tuple[float, float]
    columns: dict[str, Array] = field(compare=False, repr=False)
    build_seconds: float = field(compare=False, default=0.0)
    build_cached: bool = field(compare=False, default=True)
    run_seconds: float = field(compare=False, default=0.0)

    def rate(self, name: str) -> Rate:
        """A rate by its name; `KeyError` if there is none."""
        return {one.name: one for one in self.rates}[name]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object: everything but the table and the times."""
        whole = asdict(replace(self, columns={}))
        return {one.name: whole[one.name] for one in fields(self) if one.compare}

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary per neck."""
        return list(self.each_row())

    def each_row(self) -> Iterator[dict[str, Any]]:
        """The rows of `to_rows`, one at a time."""
        for first in range(0, self.necks, BLOCK):
            some = (values[first : first + BLOCK].tolist() for values in self.columns.values())
            yield from (dict(zip(self.columns, row, strict=True)) for row in zip(*some, strict=True))


@one_thread
def spread(
    case: Case | str | Path,
    *,
    necks: int = 10_000,
    seed: int = 1,
    workers: int = 1,
    executor: Executor | None = None,
    send: Callable[[Any], Any] = lambda data: data,
    folder: Path | None = None,
    cache: Path | None = None,
    building: Callable[[float], None] = lambda share: None,
    progress: Callable[[int], None] = lambda done: None,
) -> Spread:
    """Draw many guitars of a case, all on its own body, and find how often one pair of shims is right.

    Parameters
    ----------
    case : the instrument, its name or file; its [scatter] and [tolerance] set the differences.
    necks, seed : number of guitars, and seed of the draws.
    workers : processes that build the reduced model.
    executor : where the guitars are solved; None for here. Results do not depend on it.
    send : brings data to all its workers at once, as a Dask client's `scatter`; by default tasks carry them.
    folder : folder for finished chunks, from which an interrupted run resumes.
    cache : folder of reduced models; None for the user's own.
    building, progress : called with the share built, and with the number of guitars done.

    Raises
    ------
    InputError
        If a count is wrong, or the case has no stock.
    ModelError, ConvergenceError
        If the case itself cannot be solved.
    """
    check_counts(necks, seed=seed, workers=workers)
    given = opened(case)
    _check_case(given)
    case = with_known_body(given)
    built, began = reduced_model(case, workers=workers, folder=cache, progress=building), perf_counter()
    task, aims, own = _laid_out(case, built, seed=seed)
    label = hashlib.sha256(repr((version("neckpreload"), given.sha256, seed, necks)).encode()).hexdigest()
    pieces = begun(task, necks, executor=executor, send=send, folder=folder, label=label)
    some = min(max(LEAST_NECKS, necks // MEASURED_BOLTS_SHARE), MOST_MEASURED_BOLTS)
    # both are submitted before either is awaited, so that no worker idles in between
    more = begun(replace(task, offset=False, stated_bolts=True), some, executor=executor, send=send)
    found, bolts = pieces.solved(progress), more.solved()
    draws = _drawn_again(task, necks)
    good = found.outcome.settled
    if not good.any():
        raise InputError("No drawn guitar has an equilibrium; check the bolts' torque and the scatter.")
    table = _table(draws, found.outcome, found.in_full, aims)
    return Spread(
        version=version("neckpreload"),
        case=given.name,
        case_sha256=given.sha256,
        seed=seed,
        necks=necks,
        upper_deg=degrees(aims.upper) if aims.upper is not None else None,
        lower_deg=degrees(aims.lower),
        case_offset_deg=degrees(own),
        **{name: Distribution.of(table[name][good]) for name in READINGS},
        rates=rates(case, task.on, aims, draws, found.outcome, bolts=bolts.outcome),
        in_full=int(found.in_full.sum()),
        unsolved=int((~good).sum()),
        trust=trust_of(built, task.on, task),
        tolerance_mm=(case.tolerance.action_mm, case.tolerance.tongue_gap_mm),
        columns=table,
        build_seconds=built.seconds,
        build_cached=built.cached,
        run_seconds=perf_counter() - began,
    )


def check_counts(necks: int, *, seed: int, workers: int) -> None:
    """Validate numbers of necks and processes, and the seed; raises `InputError` for the first wrong one."""
    if not LEAST_NECKS <= necks <= MOST_NECKS:
        wrong = "too few for a spread" if necks < LEAST_NECKS else "too many to hold at once"
        remedy = "give 1000 or more for a reliable rate"
        raise Problem("--necks", f"{necks}", wrong, f"{LEAST_NECKS} to {MOST_NECKS}", remedy).error()
    if seed < 0:
        wrong, remedy = "a seed is not negative", "give one of them"
        raise Problem("--seed", f"{seed}", wrong, "0, 1, 2 and so on", remedy).error()
    if not 1 <= workers <= MOST_WORKERS:
        wrong, remedy = "not a possible number of processes", "leave it out for one per processor"
        raise Problem("--workers", f"{workers}", wrong, f"1 to {MOST_WORKERS}", remedy).error()


def _check_case(case: Case) -> None:
    if case.joint.kind != "two-shim":
        raise InputError(
            f"{case.name}: joint.kind = {case.joint.kind}: a spread needs a two-shim joint; "
            "use a case with two shims."
        )
    if not case.stock.angles_deg():
        raise InputError("The case has no shim stock; give [stock] in the case or in workshop.toml.")


def _laid_out(case: Case, built: Built, *, seed: int = 1) -> tuple[Task, Aims, float]:
    """Data that all guitars share, criteria of their rates, and the case's own offset [rad]."""
    reduced = built.model
    question = reduced.model.question(reduced.flexibility(np.ones(8)))
    upper = reduced.model.upper
    own = find_offset(question, upper=upper)
    stock = np.radians(case.stock.angles_deg())
    lower = float(stock[np.argmin(np.abs(stock - own.pair.angles[question.varied]))])
    angles = question.angles(lower, held=upper)
    fixed = pair(question, angles, start=own.pair)
    on = bench(reduced, question)
    aims = Aims(
        upper=upper if len(question.shims) > 1 else None,
        lower=lower,
        saddle=fixed.strung.saddle_height,
        action=string_height(question, fixed.strung, question.wanted.height_x),
        start=start_of(on, fixed),
        angles=angles,
    )
    return Task(case, reduced.validity, on, aims.start, angles, aims.saddle, seed), aims, own.offset


def trust_of(built: Built, on: Bench, task: Task) -> Trust:
    """Compare the reduced model with full solutions of the held-out guitars."""
    held_out = built.held_out
    necks = held_out.draws.necks(on.question, task.angles)
    found = outcomes(on, necks, saddle=task.saddle, start=task.start)
    exact = np.degrees(held_out.offsets)
    validity = built.model.validity
    estimate = validity.error_estimate_deg(held_out.draws.multiples)
    judged = found.settled & ~beyond_limit(validity, estimate, exact)
    error = np.abs(np.degrees(found.offset) - exact)[judged]
    limit, estimate = limit_deg(exact)[judged], estimate[judged]
    return Trust(
        guitars=len(error),
        largest_error_deg=float(np.max(error, initial=0.0)),
        share_of_limit=float(np.max(error / limit, initial=0.0)),
        covered=int((estimate >= error).sum()),
    )


def _drawn_again(task: Task, count: int) -> Draws:
    """All guitars' draws, a block at a time."""
    sizes = {one.name: getattr(task.draws(0, 2), one.name).shape[1:] for one in fields(Draws)}
    whole = Draws(**{name: np.empty((count, *size)) for name, size in sizes.items()})
    for first in range(0, count, BLOCK):
        some = task.draws(first, min(first + BLOCK, count))
        for name in sizes:
            getattr(whole, name)[first : first + BLOCK] = getattr(some, name)
    return whole


def _table(draws: Draws, outcome: Outcome, in_full: NDArray[np.bool_], aims: Aims) -> dict[str, Array]:
    names = [name.replace("along", "e").replace(" ", "_") for name in NAMES]
    table = {f"{name}_factor": draws.multiples[:, k] for k, name in enumerate(names)}
    table |= {"neck_density_factor": draws.density, "string_tension_factor": draws.tension}
    table |= {f"bolt_{k + 1}_factor": draws.bolts[:, k] for k in range(draws.bolts.shape[1])}
    table |= {
        "offset_deg": np.degrees(outcome.offset),
        "residual_kink_deg": np.degrees(outcome.kink),
        "tongue_gap_mm": 1e3 * outcome.gap,
        "action_error_mm": 1e3 * (outcome.action - aims.action),
        "rod_setting": outcome.rod,
        "solved_in_full": in_full.astype(float),
    }
    return table

"""Jobs of the worker processes: plain values in and out, errors as messages."""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import wraps
from math import degrees
from typing import Any, TypeVar

from threadpoolctl import threadpool_limits

from cases.bench.learning.stiffness_test import DeadWeight, NeckTest, neck_test
from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.choose_pair import (
    PairChoice,
    PairForecast,
    choose_pair,
    pair_forecast,
    stock_choice,
    wanted_angles,
)
from cases.bench.shims.dry_check import DryCheck
from cases.bench.shims.dry_log import checked, tuned_down_of
from cases.bench.shims.readings import average, check_pocket
from cases.bench.shims.strung_neck import Bench, bench_of
from cases.bench.shims.swap import Swap, swap
from cases.bench.shims.swap_log import NOT_TYPED, attempts_measured, filled_in
from cases.casefile.case import Case
from cases.casefile.workshop import Workshop
from cases.offset.build import question_of, structure_of
from cases.offset.calibration import Calibration
from cases.offset.preload import answer_of, in_workshop
from cases.offset.solve import COARSE, solve, with_measured_body
from cases.page.bench_typed import Pocket
from cases.page.live import Worked
from cases.studies.curvature import flex_line
from cases.studies.season import Season, humid_year
from fem.solve.condensation import condense
from fem.solve.offset import find_offset
from materials.errors import NeckpreloadError

MOST_BENCHES = 4
"""Largest number of solved cases kept."""
MOST_PAIRS = 5000
"""Largest number of pairs whose states one bench keeps."""

Given = TypeVar("Given")


@dataclass(frozen=True)
class Failed:
    """Message of a failed job, which passes between processes without its class."""

    text: str


def said(job: Callable[..., Given]) -> Callable[..., Given | Failed]:
    """A job that returns named errors as `Failed`."""

    @wraps(job)
    def safe(*given: Any) -> Given | Failed:
        try:
            with threadpool_limits(limits=1):
                return job(*given)
        except NeckpreloadError as error:
            return Failed(str(error))

    return safe


@dataclass(frozen=True)
class RoughStart:
    """Start of a preview from the previous case: offset, upper angle, angle on the coarse mesh [rad]."""

    offset: float
    upper: float
    rough_angle: float


@said
def full_answer(case: Case, workshop: Workshop) -> Worked:
    """The full answer of a case, identical to `neckpreload offset`."""
    solved = solve(case)
    answer = in_workshop(answer_of(solved, effects=True), case, workshop)
    flexibility = solved.question.flexibility.on_its_own()
    return Worked(
        case=case,
        answer=answer,
        structure=solved.structure,
        question=replace(solved.question, flexibility=flexibility),
        offset=solved.offset,
        upper=solved.upper,
        line=flex_line(solved),
        rough_angle=solved.coarse.pair.angles[solved.question.varied],
    )


@said
def rough_change(case: Case, before: RoughStart) -> float:
    """Offset or taper of a changed geometry [deg]: the old one plus the change on the coarse mesh."""
    structure = structure_of(case)
    flexibility, _ = condense(structure, COARSE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    found = find_offset(question, upper=before.upper, lower=before.rough_angle)
    change = found.pair.angles[question.varied] - before.rough_angle
    return degrees(before.offset + change)


_benches: "OrderedDict[str, Bench]" = OrderedDict()


def _bench(case: Case, calibration: Calibration | None, *, tuned_down: float | None = None) -> Bench:
    """The bench of a case, solved once; its states of single pairs are dropped when there are too many."""
    key = f"{case.sha256} {calibration.id if calibration else ''} {tuned_down}"
    if key not in _benches:
        _benches[key] = bench_of(case, calibration=calibration, tuned_down=tuned_down)
        while len(_benches) > MOST_BENCHES:
            _benches.popitem(last=False)
    _benches.move_to_end(key)
    kept = _benches[key]
    if len(kept._solved_pairs) > MOST_PAIRS:
        kept = _benches[key] = replace(kept, _solved_pairs={})
    return kept


@said
def warm_bench(case: Case, calibration: Calibration | None) -> bool:
    """Solve a case for the bench before the first reading."""
    bench = _bench(case, calibration)
    bench.gains(*bench.reference_deg)
    return True


@dataclass(frozen=True)
class FirstPair:
    """The pair for a reading [mm], without its chance."""

    reading_mm: float
    pair: PairForecast


@said
def first_pair(case: Case, calibration: Calibration | None, pocket: Pocket) -> FirstPair:
    """The pair for a pocket."""
    bench = _bench(case, calibration)
    reading = average(pocket.heights, bench.case.tolerance)
    check_pocket(reading.mm, bench.geometry)
    correction = pocket.squares.correction_deg(bench.geometry)
    best, _ = stock_choice(bench, wanted_angles(bench, reading.mm), correction=correction)
    return FirstPair(reading.mm, pair_forecast(bench, reading.mm, best, correction=correction))


@said
def whole_choice(
    case: Case, calibration: Calibration | None, pocket: Pocket, workshop: Workshop
) -> PairChoice:
    """The pair for a pocket with its neighbours, chance and warnings."""
    return choose_pair(
        _bench(case, calibration), pocket.heights,
        squares=pocket.squares, conditions=pocket.conditions, inch=workshop.units == "inch",
    )  # fmt: skip


@said
def tested_neck(case: Case, test: DeadWeight, name: str, created: datetime) -> NeckTest:
    """The result of a neck's dead-weight test."""
    return neck_test(case, test, name=name, created=created)


@dataclass(frozen=True)
class DryFound:
    """A dry check, and the prediction for its best pair."""

    check: DryCheck
    predicted: dict[str, float]


@said
def dry_of(case: Case, calibration: Calibration | None, found: tuple[Fit, ...]) -> DryFound:
    """The dry check of a guitar by the readings of its fits."""
    return DryFound(*checked(_bench(case, calibration, tuned_down=tuned_down_of(found)), found))


@said
def swap_of(case: Case, calibration: Calibration | None, found: tuple[Fit, ...], workshop: Workshop) -> Swap:
    """Causes of what the log has measured at pitch, and the pair that corrects it."""
    bench, last = _bench(case, calibration), found[-1]
    measured = filled_in(NOT_TYPED, found, bench)
    pair = (last.upper_deg, last.lower_deg)
    earlier = attempts_measured(found, measured)
    return swap(bench, *pair, measured, earlier=earlier, inch=workshop.units == "inch")


@said
def over_the_year(case: Case, humidity: tuple[float, float]) -> Season:
    """A year between two relative humidities [%]."""
    return humid_year(case, humidity=humidity)

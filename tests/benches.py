"""The README's instrument solved for the bench, once a run, rigid or with a body; plain fits for a log."""

from datetime import UTC, datetime
from functools import cache

from cases import load
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.validation import NewFit, validated
from cases.bench.shims.choose_pair import choose_pair
from cases.bench.shims.strung_neck import Bench, bench_of
from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.preload import preload

START = datetime(2025, 5, 4, 8, 30, tzinfo=UTC)
PLAIN = {"upper_deg": 0.1, "lower_deg": -0.05, "started_utc": START}
READING = 1.8
"""Of the bare pocket [mm]."""
BODY = {"body.stiffness_n_m_per_rad": 8000.0}


@cache
def rigid() -> Case:
    """The 14-fret mahogany instrument, its body unknown."""
    return load("fourteen-mahogany")


@cache
def case() -> Case:
    """The same with the stiffness of its body."""
    return rigid().with_values(BODY)


@cache
def rigid_bench() -> Bench:
    """`rigid` solved."""
    return bench_of(rigid())


@cache
def bench() -> Bench:
    """`case` solved."""
    return bench_of(case())


@cache
def answer() -> Answer:
    """The main answer of `case`."""
    return preload(case(), effects=False)


@cache
def right_pair() -> tuple[float, float]:
    """The pair that `bench` chooses for `READING`."""
    best = choose_pair(bench(), [READING]).pair
    return best.upper_deg, best.lower_deg


def entry(serial: str = "0042", **values: object) -> NewFit:
    """A fit to be added to a log."""
    return validated(NewFit, {"serial": serial} | PLAIN | values)


def logged(serial: str, **values: object) -> Fit:
    """A fit as a log returns it."""
    return Fit.model_validate({"id": 1, "serial": serial, "attempt": 1} | PLAIN | values)

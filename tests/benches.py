"""The README's instrument solved for the bench, once a run, with a stiff and with a given body."""

from functools import cache

from cases import load
from cases.bench.shims.strung_neck import Bench, bench_of
from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.preload import preload

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

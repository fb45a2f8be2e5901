"""The two sentences of a limit that one key sets to another."""

import math
from collections.abc import Iterator

from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.wrong_value import unit_of

FINEST = 1000
"""Limits are named to a thousandth, rounded so that the number named is allowed."""


def at_most(values: Values, path: str, limit: float, *, because: str) -> Iterator[Problem]:
    """Say so if a number is larger than a limit that other keys set."""
    value = values.number(path)
    if value > limit + 1e-9:
        named = math.floor(limit * FINEST + 1e-6) / FINEST
        yield Problem(
            path,
            f"{value:g}",
            f"too large: {because}",
            f"at most {named:.10g} {unit_of(path)}".rstrip(),
            "make it smaller, or change what limits it",
        )


def at_least(values: Values, path: str, limit: float, *, because: str) -> Iterator[Problem]:
    """Say so if a number is smaller than a limit that other keys set."""
    value = values.number(path)
    if value < limit - 1e-9:
        named = math.ceil(limit * FINEST - 1e-6) / FINEST
        yield Problem(
            path,
            f"{value:g}",
            f"too small: {because}",
            f"at least {named:.10g} {unit_of(path)}".rstrip(),
            "make it larger, or change what limits it",
        )

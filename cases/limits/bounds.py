"""The two sentences of a limit that one key sets to another."""

from collections.abc import Iterator

from cases.errors import Problem
from cases.values import Values


def at_most(values: Values, path: str, limit: float, *, because: str) -> Iterator[Problem]:
    """Say so if a number is larger than a limit that other keys set."""
    value = values.number(path)
    if value > limit + 1e-9:
        yield Problem(
            path,
            f"{value:g}",
            f"too large: {because}",
            f"at most {limit:.4g}",
            "make it smaller, or change what limits it",
        )


def at_least(values: Values, path: str, limit: float, *, because: str) -> Iterator[Problem]:
    """Say so if a number is smaller than a limit that other keys set."""
    value = values.number(path)
    if value < limit - 1e-9:
        yield Problem(
            path,
            f"{value:g}",
            f"too small: {because}",
            f"at least {limit:.4g}",
            "make it larger, or change what limits it",
        )

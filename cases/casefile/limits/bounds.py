"""Limits that other keys set to a key: one row each, as data."""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from cases.casefile.errors import Problem
from cases.casefile.key_values import Number, Values
from cases.casefile.wrong_value import unit_of

Check = Callable[[Values], Iterator[Problem]]
"""What is wrong with a case; raises `Unchecked` where a value that it needs is missing or wrong."""
FINEST = 1000
"""Limits are stated to a thousandth, rounded so that the stated number is allowed."""
NAMED = re.compile(r"\{([\w.*]+)\}")


@dataclass(frozen=True)
class Bound:
    """A limit of one key; `*` in a path stands for the item of a list.

    Attributes
    ----------
    path : the key.
    limit : the limit from other keys.
    because : the reason; `{path}` stands for the value of a key, `{limit}` for the limit.
    side : 1 for a largest value, -1 for a smallest.
    when : whether the limit applies to a case.
    """

    path: str
    limit: Number
    because: str
    side: int
    when: Callable[[Values], bool]

    def __call__(self, values: Values) -> Iterator[Problem]:
        """Give the problem if the key lies beyond its limit."""
        if not self.when(values):
            return
        value, limit = values.number(self.path), self.limit(values)
        if self.side * (value - limit) <= 1e-9:
            return
        stated = self.side * math.floor(self.side * limit * FINEST + 1e-6) / FINEST
        reason = NAMED.sub(lambda found: self._number(found[1], values, limit), self.because)
        too, bound, change = (
            ("too large", "at most", "make it smaller")
            if self.side > 0
            else ("too small", "at least", "make it larger")
        )
        allowed = f"{bound} {stated:.10g} {unit_of(self.path)}".rstrip()
        remedy = f"{change}, or change what limits it"
        yield Problem(values.path(self.path), f"{value:g}", f"{too}: {reason}", allowed, remedy)

    def _number(self, name: str, values: Values, limit: float) -> str:
        return f"{limit:.4g}" if name == "limit" else f"{values.number(name):.6g}"


def always(values: Values) -> bool:
    """Return True."""
    return True


def at_most(path: str, limit: Number, because: str, *, when: Callable[[Values], bool] = always) -> Bound:
    """Return the check that a number is not larger than a limit."""
    return Bound(path, limit, because, 1, when)


def at_least(path: str, limit: Number, because: str, *, when: Callable[[Values], bool] = always) -> Bound:
    """Return the check that a number is not smaller than a limit."""
    return Bound(path, limit, because, -1, when)

"""Limits between the values of a case: what no instrument can be, said before anything is computed.

One file a part of the instrument; the limits of one key alone stand in `cases.casefile.schema`.
"""

import contextlib
from collections.abc import Callable, Iterator, Set
from functools import partial

from cases.casefile.errors import Problem
from cases.casefile.key_values import Unchecked, Values
from cases.casefile.limits import joint, names, neck, playing, rod
from cases.casefile.problems import repeated_name

CHECKS = (*neck.CHECKS, *joint.CHECKS, *rod.CHECKS, *playing.CHECKS, *names.CHECKS)
ITEM_CHECKS = {
    "shims": (*joint.SHIM_CHECKS, *names.SHIM_CHECKS),
    "bolts": joint.BOLT_CHECKS,
    "bars": (*rod.BAR_CHECKS, *names.BAR_CHECKS),
    "hollows": joint.HOLLOW_CHECKS,
}

Check = Callable[[Values], Iterator[Problem]]
ItemCheck = Callable[[Values, str], Iterator[Problem]]


def broken_limits(values_without: Callable[[Set[str]], Values], *, defaults: Set[str]) -> list[Problem]:
    """Return every limit that a case breaks; a check whose values are missing or wrong is left out.

    A key that breaks a limit is wrong, and so is every default worked out from it: later checks that rest on
    either are left out.

    Parameters
    ----------
    values_without : callable
        Gives the good values of the case when some more of the file's keys are taken as wrong.
    defaults : set of str
        Paths of the keys that the file does not give.

    Returns
    -------
    list of Problem
        One for each limit broken.
    """
    problems: list[Problem] = []
    wrong: set[str] = set()
    values = values_without(set())
    for check in _checks(values):
        found: list[Problem] = []
        with contextlib.suppress(Unchecked):
            found.extend(check(values))
        problems += found
        more = {problem.path for problem in found} - defaults
        if more:
            wrong |= more
            values = values_without(wrong)
    return problems


def _checks(values: Values) -> Iterator[Check]:
    """Give the checks of names used twice, of the whole, then of each item of a list."""
    for table in ITEM_CHECKS:
        yield partial(_repeated, table=table)
    yield from CHECKS
    for table, checks in ITEM_CHECKS.items():
        for label in dict.fromkeys(values.items(table)):
            for check in checks:
                yield partial(_of_item, check=check, table=table, label=label)


def _repeated(values: Values, *, table: str) -> Iterator[Problem]:
    labels = values.items(table)
    yield from (repeated_name(table, label) for label in dict.fromkeys(labels) if labels.count(label) > 1)


def _of_item(values: Values, *, check: ItemCheck, table: str, label: str) -> Iterator[Problem]:
    """Check an item that is still there: the usual bolts go where what they follow from is wrong."""
    if label in values.items(table):
        yield from check(values, label)

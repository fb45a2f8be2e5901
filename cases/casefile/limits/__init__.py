"""Limits between the values of a case, checked before anything is computed.

One file for each part of the instrument; the limits of a key alone are in `cases.casefile.schema`.
"""

import contextlib
from collections.abc import Callable, Iterator, Set

from cases.casefile.errors import Problem
from cases.casefile.key_values import Unchecked, Values
from cases.casefile.limits import joint, names, neck, playing, rod
from cases.casefile.limits.bounds import Check

CHECKS = (*neck.CHECKS, *joint.CHECKS, *rod.CHECKS, *playing.CHECKS, *names.CHECKS)
ITEM_CHECKS: dict[str, tuple[Check, ...]] = {
    "shims": (*joint.SHIM_CHECKS, *names.SHIM_CHECKS),
    "bolts": joint.BOLT_CHECKS,
    "bars": (*rod.BAR_CHECKS, *names.BAR_CHECKS),
    "hollows": joint.HOLLOW_CHECKS,
    "woods": names.OWN_WOOD_CHECKS,
}


def broken_limits(values_without: Callable[[Set[str]], Values], *, defaults: Set[str]) -> list[Problem]:
    """Return every limit that a case breaks, without checks whose values are missing or wrong.

    A key that breaks a limit is wrong, and so is every default that follows from it: later checks of either
    are left out.

    Parameters
    ----------
    values_without : gives the good values of the case if some more of the file's keys are taken as wrong.
    defaults : paths of the keys that the file does not give.
    """
    problems: list[Problem] = []
    wrong: set[str] = set()
    values = values_without(set())
    for check, table, label in _checks(values):
        # an item may be gone by now: the usual bolts go if what they follow from is wrong
        if table and wrong and label not in values.items(table):
            continue
        found: list[Problem] = []
        with contextlib.suppress(Unchecked):
            found.extend(check(values.of_item(label)))
        problems += found
        more = {problem.path for problem in found} - defaults
        if more:
            wrong |= more
            values = values_without(wrong)
    return problems


def _checks(values: Values) -> Iterator[tuple[Check, str, str]]:
    """Give the checks of repeated names, of the whole case, then of each item with its table and label."""
    yield _repeated_names, "", ""
    yield from ((check, "", "") for check in CHECKS)
    for table, checks in ITEM_CHECKS.items():
        for label in dict.fromkeys(values.items(table)):
            yield from ((check, table, label) for check in checks)


def _repeated_names(values: Values) -> Iterator[Problem]:
    for table in ITEM_CHECKS:
        labels = values.items(table)
        for label in dict.fromkeys(labels):
            if labels.count(label) > 1:
                wrong = "this name is used twice"
                yield Problem(f"{table}.{label}", "", wrong, "each name once", "rename one of the two")

"""Limits between keys: what no instrument can be, said before anything is computed."""

from cases.errors import Problem
from cases.limits import joint, names, neck, playing, rod
from cases.problems import repeated_name
from cases.values import Unchecked, Values

CHECKS = (*neck.CHECKS, *joint.CHECKS, *rod.CHECKS, *playing.CHECKS, *names.CHECKS)
ITEM_CHECKS = {
    "shims": (*joint.SHIM_CHECKS, *names.SHIM_CHECKS),
    "bolts": joint.BOLT_CHECKS,
    "bars": (*rod.BAR_CHECKS, *names.BAR_CHECKS),
    "hollows": joint.HOLLOW_CHECKS,
}


def broken_limits(values: Values) -> list[Problem]:
    """Return every limit that a case breaks; a check whose values are missing or wrong is left out.

    Parameters
    ----------
    values : Values
        The good values of the case.

    Returns
    -------
    list of Problem
        One for each limit broken.
    """
    problems: list[Problem] = []
    for check in CHECKS:
        try:
            problems.extend(check(values))
        except Unchecked:
            continue
    for table, checks in ITEM_CHECKS.items():
        labels = values.items(table)
        for label in dict.fromkeys(labels):
            if labels.count(label) > 1:
                problems.append(repeated_name(table, label))
                continue
            for item_check in checks:
                try:
                    problems.extend(item_check(values, label))
                except Unchecked:
                    continue
    return problems

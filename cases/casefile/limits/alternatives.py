"""Keys that exclude one another."""

from collections.abc import Iterator

from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.limits.bounds import Check

ALTERNATIVES = {
    "bolts.*": (("torque_n_m",), ("tension_n",)),
    "body": (("stiffness_n_m_per_rad",), ("straightedge_drop_mm",)),
    "targets": (("kink_deg",), ("tongue_gap_mm",)),
    "strings": (("set",), ("gauges_in", "unit_weights_kg_m")),
    "stock": (("list_deg",), ("from_deg", "to_deg", "step_deg")),
    "heel": (("outline_csv",), ("mesh",)),
}
"""By table, two groups of keys; a case holds keys of one group only."""


def excluded_by(path: str) -> tuple[str, ...]:
    """Return the paths that cannot be given beside a path.

    >>> excluded_by("bolts.low.tension_n"), excluded_by("neck.wood")
    (('bolts.low.torque_n_m',), ())
    """
    table, _, key = path.rpartition(".")
    list_name, _, label = table.partition(".")
    groups = ALTERNATIVES.get(f"{list_name}.*" if label else table, ((), ()))
    if not any(key in group for group in groups):
        return ()
    return tuple(f"{table}.{name}" for group in groups if key not in group for name in group)


def both_given(path: str, other: str) -> Problem:
    """Say that a key and one that excludes it are both given."""
    wrong = f"{other} is given as well, but only one of the two can hold"
    return Problem(path, "", wrong, "one of the two", "leave one of them out")


def one_group(table: str) -> Check:
    """Return the check that a table has keys of one group only."""
    first, second = ALTERNATIVES[table]

    def check(values: Values) -> Iterator[Problem]:
        given = [[key for key in group if values.given(f"{table}.{key}")] for group in (first, second)]
        if all(given):
            yield both_given(values.path(f"{table}.{given[1][0]}"), values.path(f"{table}.{given[0][0]}"))

    return check

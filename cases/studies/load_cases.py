"""Load cases: named changes to one instrument, read from one file (docs/howto.md)."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.changes import Changes, tuning_of
from cases.casefile.errors import Problem
from cases.casefile.toml_text import read_toml
from cases.studies.variants import MOST_ROWS, Variant, one_line, tuned
from materials.errors import InputError

SHORT_KEYS = ("strings", "tuning", "neck_wood")
"""Keys of a load case that are written as the option of this name."""


def read_load_cases(path: str | Path) -> dict[str, dict[str, Any]]:
    """Return the load cases of a TOML file by their names: one heading each, with keys of a case file.

    `strings`, `tuning` and `neck_wood` are short for the options of these names; other keys are the case
    file's own, as `neck.moisture_percent` or `bolts.heel-top.torque_n_m`. `CaseError` if the file holds none.
    """
    where = Path(path)
    _, tables = read_toml(where)
    wrong = [name for name, keys in tables.items() if not isinstance(keys, Mapping)]
    allowed, remedy = "a heading for each load case, with the keys that it changes", "write [heavy] on a line"
    if wrong or not tables:
        said = "this key stands above the first heading" if wrong else "the file holds no load case"
        raise Problem(wrong[0] if wrong else "the file", "", said, allowed, remedy).error(where)
    if len(tables) > MOST_ROWS:
        said = f"it holds {len(tables)} load cases, about a second each"
        raise Problem("the file", "", said, f"at most {MOST_ROWS}", "split the file").error(where)
    return {name: dict(_flat(keys)) for name, keys in tables.items()}


def _flat(keys: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Give the keys of nested tables by their paths."""
    for key, value in keys.items():
        path = f"{above}{key}"
        if isinstance(value, Mapping):
            yield from _flat(value, f"{path}.")
        else:
            yield path, value


def load_variants(cases: Sequence[Case], loads: Mapping[str, Mapping[str, Any]]) -> Iterator[Variant]:
    """Every load case of every instrument; one that is impossible has its reason."""
    for case, (name, keys) in product(cases, loads.items()):
        strings, tuning, wood = (str(keys[key]) if key in keys else None for key in SHORT_KEYS)
        own = {key: value for key, value in keys.items() if key not in SHORT_KEYS}
        shown = f"{case.name}: {name}" if len(cases) > 1 else name
        try:
            made = Changes(strings, tuning, wood).made(case, own)
        except InputError as error:
            yield Variant(shown, case, dict(keys), None, one_line(error))
        else:
            named = shown + tuned(made, {}, tuning_of(cases[0]))
            yield Variant(named, case, dict(keys), made, None)

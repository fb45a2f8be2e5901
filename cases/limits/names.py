"""Names that must stand in a table: woods, strings, shim materials, bars."""

from collections.abc import Iterator

from cases.errors import Problem
from cases.problems import unknown_name
from cases.values import Values
from materials.wood import wood_names


def _woods(values: Values) -> Iterator[Problem]:
    names = wood_names()
    for path in ("neck.wood", "fretboard.wood", "block.wood"):
        if values.given(path) and values.text(path) not in names:
            yield unknown_name(path, values.text(path), names, listed_by="neckpreload woods")


CHECKS = (_woods,)
SHIM_CHECKS = ()
BAR_CHECKS = ()

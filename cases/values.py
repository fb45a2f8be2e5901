"""The content of a case as a flat table of key paths, which says when a value cannot be had."""

from collections.abc import Iterator, Mapping
from typing import Any

LISTS = ("shims", "bolts", "bars", "hollows")


class Unchecked(Exception):
    """A value that a rule needs is missing or already known to be wrong; the rule is left out."""


def flatten(content: Mapping[str, object]) -> Iterator[tuple[str, object]]:
    """Give every key of a case with its path; items of a list are addressed by their name.

    Parameters
    ----------
    content : mapping
        A case as nested tables.

    Yields
    ------
    tuple of str and object
        The path, as `neck.wood` or `bolts.heel-top.torque_n_m`, and the value.

    Examples
    --------
    >>> list(flatten({"neck": {"wood": "sapele"}, "bolts": [{"name": "low", "face": "heel"}]}))
    [('neck.wood', 'sapele'), ('bolts.low.name', 'low'), ('bolts.low.face', 'heel')]
    """
    for table, value in content.items():
        if isinstance(value, Mapping):
            for key, item in value.items():
                yield f"{table}.{key}", item
        elif table in LISTS and isinstance(value, list | tuple):
            for position, entry in enumerate(value, start=1):
                if isinstance(entry, Mapping):
                    label = item_label(entry, position=position)
                    for key, item in entry.items():
                        yield f"{table}.{label}.{key}", item
        else:
            yield table, value


def item_label(entry: Mapping[str, object], *, position: int) -> str:
    """Return what an item of a list is called: its name, or its position where it has none."""
    name = entry.get("name")
    return name if isinstance(name, str) and name else f"#{position}"


def without(content: Mapping[str, Any], paths: set[str]) -> dict[str, Any]:
    """Return a case without some of its keys, tables or items of lists.

    Examples
    --------
    >>> without({"neck": {"wood": "oak", "width_nut_mm": 43.0}, "bars": 5}, {"neck.wood", "bars"})
    {'neck': {'width_nut_mm': 43.0}}
    """
    kept: dict[str, Any] = {}
    for table, value in content.items():
        if table in paths:
            continue
        if isinstance(value, Mapping):
            kept[table] = {key: item for key, item in value.items() if f"{table}.{key}" not in paths}
        elif table in LISTS and isinstance(value, list | tuple):
            kept[table] = [
                {key: item for key, item in entry.items() if f"{prefix}.{key}" not in paths}
                for position, entry in enumerate(value, start=1)
                if isinstance(entry, Mapping)
                and (prefix := f"{table}.{item_label(entry, position=position)}") not in paths
            ]
        else:
            kept[table] = value
    return kept


class Values:
    """Look-up of the good values of a case by their path.

    Parameters
    ----------
    content : mapping
        A case as nested tables.
    bad : frozenset of str
        Paths already known to be wrong.
    """

    def __init__(self, content: Mapping[str, Any], *, bad: frozenset[str] = frozenset()) -> None:
        self._content, self._bad = content, bad

    def _at(self, path: str) -> object:
        """Value at a path, None where there is none; of items named alike the last one's."""
        if path in self._bad:
            return None
        table, _, rest = path.partition(".")
        value = self._content.get(table)
        if isinstance(value, dict):
            return value.get(rest)
        if table in LISTS and isinstance(value, list | tuple):
            label, _, key = rest.rpartition(".")
            found = [
                entry[key]
                for position, entry in enumerate(value, start=1)
                if isinstance(entry, dict) and key in entry and item_label(entry, position=position) == label
            ]
            return found[-1] if found else None
        return None if rest else value

    def given(self, path: str) -> bool:
        """Return whether the path holds a value."""
        return self._at(path) is not None

    def number(self, path: str) -> float:
        """Return the number at a path, or raise `Unchecked`."""
        value = self._at(path)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise Unchecked(path)
        return float(value)

    def text(self, path: str) -> str:
        """Return the text at a path, or raise `Unchecked`."""
        value = self._at(path)
        if not isinstance(value, str):
            raise Unchecked(path)
        return value

    def entries(self, path: str) -> tuple[object, ...]:
        """Return the list at a path, or raise `Unchecked`."""
        value = self._at(path)
        if not isinstance(value, list | tuple):
            raise Unchecked(path)
        return tuple(value)

    def items(self, table: str) -> tuple[str, ...]:
        """Return the labels of the items of a list, in order; a label used twice comes twice."""
        entries = self._content.get(table)
        if not isinstance(entries, list | tuple):
            return ()
        return tuple(
            item_label(entry, position=position)
            for position, entry in enumerate(entries, start=1)
            if isinstance(entry, Mapping)
        )

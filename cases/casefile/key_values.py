"""The content of a case as a flat table of key paths, which says when a value cannot be had."""

from collections.abc import Iterator, Mapping, Set
from typing import Any

LISTS = ("shims", "bolts", "bars", "hollows")
WRONG: object = ...
"""What stands in the place of a wrong value: it is given, but no rule can read it."""


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


def marked(content: Mapping[str, Any], wrong: Set[str]) -> dict[str, Any]:
    """Return a case with `WRONG` in the place of some keys, tables or items of lists, there or not.

    Examples
    --------
    >>> found = marked({"neck": {"wood": "oak", "width_nut_mm": 43.0}, "bars": 5}, {"neck.wood", "bars"})
    >>> found["neck"]["width_nut_mm"], found["neck"]["wood"] is found["bars"] is WRONG
    (43.0, True)
    """

    def entries(value: Mapping[str, Any], path: str) -> object:
        if path in wrong:
            return WRONG
        lost = {key for table, _, key in (name.rpartition(".") for name in wrong) if table == path}
        return {key: WRONG if key in lost else value[key] for key in (*value, *(lost - set(value)))}

    found: dict[str, Any] = {path: WRONG for path in wrong if path and "." not in path}
    for table, value in content.items():
        if table in wrong:
            found[table] = WRONG
        elif isinstance(value, Mapping):
            found[table] = entries(value, table)
        elif table in LISTS and isinstance(value, list | tuple):
            found[table] = [
                entries(entry, f"{table}.{item_label(entry, position=position)}")
                if isinstance(entry, Mapping)
                else WRONG
                for position, entry in enumerate(value, start=1)
            ]
        else:
            found[table] = value
    return found


class Values:
    """Look-up of the good values of a case by their path.

    Parameters
    ----------
    content : mapping
        A case as nested tables, `WRONG` where a value is known to be wrong.
    """

    def __init__(self, content: Mapping[str, Any]) -> None:
        self._content = content

    def _at(self, path: str) -> object:
        """Value at a path, None where there is none; of items named alike the last one's."""
        table, _, rest = path.partition(".")
        value = self._content.get(table)
        if value is WRONG or not rest:
            return value
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
        return None

    def given(self, path: str) -> bool:
        """Return whether the path holds a value, or raise `Unchecked` where its whole table is wrong."""
        if self._content.get(path.partition(".")[0]) is WRONG:
            raise Unchecked(path)
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

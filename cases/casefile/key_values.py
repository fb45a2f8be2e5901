"""The values of a case by key path; a missing or wrong one is reported."""

from collections.abc import Callable, Iterator, Mapping, Set
from typing import Any

LISTS = ("shims", "bolts", "bars", "hollows", "woods")
WRONG: object = ...
"""Marks a wrong value: it is given, but no rule can read it."""


class Unchecked(Exception):
    """A value that a rule needs is missing or known to be wrong; the rule is skipped."""


def flatten(content: Mapping[str, object]) -> Iterator[tuple[str, object]]:
    """Give the path and the value of every key of a case; items of a list go by their name.

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


def unshared(value: Any) -> Any:
    """Return nested tables and lists as new ones; the single values in them, which nothing changes, stay."""
    if isinstance(value, dict):
        return {key: unshared(item) for key, item in value.items()}
    return [unshared(item) for item in value] if isinstance(value, list) else value


def item_label(entry: Mapping[str, object], *, position: int) -> str:
    """Return the name of an item of a list, or its position if it has none."""
    name = entry.get("name")
    return name if isinstance(name, str) and name else f"#{position}"


def marked(content: Mapping[str, Any], wrong: Set[str]) -> dict[str, Any]:
    """Return a case with `WRONG` in place of some keys, tables or items of lists, present or not.

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
    content : a case as nested tables, `WRONG` where a value is known to be wrong.
    label : the item of a list for which `*` stands in a path.
    """

    def __init__(self, content: Mapping[str, Any], *, label: str = "") -> None:
        self._content = content
        self.label = label

    def of_item(self, label: str) -> "Values":
        """Return the same values with a label for `*` in paths."""
        return Values(self._content, label=label)

    def path(self, path: str) -> str:
        """Return a path with the item's label."""
        return path.replace("*", self.label) if "*" in path else path

    def _at(self, path: str) -> object:
        """Value at a path, or None; of items with the same name the last one's."""
        table, _, rest = self.path(path).partition(".")
        value = self._content.get(table)
        if isinstance(value, dict) and rest:
            return value.get(rest)
        if value is WRONG or not rest:
            return value
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
        """Return whether the path holds a value; raise `Unchecked` if its whole table is wrong."""
        if self._content.get(path.partition(".")[0]) is WRONG:
            raise Unchecked(path)
        return self._at(path) is not None

    def number(self, path: str) -> float:
        """Return the number at a path, or raise `Unchecked`."""
        value = self._at(path)
        if isinstance(value, float):
            return value
        if isinstance(value, bool) or not isinstance(value, int):
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
        """Return the labels of a list's items in order, repeated ones too."""
        entries = self._content.get(table)
        if not isinstance(entries, list | tuple):
            return ()
        return tuple(
            item_label(entry, position=position)
            for position, entry in enumerate(entries, start=1)
            if isinstance(entry, Mapping)
        )


Number = Callable[[Values], float]


def total(*paths: str, times: float = 1.0, plus: float = 0.0) -> Number:
    """Return the function that adds up some keys (minus in front: subtracts), scaled, plus a constant."""

    def summed(values: Values) -> float:
        terms = (-values.number(path[1:]) if path[0] == "-" else values.number(path) for path in paths)
        return times * sum(terms) + plus

    return summed

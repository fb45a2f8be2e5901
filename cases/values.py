"""The content of a case as a flat table of key paths, which says when a value cannot be had."""

from collections.abc import Iterator, Mapping

LISTS = ("shims", "bolts", "bars")


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


class Values:
    """Look-up of the good values of a case by their path.

    Parameters
    ----------
    content : mapping
        A case as nested tables.
    bad : frozenset of str
        Paths already known to be wrong.
    """

    def __init__(self, content: Mapping[str, object], *, bad: frozenset[str] = frozenset()) -> None:
        self._flat = {path: value for path, value in flatten(content) if path not in bad}

    def given(self, path: str) -> bool:
        """Return whether the path holds a value."""
        return self._flat.get(path) is not None

    def number(self, path: str) -> float:
        """Return the number at a path, or raise `Unchecked`."""
        value = self._flat.get(path)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise Unchecked(path)
        return float(value)

    def text(self, path: str) -> str:
        """Return the text at a path, or raise `Unchecked`."""
        value = self._flat.get(path)
        if not isinstance(value, str):
            raise Unchecked(path)
        return value

    def items(self, table: str) -> tuple[str, ...]:
        """Return the labels of the items of a list, in order, each once."""
        labels = (
            path.split(".")[1] for path in self._flat if path.startswith(f"{table}.") and path.count(".") == 2
        )
        return tuple(dict.fromkeys(labels))

"""Base of all results: JSON object, table with units, text and picture.

A result does not know its text and picture: `cases.show.views` registers both for each class.
"""

import csv
import html
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from materials.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame  # type: ignore[import-untyped,import-not-found,unused-ignore]

UNITS = {"_n_m": "N m", "_deg_mm": "deg/mm", "_mm": "mm", "_deg": "deg", "_n": "N", "_mpa": "MPa"}
"""Unit by the end of a name."""
SHOWN_ROWS = 30
"""Rows shown in a notebook."""


def unit_of(name: str) -> str:
    """Unit of a key or column; empty if it has none.

    >>> unit_of("preload_offset_deg"), unit_of("shim_transfer")
    ('deg', '')
    """
    return next((unit for end, unit in UNITS.items() if name.endswith(end)), "")


@dataclass(frozen=True)
class Table:
    """Rows of a result under named columns."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    @property
    def units(self) -> tuple[str, ...]:
        """Unit of each column; empty if it has none."""
        return tuple(unit_of(name) for name in self.columns)

    @classmethod
    def of(cls, rows: list[dict[str, Any]]) -> "Table":
        """Table of rows that all have the keys of the first."""
        columns = tuple(rows[0]) if rows else ()
        return cls(columns, tuple(tuple(row[name] for name in columns) for row in rows))

    def to_csv(self) -> str:
        """Return the table as CSV; numbers are unrounded, missing values empty."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(self.columns)
        writer.writerows(self.rows)
        return text.getvalue()

    def to_html(self) -> str:
        """Return the first rows as an HTML table."""
        head = "".join(
            f"<th>{html.escape(f'{name} [{unit}]' if unit else name)}</th>"
            for name, unit in zip(self.columns, self.units, strict=True)
        )
        body = "".join(
            "<tr>" + "".join(f"<td>{html.escape(_shown(value))}</td>" for value in row) + "</tr>"
            for row in self.rows[:SHOWN_ROWS]
        )
        more = len(self.rows) - SHOWN_ROWS
        rest = f"<p>{more} more rows</p>" if more > 0 else ""
        return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{rest}"

    def to_frame(self) -> "DataFrame":
        """Return the table as a pandas table.

        Raises
        ------
        InputError
            If pandas is not installed.
        """
        try:
            import pandas  # type: ignore[import-untyped,import-not-found,unused-ignore]
        except ImportError:
            raise InputError(
                "to_frame: pandas is not installed; install pandas, or use table().rows or to_csv()."
            ) from None
        return pandas.DataFrame(list(self.rows), columns=list(self.columns))


def _shown(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.4g}" if isinstance(value, float) else str(value)


@dataclass(frozen=True)
class View:
    """How results of one class are shown."""

    text: Callable[[Any], str]
    picture: Callable[[Any], "Figure"]


VIEWS: dict[str, View] = {}
"""By the name of the class; filled by `cases.show.views`."""


class Result:
    """Base of all results."""

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        raise TypeError(f"{type(self).__name__} has no JSON object")

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary a row."""
        raise TypeError(f"{type(self).__name__} has no rows")

    def table(self) -> Table:
        """Return the rows as a table with units."""
        return Table.of(self.to_rows())

    def plot(self) -> "Figure":
        """Return the picture."""
        return VIEWS[type(self).__name__].picture(self)

    def __str__(self) -> str:
        """Return the short text."""
        view = VIEWS.get(type(self).__name__)
        return view.text(self) if view else self.table().to_csv()

    def _repr_html_(self) -> str:
        """Return the table and the picture, for a notebook."""
        if type(self).__name__ not in VIEWS:
            return self.table().to_html()
        picture = io.StringIO()
        self.plot().savefig(picture, format="svg")
        drawn = picture.getvalue()
        return self.table().to_html() + drawn[drawn.index("<svg") :]

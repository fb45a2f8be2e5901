"""What every result can do: a JSON object, a table with units, a text, a picture.

A result does not know how it is shown: `cases` enters a view for each class in `VIEWS`.
"""

import csv
import html
import io
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from math import isnan
from typing import TYPE_CHECKING, Any

from materials.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame  # type: ignore[import-untyped,import-not-found,unused-ignore]

UNITS = {
    "_n_m": "N m",
    "_deg_mm": "deg/mm",
    "_per_m": "1/m",
    "_mm": "mm",
    "_deg": "deg",
    "_n": "N",
    "_mpa": "MPa",
}
"""Unit by the end of a column's name."""
DECIMALS = {"N m": 2, "deg/mm": 3, "1/m": 4, "mm": 3, "deg": 3, "N": 0, "MPa": 2}
"""Decimals shown in a notebook; numbers without a unit have four significant digits."""
HEAD_ROWS, TAIL_ROWS = 16, 4
"""Rows that a notebook shows of a longer table."""
LONG_TEXT = 30
"""Characters up to which text in a cell stays on one line."""
STYLE = (
    "<style>.neckpreload{overflow-x:auto;max-width:100%}"
    ".neckpreload th,.neckpreload td{text-align:right;padding:.2em .5em}"
    ".neckpreload th{white-space:normal;vertical-align:bottom}"
    ".neckpreload td{white-space:nowrap;vertical-align:top}"
    ".neckpreload .text{text-align:left}"
    ".neckpreload .long{white-space:normal;min-width:18em}"
    ".neckpreload svg{max-width:100%;height:auto}</style>"
)


def unit_of(name: str) -> str:
    """Unit of a key or a column, empty without one.

    >>> unit_of("preload_offset_deg"), unit_of("shim_transfer")
    ('deg', '')
    """
    return next((unit for end, unit in UNITS.items() if name.endswith(end)), "")


@dataclass(frozen=True)
class Table:
    """Rows of a result; ``columns`` are their names, ``units`` the unit of each, empty without one."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...] = field(repr=False)
    units: tuple[str, ...]

    def to_csv(self) -> str:
        """Return the table as CSV; numbers are unrounded, missing values are empty.

        A unit that a column's name does not end in follows it in brackets.
        """
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(
            name if unit == unit_of(name) else f"{name} [{unit}]"
            for name, unit in zip(self.columns, self.units, strict=True)
        )
        writer.writerows(self.rows)
        return text.getvalue()

    def to_html(self) -> str:
        """Return the table in HTML with rounded numbers; a long table is cut to its first and last rows."""
        count = len(self.rows)
        cut = count > HEAD_ROWS + TAIL_ROWS
        shown = (*self.rows[:HEAD_ROWS], *self.rows[-TAIL_ROWS:]) if cut else self.rows
        classes = [_class([row[column] for row in shown]) for column in range(len(self.columns))]
        heads = [_heading(name, unit) for name, unit in zip(self.columns, self.units, strict=True)]
        body = [_html_row("td", self._rounded(row), classes) for row in shown]
        note = ""
        if cut:
            body.insert(HEAD_ROWS, _html_row("td", ["…"] * len(classes), classes))
            note = f"<p>{len(shown)} of {count} rows shown; table().to_csv() has all of them.</p>"
        return (
            f'{STYLE}<div class="neckpreload"><table><thead>{_html_row("th", heads, classes)}</thead>'
            f"<tbody>{''.join(body)}</tbody></table></div>{note}"
        )

    _repr_html_ = to_html

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

    def _rounded(self, row: tuple[Any, ...]) -> list[str]:
        """Cells of a row as text; in a table with a column of units that unit sets the decimals."""
        units = self.units
        if "unit" in self.columns:
            units = (row[self.columns.index("unit")],) * len(row)
        return [html.escape(_shown(value, unit)) for value, unit in zip(row, units, strict=True)]


def _heading(name: str, unit: str) -> str:
    end = next((end for end in UNITS if name.endswith(end)), "")
    words = html.escape(name.removesuffix(end).replace("_", " "))
    return f"{words}<br>[{html.escape(unit)}]" if unit else words


def _class(values: list[Any]) -> str:
    """Class of a column by its values: numbers are aligned right, text left, long text wraps."""
    longest = max((len(value) for value in values if isinstance(value, str)), default=0)
    if longest == 0:
        return ""
    return ' class="text long"' if longest > LONG_TEXT else ' class="text"'


def _html_row(tag: str, cells: list[str], classes: list[str]) -> str:
    filled = (f"<{tag}{kind}>{cell}</{tag}>" for cell, kind in zip(cells, classes, strict=True))
    return f"<tr>{''.join(filled)}</tr>"


def _shown(value: object, unit: str) -> str:
    if value is None or (isinstance(value, float) and isnan(value)):
        return "–"
    if not isinstance(value, float):
        return str(value)
    if unit not in DECIMALS:
        return f"{value + 0.0:.4g}"
    digits = DECIMALS[unit]
    return f"{round(value, digits) + 0.0:.{digits}f}"


@dataclass(frozen=True)
class View:
    """How results of one class are shown: as text, as a figure, and as that figure in SVG."""

    text: Callable[[Any], str]
    picture: Callable[[Any], "Figure"]
    svg: Callable[[Any], str]


VIEWS: dict[str, View] = {}
"""Views by the name of the class; `cases` enters those of `cases.show.views`."""


class Result(ABC):
    """Base of all results."""

    @abstractmethod
    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object."""

    @abstractmethod
    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary per row of the table."""

    def each_row(self) -> Iterator[dict[str, Any]]:
        """Return the rows of `to_rows` one at a time."""
        return iter(self.to_rows())

    def _column_units(self) -> dict[str, str]:
        """Return the units of columns whose names do not end in their unit."""
        return {}

    def table(self) -> Table:
        """Return the rows as a table with units."""
        rows = self.to_rows()
        columns = tuple(rows[0]) if rows else ()
        known = self._column_units()
        return Table(
            columns=columns,
            rows=tuple(tuple(row[name] for name in columns) for row in rows),
            units=tuple(known.get(name, unit_of(name)) for name in columns),
        )

    def plot(self) -> "Figure":
        """Return the figure; ``savefig`` writes it to a file."""
        return VIEWS[type(self).__name__].picture(self)

    def __str__(self) -> str:
        """Return the text that the command prints."""
        return VIEWS[type(self).__name__].text(self)

    def _repr_html_(self) -> str:
        """Return table, figure and, folded, the text, for a notebook."""
        drawn = VIEWS[type(self).__name__].svg(self)
        text = f"<details><summary>Text</summary><pre>{html.escape(str(self))}</pre></details>"
        return f'{self.table().to_html()}<div class="neckpreload">{drawn}</div>{text}'

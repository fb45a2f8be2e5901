"""Three depths of a text: short, the short one with a sentence for each line, and everything."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from textwrap import wrap

MOST = 20
"""Largest number of rows of a short text."""
WIDTH = 110
"""Largest width of its rows, except for a command to type."""
HANG = 17
"""Column at which a labelled line goes on."""
NEXT = " " * HANG
"""Start of the rows below a labelled one."""
COMMAND = "neckpreload "


class Depth(Enum):
    """How much of a result is shown."""

    SHORT = "short"
    EXPLAINED = "explained"
    FULL = "full"


@dataclass(frozen=True)
class Line:
    """A line in one or more rows; ``why`` explains it in a sentence, at column ``hang`` it goes on."""

    text: str
    why: str = ""
    hang: int = HANG

    def rows(self) -> Iterator[str]:
        """Its rows, wrapped to the width; a command to type stays whole."""
        for row in self.text.split("\n"):
            yield from [row] if row.strip().startswith(COMMAND) else _wrapped(row, self.hang)


def _wrapped(row: str, hang: int) -> list[str]:
    indent = " " * hang
    return wrap(row, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False) or [""]


def warned(texts: Iterable[str], *, word: str = "WARNING") -> tuple[Line, ...]:
    """Warnings or cautions as lines."""
    return tuple(Line(f"  {word}: {text}", hang=4) for text in texts)


def screen(
    lines: Iterable[Line], *, depth: Depth, warnings: Sequence[str] = (), end: Iterable[Line] = ()
) -> str:
    """Text of a result: its lines, the warnings, and the last lines.

    A short text has at most `MOST` rows; warnings that do not fit are counted in its last row but the end's.
    """
    lines, end, warning_lines = tuple(lines), tuple(end), warned(warnings)
    if depth is Depth.FULL:
        return "\n".join(line.text for line in (*lines, *warning_lines, *end))
    if depth is Depth.EXPLAINED:
        return "\n".join(row for line in (*lines, *warning_lines, *end) for row in _explained(line))
    above, below = ([row for line in part for row in line.rows()] for part in (lines, end))
    return "\n".join([*above, *_fitted(warning_lines, room=MOST - len(above) - len(below)), *below])


def _explained(line: Line) -> Iterator[str]:
    yield from line.rows()
    if line.why:
        yield from _wrapped(f"      ({line.why})", hang=7)


def _fitted(warnings: Sequence[Line], *, room: int) -> list[str]:
    """Rows of the warnings that fit, and the number of those that do not."""
    each = [list(line.rows()) for line in warnings]
    if sum(map(len, each)) <= room:
        return [row for rows in each for row in rows]
    shown: list[str] = []
    for number, rows in enumerate(each):
        if len(shown) + len(rows) > room - 1:
            left = len(each) - number
            return [*shown, f"  WARNING: {left} more; --full shows {'it' if left == 1 else 'them'}"]
        shown += rows
    return shown

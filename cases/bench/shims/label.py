"""The label of a fit: serial as text and QR code, pair of shims, date."""

import io
import textwrap
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.new_file import new_file
from cases.bench.logbook.store import LogbookError
from cases.bench.shims.lengths import MM_PER_INCH, shim_angle
from cases.offset.shim_ends import thick_end

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH_MM, HEIGHT_MM = 62.0, 29.0
QUIET_ZONE = 4
"""White modules around the code that a scanner needs (ISO/IEC 18004, from memory)."""
DOTS_PER_INCH = 300


@dataclass(frozen=True)
class Label:
    """Content of a label: the serial, also in the QR code, and lines of text."""

    serial: str
    lines: tuple[str, ...]


def fit_label(fit: Fit) -> Label:
    """Return the label of a fit, without a line for a missing prediction."""
    lines = [
        textwrap.shorten(fit.model or "", 30, placeholder=" ..."),
        _shim("upper", fit.upper_deg),
        _shim("lower", fit.lower_deg),
        _action(fit),
        f"{fit.started_utc:%Y-%m-%d}  attempt {fit.attempt}",
    ]
    return Label(serial=fit.serial, lines=tuple(line for line in lines if line))


def _shim(name: str, angle_deg: float) -> str:
    end = thick_end(name, round(angle_deg, 2))
    return f"{name} {shim_angle(angle_deg)}°, " + (f"thick at {end}" if end else "not tapered")


def _action(fit: Fit) -> str:
    bass, treble = (fit.predicted.get(f"action_{side}_mm") for side in ("bass", "treble"))
    if not isinstance(bass, int | float) or not isinstance(treble, int | float):
        return ""
    return f"action expected {bass:.1f} / {treble:.1f} mm"


def code_of(serial: str) -> Any:
    """Return the QR code of a serial, readable with up to 15 % of it damaged (level M)."""
    import segno

    # Scanners expect UTF-8 for anything but ASCII; the library would choose Shift JIS.
    encoding = None if serial.isascii() else "utf-8"
    return segno.make_qr(serial, error="m", encoding=encoding, boost_error=False)


def label_text(label: Label) -> str:
    """Return the label for a terminal: the code in half blocks, serial and lines below."""
    drawn = io.StringIO()
    code_of(label.serial).terminal(drawn, border=QUIET_ZONE, compact=True)
    return "\n".join([drawn.getvalue().rstrip("\n"), label.serial, *label.lines]) + "\n"


def draw_label(label: Label) -> "Figure":
    """Draw the label at its real size, 62 by 29 mm: code on the left, text on the right."""
    import numpy as np
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_MM / MM_PER_INCH, HEIGHT_MM / MM_PER_INCH), dpi=DOTS_PER_INCH)
    FigureCanvasAgg(figure)
    matrix = np.array([list(row) for row in code_of(label.serial).matrix_iter(border=QUIET_ZONE)])
    code = figure.add_axes((0.0, 0.0, HEIGHT_MM / WIDTH_MM, 1.0))
    # squares, not an image: sharp at any size
    code.pcolormesh(1.0 - matrix[::-1], cmap="gray", vmin=0.0, vmax=1.0, edgecolors="none", antialiased=False)
    code.set_aspect("equal")
    code.set_axis_off()
    text = figure.add_axes((HEIGHT_MM / WIDTH_MM, 0.0, 1.0 - HEIGHT_MM / WIDTH_MM, 1.0))
    text.set_axis_off()
    size, rows = _wrapped(label.serial)
    # parse_math off: a serial may contain dollar signs
    style: dict[str, Any] = {"ha": "left", "parse_math": False, "transform": text.transAxes}
    written = (
        text.text(0.02, 0.93, "\n".join(rows), va="top", fontsize=size, weight="bold", **style),
        text.text(0.02, 0.07, "\n".join(label.lines), va="bottom", fontsize=5.0, **style),
    )
    room = 0.96 * text.get_window_extent().width
    for one, font_size in zip(written, (size, 5.0), strict=True):
        width = one.get_window_extent().width
        one.set_fontsize(font_size * min(1.0, room / max(width, 1.0)))
    return figure


def _wrapped(serial: str) -> tuple[float, Sequence[str]]:
    """Return font size [points] and rows of a serial: smaller for a longer one, never cut."""
    for size, across, rows in ((12.0, 9, 1), (9.0, 12, 2), (6.5, 17, 4)):
        if len(serial) <= across * rows:
            return size, [serial[start : start + across] for start in range(0, len(serial), across)]
    raise LogbookError(f"The serial {serial!r} is too long for a label; 64 characters are allowed.")


def save_label(label: Label, path: Path) -> tuple[str, ...]:
    """Write the label as PNG or SVG, by the file's ending; return the characters missing in the fonts.

    Raises `LogbookError` for another ending, a file that exists, or a place that cannot be written.
    """
    import matplotlib

    if path.suffix.lower() not in (".png", ".svg"):
        raise LogbookError(
            f"A label is written as .png or .svg, not as {path.name!r}; use one of these endings."
        )
    # text stays text in the SVG, so that the viewer's fonts can draw what ours lack
    with (
        new_file(path) as part,
        matplotlib.rc_context({"svg.fonttype": "none"}),
        warnings.catch_warnings(record=True) as warned,
    ):
        warnings.simplefilter("always")
        draw_label(label).savefig(part, format=path.suffix[1:].lower())
    if path.suffix.lower() == ".svg":
        return ()
    missing = [
        character
        for character in label.serial
        if f"Glyph {ord(character)} " in str([str(one.message) for one in warned])
    ]
    return tuple(dict.fromkeys(missing))

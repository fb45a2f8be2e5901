"""The label that goes with a fit: the serial to read and to scan, the pair, the date."""

import io
import textwrap
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.store import LogbookError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH_MM, HEIGHT_MM = 62.0, 29.0
QUIET_ZONE = 4
"""White modules around the code that a scanner needs (ISO/IEC 18004, from memory)."""
DOTS_PER_INCH = 300
_MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Label:
    """What stands on a label: the serial, alone in the code, and a few lines beside it."""

    serial: str
    lines: tuple[str, ...]


def fit_label(fit: Fit) -> Label:
    """Return the label of a fit; a predicted value that was not given has no line."""
    lines = [
        textwrap.shorten(fit.model or "", 30, placeholder=" ..."),
        f"upper {_angle(fit.upper_deg)}  lower {_angle(fit.lower_deg)} deg",
        _action(fit),
        f"{fit.started_utc:%Y-%m-%d}  attempt {fit.attempt}",
    ]
    return Label(serial=fit.serial, lines=tuple(line for line in lines if line))


def _angle(angle_deg: float) -> str:
    return f"{angle_deg:.2f}" if round(angle_deg, 2) else "0.00"


def _action(fit: Fit) -> str:
    bass, treble = (fit.predicted.get(f"action_{side}_mm") for side in ("bass", "treble"))
    if not isinstance(bass, int | float) or not isinstance(treble, int | float):
        return ""
    return f"action expected {bass:.1f} / {treble:.1f} mm"


def code_of(serial: str) -> Any:
    """Return the QR code of a serial: UTF-8, 15 % of it may be lost (level M)."""
    import segno

    # Plain ASCII fits every mode; all else goes as UTF-8, which scanners expect, never as Shift JIS.
    encoding = None if serial.isascii() else "utf-8"
    return segno.make_qr(serial, error="m", encoding=encoding, boost_error=False)


def label_text(label: Label) -> str:
    """Return the label for a terminal: the code in half blocks, the serial and the lines under it."""
    drawn = io.StringIO()
    code_of(label.serial).terminal(drawn, border=QUIET_ZONE, compact=True)
    return "\n".join([drawn.getvalue().rstrip("\n"), label.serial, *label.lines]) + "\n"


def draw_label(label: Label) -> "Figure":
    """Draw the label at its real size, 62 by 29 mm: code on the left, serial and lines on the right."""
    import numpy as np
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_MM / _MM_PER_INCH, HEIGHT_MM / _MM_PER_INCH), dpi=DOTS_PER_INCH)
    FigureCanvasAgg(figure)
    matrix = np.array([list(row) for row in code_of(label.serial).matrix_iter(border=QUIET_ZONE)])
    code = figure.add_axes((0.0, 0.0, HEIGHT_MM / WIDTH_MM, 1.0))
    # Squares, not an image: the code stays sharp at any size and in any viewer.
    code.pcolormesh(1.0 - matrix[::-1], cmap="gray", vmin=0.0, vmax=1.0, edgecolors="none", antialiased=False)
    code.set_aspect("equal")
    code.set_axis_off()
    text = figure.add_axes((HEIGHT_MM / WIDTH_MM, 0.0, 1.0 - HEIGHT_MM / WIDTH_MM, 1.0))
    text.set_axis_off()
    size, rows = _wrapped(label.serial)
    # parse_math off: a serial may hold dollar signs.
    common: dict[str, Any] = {"ha": "left", "parse_math": False, "transform": text.transAxes}
    written = (
        text.text(0.02, 0.93, "\n".join(rows), va="top", fontsize=size, weight="bold", **common),
        text.text(0.02, 0.07, "\n".join(label.lines), va="bottom", fontsize=5.0, **common),
    )
    room = 0.96 * text.get_window_extent().width
    for one, asked in zip(written, (size, 5.0), strict=True):
        # Letters differ in width: what is still too wide is set smaller, never cut.
        width = one.get_window_extent().width
        one.set_fontsize(asked * min(1.0, room / max(width, 1.0)))
    return figure


def _wrapped(serial: str) -> tuple[float, Sequence[str]]:
    """Return type size [points] and rows that hold a serial: large when short, never cut."""
    for size, across, rows in ((12.0, 9, 1), (9.0, 12, 2), (6.5, 17, 4)):
        if len(serial) <= across * rows:
            return size, [serial[start : start + across] for start in range(0, len(serial), across)]
    raise LogbookError(f"The serial {serial!r} is too long for a label; 64 characters are allowed.")


def save_label(label: Label, path: Path) -> tuple[str, ...]:
    """Write the label as PNG or SVG, by the ending of the file's name.

    Returns
    -------
    tuple of str
        The characters that the fonts at hand cannot draw; the code holds them all the same.

    Raises
    ------
    LogbookError
        Another ending, a file that exists, or a place that cannot be written.
    """
    import matplotlib

    if path.suffix.lower() not in (".png", ".svg"):
        raise LogbookError(
            f"A label is written as .png or .svg, not as {path.name!r}; give one of these endings."
        )
    if path.exists():
        raise LogbookError(f"{path} exists already; name another file, or move it away first.")
    try:
        # Text stays text in the SVG: the viewer's own fonts show what ours may lack.
        with matplotlib.rc_context({"svg.fonttype": "none"}), warnings.catch_warnings(record=True) as warned:
            warnings.simplefilter("always")
            draw_label(label).savefig(path, format=path.suffix[1:].lower())
    except OSError as error:
        raise LogbookError(f"{path} cannot be written ({error.strerror}); name another place.") from None
    if path.suffix.lower() == ".svg":
        return ()
    missing = [
        character
        for character in label.serial
        if f"Glyph {ord(character)} " in str([str(one.message) for one in warned])
    ]
    return tuple(dict.fromkeys(missing))

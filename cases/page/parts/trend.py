"""The log over time: charts, first-time-right rate, shims to stock."""

from html import escape

from cases.bench.learning.trend import (
    CHARTED,
    GROUPINGS,
    alarm_text,
    chart,
    first_time_right,
    hint_text,
    residuals,
)
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.logbook import fits
from cases.bench.shims.shim_stock import stock_for_next
from cases.page.answer_html import listed, problems_html, table
from cases.page.chart_svg import trend_svg
from cases.page.parts.frame import act, html, sheet
from cases.page.room import Room
from materials.errors import InputError

NEXT_GUITARS = 50
MOST_HINTS = 5
FIRST_TIME_RIGHT = "First-time-right: the first pair was kept"
TO_STOCK = "Shims to stock, each short 1 time in 20"


def trend_page(room: Room) -> None:
    """Build the trend for one visitor."""
    with sheet(room, here="/trend", title="What the log shows"):
        place = html()

        def show() -> None:
            place.content = trend_html(room)

        act("Read the log again", show, quiet=True)
        show()


def trend_html(room: Room) -> str:
    """Charts, rates and stock as HTML."""
    try:
        found: tuple[Fit, ...] = room.with_logbook(fits, create=False)
    except InputError as error:
        return problems_html((str(error),))
    if not found:
        return "<p>The log is empty; log a pair at the bench first.</p>"
    charts = "".join(
        f'<section class="card">{chart_html(found, kind, unit)}</section>' for kind, unit in CHARTED
    )
    return f"<p>{len(found)} fits in the log.</p>{charts}{rates_html(found)}{stock_html(found)}"


def chart_html(found: tuple[Fit, ...], kind: str, unit: str) -> str:
    """One chart with its alarms in words, or the reason why there is none."""
    title = f"<h2>{escape(kind.replace('_', ' '))}</h2>"
    try:
        made = chart(residuals(found, kind, unit), kind, unit)
    except InputError as error:
        return f'{title}<p class="quiet">Not charted: {escape(str(error))}</p>'
    alarms = listed((alarm_text(made, one) for one in made.alarms), look="warnings")
    hints = listed((hint_text(made, one) for one in made.hints[-MOST_HINTS:]), look="warnings calm")
    off = f"Prediction off by {made.bias:+z.3f} ± {made.bias_half_width:.3f} {unit} (95 %)."
    return f"{title}{trend_svg(made)}<p>{off}{'' if alarms else ' No lasting shift.'}</p>{alarms}{hints}"


def rates_html(found: tuple[Fit, ...]) -> str:
    """How often the first pair was right."""
    rows = []
    for by in GROUPINGS:
        for rate in first_time_right(found, by):
            share = "none judged yet"
            if rate.share is not None:
                low, high = 100 * (rate.low or 0), 100 * (rate.high or 0)
                share = f"{100 * rate.share:.0f} % ({low:.0f} to {high:.0f})"
            mark = "below its limit: check this group" if rate.stands_out else ""
            group = "all guitars" if by == "all" else f"{by.replace('_', ' ')} {rate.group}"
            rows.append((group, share, f"{rate.right} of {rate.judged}", str(rate.open), mark))
    head = ("group", "right at first (95 %)", "guitars", "open", "")
    return f'<section class="card">{table(head, rows, caption=FIRST_TIME_RIGHT)}</section>'


def stock_html(found: tuple[Fit, ...]) -> str:
    """Shims in use, and how many to stock."""
    rows = [
        (f"{one.pad} {one.label}", str(one.used), str(one.wanted))
        for one in stock_for_next(found, NEXT_GUITARS)
    ]
    head = ("shim °", "used", f"for the next {NEXT_GUITARS}")
    return f'<section class="card">{table(head, rows, caption=TO_STOCK)}</section>'

"""The log over time: charts, first-time-right rate, shims to stock."""

from collections.abc import Callable, Mapping
from html import escape

from cases.bench.learning.trend import (
    CHARTED,
    GROUPINGS,
    Grouping,
    Rate,
    alarm_text,
    chart,
    first_time_right,
    hint_text,
    pair_stayed,
    residuals,
)
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.logbook import fits
from cases.bench.shims.case_of_guitar import logged_cases
from cases.bench.shims.shim_stock import stock_for_next
from cases.casefile.case import Case
from cases.page.answer_html import listed, problems_html, table
from cases.page.chart_svg import trend_svg
from cases.page.parts.frame import act, html, sheet
from cases.page.room import Room
from materials.counted import counted
from materials.errors import InputError

NEXT_GUITARS = 50
MOST_HINTS = 5
FIRST_TIME_RIGHT = "First-time-right: action, and gap or kink, of the first fit within tolerance"
STAYED = "The first pair stayed: no swap was logged"
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
    cases = room.with_logbook(lambda logbook: logged_cases(logbook, found), create=False)
    count = counted(len(found), "fit")
    return f"<p>{count} in the log.</p>{charts}{rates_html(found, cases)}{stock_html(found)}"


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


def rates_html(found: tuple[Fit, ...], cases: Mapping[str, Case]) -> str:
    """How often the first pair was right, and how often it stayed."""
    right = _rates_html(FIRST_TIME_RIGHT, lambda by: first_time_right(found, by, cases=cases))
    return right + _rates_html(STAYED, lambda by: pair_stayed(found, by))


def _rates_html(caption: str, rates: Callable[[Grouping], tuple[Rate, ...]]) -> str:
    rows = []
    for by in GROUPINGS:
        for rate in rates(by):
            share = "none judged yet"
            if rate.share is not None:
                low, high = 100 * (rate.low or 0), 100 * (rate.high or 0)
                share = f"{100 * rate.share:.0f} % ({low:.0f} to {high:.0f})"
            mark = "below its limit: check this group" if rate.stands_out else ""
            group = "all guitars" if by == "all" else f"{by.replace('_', ' ')} {rate.group}"
            rows.append((group, share, f"{rate.right} of {rate.judged}", str(rate.open), mark))
    head = ("group", "share (95 %)", "guitars", "open", "")
    return f'<section class="card">{table(head, rows, caption=caption)}</section>'


def stock_html(found: tuple[Fit, ...]) -> str:
    """Shims in use, and how many to stock."""
    rows = [
        (f"{one.pad} {one.label}", str(one.used), str(one.wanted))
        for one in stock_for_next(found, NEXT_GUITARS)
    ]
    head = ("shim °", "used", f"for the next {NEXT_GUITARS}")
    return f'<section class="card">{table(head, rows, caption=TO_STOCK)}</section>'

"""`neckpreload trend`: charts of the log over time."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands.logbook import SinceOption, parse_moment
from cases.commands.options import LogOption
from cases.commands.output import writable_folder
from materials.counted import counted

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from cases.bench.learning.trend import Chart, Rate
    from cases.bench.logbook.current_rows import Fit
    from cases.casefile.case import Case


MOST_GUITARS = 10_000
"""Largest number of guitars to stock for (our choice)."""


def trend(
    case: Annotated[str | None, typer.Option(help="Only fits to this case.", metavar="CASE")] = None,
    since: SinceOption = None,
    guitars: Annotated[
        int, typer.Option("--next", help="Shim stock for this many guitars.", metavar="N")
    ] = 50,
    out: Annotated[
        Path | None, typer.Option(help="Write the pictures into this folder.", metavar="DIR")
    ] = None,
    log: LogOption = None,
) -> None:
    """Chart measured minus predicted, first-time-right, and the shims to stock."""
    from cases.bench.learning.trend import CHARTED, first_time_right
    from cases.bench.logbook.logbook import fits
    from cases.bench.logbook.store import open_logbook
    from cases.bench.shims.case_of_guitar import logged_cases
    from cases.casefile.errors import Problem
    from materials.errors import InputError

    if not 1 <= guitars <= MOST_GUITARS:
        wrong, allowed = "this is out of range", f"1 to {MOST_GUITARS}"
        raise Problem("--next", str(guitars), wrong, allowed, "give a number in this range").error()
    moment, sha256 = parse_moment(since, name="--since"), None
    if case is not None:
        from cases.casefile.files import load

        sha256 = load(case).sha256
    with open_logbook(log, create=False) as logbook:
        rows = fits(logbook, since=moment, case_sha256=sha256)
        cases = logged_cases(logbook, rows)
        typer.echo(f"{counted(len(rows), 'fit')} from {logbook.where}")
    if not rows:
        raise InputError(
            "There are no such fits; log some with `neckpreload logbook add`, or widen --since or --case."
        )
    folder = None if out is None else writable_folder(out)
    weeks = first_time_right(rows, "week", cases=cases)
    pictures = [_chart(rows, kind, unit, weeks, folder) for kind, unit in CHARTED]
    if folder is not None and not any(pictures):
        typer.echo(f"no picture in {folder}: nothing was measured at pitch and predicted")
    _print_rates(rows, cases)
    _print_stock(rows, guitars)


def _chart(rows: "Sequence[Fit]", kind: str, unit: str, weeks: "Sequence[Rate]", folder: Path | None) -> bool:
    """Print a kind's chart, and draw it; a few values have no limits. Return whether there were values."""
    from cases.bench.learning.trend import chart, residuals
    from cases.show.pictures.trend import draw_few, draw_trend
    from materials.errors import InputError

    points = residuals(rows, kind, unit)
    if not points:
        typer.echo(f"not charted: {kind}: no fit has both a prediction and a measurement at pitch")
        return False
    try:
        found = chart(points, kind, unit)
    except InputError as error:
        mean = sum(point.value for point in points) / len(points)
        typer.echo(
            f"\n{kind}, measured minus predicted: {counted(len(points), 'fit')}, mean {mean:+.3f} {unit}"
        )
        values = " ".join(f"{point.value:+.3f}" for point in points)
        typer.echo(f"  {values}\n  no limits: {error}")
        figure = draw_few(points, kind, unit)
    else:
        _print_chart(found)
        figure = draw_trend(found, weeks)
    if folder is not None:
        _save(figure, folder / f"trend-{kind}.png")
    return True


def _print_chart(chart: "Chart") -> None:
    from cases.bench.learning.control_chart import SMOOTHING, WIDTH
    from cases.bench.learning.run_length import ewma_run_length
    from cases.bench.learning.trend import alarm_text, false_alarms_a_month, hint_text

    limits, unit = chart.limits, chart.unit
    typer.echo(f"\n{chart.kind}, measured minus predicted: {len(chart.points)} fits")
    typer.echo(
        f"  prediction off by {chart.bias:+.3f} +- {chart.bias_half_width:.3f} {unit} (95 %), "
        f"standard deviation {limits.sigma:.3f} {unit}, from the first {limits.baseline}"
    )
    typer.echo(
        f"  limits of a single fit {limits.individuals[0]:+.3f} to {limits.individuals[1]:+.3f} {unit}, "
        f"of the EWMA {limits.ewma[0]:+.3f} to {limits.ewma[1]:+.3f} {unit}"
    )
    for alarm in chart.alarms:
        typer.echo(f"  ALARM {alarm_text(chart, alarm)}")
    if not chart.alarms:
        typer.echo("  no lasting shift")
    for hint in chart.hints[-5:]:
        typer.echo(f"  hint {hint_text(chart, hint)}")
    length = ewma_run_length(smoothing=SMOOTHING, width=WIDTH)
    typer.echo(
        f"  false alarms: about one in {length:.0f} fits, or {false_alarms_a_month(length):.1f} a month "
        "at 40 a day (more with a short baseline)"
    )


def _print_rates(rows: "Sequence[Fit]", cases: "Mapping[str, Case]") -> None:
    from cases.bench.learning.trend import GROUPINGS, first_time_right, pair_stayed

    typer.echo("\nfirst-time-right: first fits with action, and gap or kink, within tolerance")
    for by in GROUPINGS:
        _print_group(by, first_time_right(rows, by, cases=cases))
    typer.echo("pair stayed: first fits without a swap after them")
    for by in GROUPINGS:
        _print_group(by, pair_stayed(rows, by))


def _print_group(by: str, rates: "Sequence[Rate]") -> None:
    for rate in rates:
        if rate.share is None:
            typer.echo(f"  {by:11}{rate.group:20}none measured yet, {rate.open} open")
            continue
        mark = "  below the control limit: look for the cause" if rate.stands_out else ""
        typer.echo(
            f"  {by:11}{rate.group:20}{100 * rate.share:5.1f} % ({rate.right} of {rate.judged}, "
            f"95 % {100 * (rate.low or 0):.0f} to {100 * (rate.high or 0):.0f} %), {rate.open} open{mark}"
        )


def _print_stock(rows: "Sequence[Fit]", guitars: int) -> None:
    from cases.bench.shims.shim_stock import stock_for_next

    typer.echo(
        f"\nshims in use, and number to stock for the next {counted(guitars, 'guitar')} (5 % chance that one "
        "runs short)"
    )
    for stock in stock_for_next(rows, guitars):
        typer.echo(f"  {stock.pad} {stock.label:>6} deg: {stock.used:4} used, {stock.wanted:4} to stock")


def _save(figure: "Figure", path: Path) -> None:
    from materials.errors import InputError

    try:
        figure.savefig(path, dpi=150)
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}); name another folder.") from None
    typer.echo(f"  picture {path}")

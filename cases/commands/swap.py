"""`neckpreload swap`: the correction of a strung guitar."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands.options import (
    CalibrationOption,
    CaseArgument,
    LogOption,
    SetOption,
    WorkshopOption,
    open_calibrations,
    open_case,
)
from cases.commands.pair import HoursOption, RhOption

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit
    from cases.bench.shims.strung_neck import Bench
    from cases.bench.shims.swap import StrungMeasurements
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop


def swap(
    case: CaseArgument,
    action_bass: Annotated[
        str, typer.Option("--action-bass", help="At fret 12, at pitch.", metavar="LENGTH")
    ],
    action_treble: Annotated[
        str, typer.Option("--action-treble", help="At fret 12, at pitch.", metavar="LENGTH")
    ],
    upper: Annotated[
        str | None, typer.Option("--upper", help="Upper shim in the guitar [deg].", metavar="ANGLE")
    ] = None,
    lower: Annotated[
        str | None, typer.Option("--lower", help="Lower shim in the guitar [deg].", metavar="ANGLE")
    ] = None,
    relief: Annotated[str | None, typer.Option("--relief", help="Present relief.", metavar="LENGTH")] = None,
    tongue_gap: Annotated[
        str | None,
        typer.Option("--tongue-gap", help="At the last fret, rises = +, without the bow.", metavar="LENGTH"),
    ] = None,
    saddle: Annotated[
        str | None, typer.Option("--saddle", help="Height of the saddle over the bridge.", metavar="LENGTH")
    ] = None,
    reading: Annotated[
        str | None,
        typer.Option("--reading", help="Reading of the bare pocket when it was fitted.", metavar="LENGTH"),
    ] = None,
    serial: Annotated[
        str | None, typer.Option("--serial", help="Use pair and reading from the logbook.")
    ] = None,
    rh: RhOption = None,
    hours: HoursOption = None,
    calibration: CalibrationOption = None,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
    log: LogOption = None,
) -> None:
    """Find the cause of an action error on a strung guitar, and the pair to swap to."""
    from cases.bench.shims import swap as swapping
    from cases.bench.shims.readings import Conditions
    from cases.bench.shims.strung_neck import bench_of
    from cases.casefile.quantity import parse_length
    from cases.show.text.bench import swap_text

    measured = swapping.StrungMeasurements(
        action_bass=parse_length(action_bass, name="--action-bass"),
        action_treble=parse_length(action_treble, name="--action-treble"),
        relief=_length(relief, "--relief"),
        tongue_gap=_length(tongue_gap, "--tongue-gap"),
        saddle=_length(saddle, "--saddle"),
        reading=_length(reading, "--reading"),
    )
    conditions = Conditions(rh, hours)
    opened, house = open_case(case, settings=settings, workshop_path=workshop)
    shims, fit, warning = _shims(opened, house, upper=upper, lower=lower, serial=serial, log=log)
    on = bench_of(opened, calibration=open_calibrations(calibration))
    inch = house.units == "inch"
    found = swapping.swap(on, *shims, _with_log(measured, fit, on), conditions=conditions, inch=inch)
    if warning:
        found = replace(found, warnings=(warning, *found.warnings))
    typer.echo(f"{opened.name}{'' if serial is None else f', {serial}'}:")
    typer.echo(swap_text(found, inch=inch))


def _length(text: str | None, name: str) -> float | None:
    from cases.casefile.quantity import parse_length

    return None if text is None else parse_length(text, name=name)


def _shims(
    case: "Case",
    house: "Workshop",
    *,
    upper: str | None,
    lower: str | None,
    serial: str | None,
    log: str | None,
) -> "tuple[tuple[float, float], Fit | None, str | None]":
    """The pair in the guitar, the fit with the reading of its pocket, and a warning about the case."""
    from cases.bench.shims.case_of_guitar import check_case, fit_with_case, fit_with_pocket, pair_of
    from cases.casefile.quantity import parse_angle
    from materials.errors import InputError

    given = [
        None if text is None else parse_angle(text, name=name, bare_unit="deg")
        for text, name in ((upper, "--upper"), (lower, "--lower"))
    ]
    if serial is not None:
        from cases.bench.logbook.current_rows import without_struck_out
        from cases.bench.logbook.logbook import case_text, fits, latest_fit, open_logbook

        with open_logbook(log, create=False) as logbook:
            fit = without_struck_out(latest_fit(logbook, serial))
            found = fits(logbook, serial=serial)
            named = fit_with_case(found)
            warning = check_case(named, case_text(logbook, named), case, workshop=house)
        return pair_of(fit, *given), fit_with_pocket(found), warning
    if given[0] is None or given[1] is None:
        raise InputError(
            "The shims in the guitar are missing: give --upper and --lower, or --serial of a logged guitar."
        )
    return (given[0], given[1]), None, None


def _with_log(measured: "StrungMeasurements", fit: "Fit | None", bench: "Bench") -> "StrungMeasurements":
    """Measurements completed with reading and squares from the log."""
    from cases.bench.learning.calibrate import squares_of
    from cases.bench.shims.case_of_guitar import reading_of

    if fit is None:
        return measured
    error = bench.case.tolerance.reading_mm
    reading = reading_of(fit, bench.geometry, measured.reading, error_mm=error)
    return replace(measured, reading=reading, squares=squares_of(fit))

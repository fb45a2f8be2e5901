"""`neckpreload swap`: from a strung guitar to the correction."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands import options
from cases.commands.pair import HoursOption, RhOption

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop


def swap(
    case: options.CaseArgument,
    action_bass: Annotated[str, typer.Option(help="Bass action at fret 12, at pitch.", metavar="LENGTH")],
    action_treble: Annotated[str, typer.Option(help="Treble action at fret 12, at pitch.", metavar="LENGTH")],
    upper: Annotated[
        str | None, typer.Option(help="Upper shim in the guitar [deg].", metavar="ANGLE")
    ] = None,
    lower: Annotated[
        str | None, typer.Option(help="Lower shim in the guitar [deg].", metavar="ANGLE")
    ] = None,
    relief: Annotated[str | None, typer.Option(help="Current relief.", metavar="LENGTH")] = None,
    tongue_gap: Annotated[
        str | None, typer.Option(help="At the last fret, rising = +, without the bow.", metavar="LENGTH")
    ] = None,
    saddle: Annotated[
        str | None, typer.Option(help="Saddle height over the bridge.", metavar="LENGTH")
    ] = None,
    reading: Annotated[
        str | None, typer.Option(help="Reading of the bare pocket at fitting.", metavar="LENGTH")
    ] = None,
    serial: Annotated[str | None, typer.Option(help="Take pair and reading from the logbook.")] = None,
    rh: RhOption = None,
    hours: HoursOption = None,
    calibration: options.CalibrationOption = None,
    settings: options.SetOption = None,
    workshop: options.WorkshopOption = None,
    log: options.LogOption = None,
) -> None:
    """Find what changed on a strung guitar and the pair that corrects it in one swap."""
    from cases.bench.shims import swap as swapping
    from cases.bench.shims.case_of_guitar import reading_of, squares_of
    from cases.bench.shims.readings import Conditions
    from cases.bench.shims.strung_neck import bench_of
    from cases.casefile.quantity import length_or_none, parse_length
    from cases.show.text.bench import swap_text

    measured = swapping.StrungMeasurements(
        action_bass=parse_length(action_bass, name="--action-bass"),
        action_treble=parse_length(action_treble, name="--action-treble"),
        relief=length_or_none(relief, "--relief"),
        tongue_gap=length_or_none(tongue_gap, "--tongue-gap"),
        saddle=length_or_none(saddle, "--saddle"),
        reading=length_or_none(reading, "--reading"),
    )
    conditions = Conditions(rh, hours)
    opened, house = options.open_case(case, settings=settings, workshop_path=workshop)
    shims, fit, told = _shims(opened, house, upper=upper, lower=lower, serial=serial, log=log)
    on = bench_of(opened, calibration=options.open_calibrations(calibration))
    inch = house.units == "inch"
    if fit is not None:
        error = on.case.tolerance.reading_mm
        read = reading_of(fit, on.geometry, measured.reading, error_mm=error)
        measured = replace(measured, reading=read, squares=squares_of(fit))
    found = swapping.swap(on, *shims, measured, conditions=conditions, inch=inch)
    if told:
        found = replace(found, warnings=(told, *found.warnings))
    typer.echo(f"{opened.name}{'' if serial is None else f', {serial}'}:")
    typer.echo(swap_text(found, inch=inch))


def _shims(
    case: "Case",
    house: "Workshop",
    *,
    upper: str | None,
    lower: str | None,
    serial: str | None,
    log: str | None,
) -> "tuple[tuple[float, float], Fit | None, str | None]":
    """The pair in the guitar, the fit with its pocket reading, and a warning about the case."""
    from cases.bench.shims.case_of_guitar import check_case, fit_with_case, fit_with_pocket, pair_of
    from cases.casefile.quantity import parse_angle
    from materials.errors import InputError

    given = [
        None if text is None else parse_angle(text, name=name, bare_unit="deg")
        for text, name in ((upper, "--upper"), (lower, "--lower"))
    ]
    if serial is not None:
        from cases.bench.logbook.current_rows import without_struck_out
        from cases.bench.logbook.logbook import case_text, fits, latest_fit
        from cases.bench.logbook.store import open_logbook

        with open_logbook(log, create=False) as logbook:
            fit = without_struck_out(latest_fit(logbook, serial))
            found = fits(logbook, serial=serial)
            named = fit_with_case(found)
            told = check_case(named, case_text(logbook, named), case, workshop=house)
        return pair_of(fit, *given), fit_with_pocket(found), told
    if given[0] is None or given[1] is None:
        raise InputError("Which shims are in it? Give --upper and --lower, or --serial of a logged guitar.")
    return (given[0], given[1]), None, None

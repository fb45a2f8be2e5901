"""`neckpreload swap`: from a strung guitar to the correction, and to the log."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands import options
from cases.commands.dry import log_attempt
from cases.commands.output import say
from cases.commands.pair import HoursOption, RhOption

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit
    from cases.bench.shims.readings import Conditions
    from cases.bench.shims.swap import Swap
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop
    from cases.offset.calibration import Calibration

ActionOption = typer.Option(help="Action at fret 12, at pitch; default: as logged.", metavar="LENGTH")


def swap(
    case: options.CaseArgument,
    action_bass: Annotated[str | None, ActionOption] = None,
    action_treble: Annotated[str | None, ActionOption] = None,
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
    serial: Annotated[
        str | None, typer.Option(help="Take pair and reading from the logbook; log measurements and advice.")
    ] = None,
    done: Annotated[
        bool, typer.Option("--done", help="The pair advised is in the guitar: log it as the next attempt.")
    ] = False,
    full: options.FullOption = False,
    explain: options.ExplainOption = False,
    rh: RhOption = None,
    hours: HoursOption = None,
    calibration: options.CalibrationOption = None,
    settings: options.SetOption = None,
    workshop: options.WorkshopOption = None,
    log: options.LogOption = None,
) -> None:
    """Find what changed on a strung guitar and the pair that corrects it in one swap."""
    from cases.bench.shims import swap as swapping
    from cases.bench.shims.readings import Conditions
    from cases.bench.shims.strung_neck import bench_of
    from cases.bench.shims.swap_log import attempts_measured, filled_in
    from cases.casefile.quantity import length_or_none
    from cases.show.text.bench import swap_text
    from materials.errors import InputError

    depth = options.depth_of(full=full, explain=explain)
    if done and serial is None:
        raise InputError("--done logs the pair advised for a guitar: give its --serial, or leave --done out.")
    texts = {"action-bass": action_bass, "action-treble": action_treble, "relief": relief}
    texts |= {"tongue-gap": tongue_gap, "saddle": saddle, "reading": reading}
    typed = {name.replace("-", "_"): length_or_none(text, f"--{name}") for name, text in texts.items()}
    conditions = Conditions(rh, hours)
    opened, house = options.open_case(case, settings=settings, workshop_path=workshop)
    shims, found, told = _shims(opened, house, upper=upper, lower=lower, serial=serial, log=log)
    learned = options.open_calibrations(calibration)
    on = bench_of(opened, calibration=learned)
    inch = house.units == "inch"
    measured = filled_in(typed, found, on)
    earlier = attempts_measured(found, measured)
    swapped = swapping.swap(on, *shims, measured, earlier=earlier, conditions=conditions, inch=inch)
    if told:
        swapped = replace(swapped, warnings=(told, *swapped.warnings))
    name = opened.name if serial is None else f"{opened.name}, {serial}"
    say(swap_text(swapped, name=name, depth=depth, inch=inch))
    if found:
        typer.echo(_log_advice(found[-1], typed, swapped, conditions, log))
    if found and done:
        typer.echo(_log_swap(opened, found[-1], swapped, learned, log))


def _log_advice(
    fit: "Fit", typed: dict[str, float | None], found: "Swap", conditions: "Conditions", log: str | None
) -> str:
    """Log measurements that are new and the pair advised; return the line that says so."""
    from cases.bench.logbook.logbook import add_measurements
    from cases.bench.logbook.store import open_logbook
    from cases.bench.logbook.validation import NewMeasurement, validated
    from cases.bench.shims.dry_log import advice
    from cases.bench.shims.swap_log import new_measurements

    rows = new_measurements(fit, typed, conditions)
    rows += advice((found.new.upper_deg, found.new.lower_deg), "strung")
    with open_logbook(log, create=False) as logbook:
        entries = [validated(NewMeasurement, row) for row in rows]
        logged = add_measurements(logbook, fit.serial, entries, attempt=fit.attempt)
        return f"  logged: {logged.serial} attempt {logged.attempt}, advice included, in {logbook.where}"


def _log_swap(
    case: "Case", last: "Fit", found: "Swap", calibration: "Calibration | None", log: str | None
) -> str:
    """Log the swap as the next attempt; return the line that says so."""
    from cases.bench.shims.choose_pair import prediction
    from materials.errors import InputError

    if found.keep:
        raise InputError(
            f"--done: {last.serial} keeps its pair, so there is no swap to log. If another pair went in, log "
            f"it with `neckpreload logbook add {last.serial} --upper ... --lower ... --reason swap`."
        )
    pair = (found.new.upper_deg, found.new.lower_deg)
    return log_attempt(case, last, pair, prediction(found.new), calibration, log)


def _shims(
    case: "Case",
    house: "Workshop",
    *,
    upper: str | None,
    lower: str | None,
    serial: str | None,
    log: str | None,
) -> "tuple[tuple[float, float], tuple[Fit, ...], str | None]":
    """The pair in the guitar, all its fits if it is in the log, and a warning about the case."""
    from cases.bench.shims.case_of_guitar import check_case, fit_with_case, pair_of
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
        return pair_of(fit, *given), found, told
    if given[0] is None or given[1] is None:
        raise InputError("Which shims are in it? Give --upper and --lower, or --serial of a logged guitar.")
    return (given[0], given[1]), (), None

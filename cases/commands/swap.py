"""`neckpreload swap`: from a strung guitar to the correction, and to the log."""

import shlex
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands import options
from cases.commands.dry import log_attempt, to_be_measured
from cases.commands.output import say
from cases.commands.pair import HoursOption, RhOption

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit
    from cases.bench.shims.readings import Conditions
    from cases.bench.shims.swap import Swap
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop
    from cases.offset.calibration import Calibration

ActionOption = Annotated[
    str | None,
    typer.Option(help="Action at fret 12, at pitch; default: as logged.", metavar="LENGTH"),
]
UpperOption = Annotated[str | None, typer.Option(help="Upper shim in the guitar [deg].", metavar="ANGLE")]
LowerOption = Annotated[str | None, typer.Option(help="Lower shim in the guitar [deg].", metavar="ANGLE")]
ReliefOption = Annotated[str | None, typer.Option(help="Current relief.", metavar="LENGTH")]
TongueGapOption = Annotated[
    str | None,
    typer.Option(
        help="Height of the last fret over the line of the frets up to the joint, the bow taken out; "
        "rising = +.",
        metavar="LENGTH",
    ),
]
SaddleOption = Annotated[str | None, typer.Option(help="Saddle height over the bridge.", metavar="LENGTH")]
ReadingOption = Annotated[
    str | None, typer.Option(help="Reading of the bare pocket at fitting.", metavar="LENGTH")
]
SerialOption = Annotated[
    str | None, typer.Option(help="Take pair and reading from the logbook; log measurements and advice.")
]
DoneOption = Annotated[
    bool, typer.Option("--done", help="The pair advised is in the guitar: log it as the next attempt.")
]


def swap(
    case: options.CaseArgument,
    action_bass: ActionOption = None,
    action_treble: ActionOption = None,
    upper: UpperOption = None,
    lower: LowerOption = None,
    relief: ReliefOption = None,
    tongue_gap: TongueGapOption = None,
    saddle: SaddleOption = None,
    reading: ReadingOption = None,
    serial: SerialOption = None,
    done: DoneOption = False,
    full: options.FullOption = False,
    explain: options.ExplainOption = False,
    rh: RhOption = None,
    hours: HoursOption = None,
    strings: options.StringsOption = None,
    tuning: options.TuningOption = None,
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
    from cases.casefile.changes import Changes
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
    changes = Changes(strings, tuning)
    opened, house = options.open_case(case, settings=settings, workshop_path=workshop, changes=changes)
    shims, found, told = _shims(opened, house, upper=upper, lower=lower, serial=serial, log=log)
    if done:
        _check_advised(found[-1], typed, conditions)
    learned = options.open_calibrations(calibration)
    on = bench_of(opened, calibration=learned)
    inch = house.units == "inch"
    measured = filled_in(typed, found, on)
    earlier = attempts_measured(found, measured)
    swapped = swapping.swap(on, *shims, measured, earlier=earlier, conditions=conditions, inch=inch)
    again = options.again(case, settings, changes, calibration, log=log)
    if done:
        typer.echo(_log_swap(opened, found[-1], swapped, learned, log))
        typer.echo(to_be_measured(again, found[-1].serial, "string to pitch, measure again the next day"))
        return
    if told:
        swapped = replace(swapped, warnings=(told, *swapped.warnings))
    name = opened.name if serial is None else f"{opened.name}, {serial}"
    say(swap_text(swapped, name=name, depth=depth, inch=inch))
    if found:
        typer.echo(_log_advice(found[-1], typed, swapped, conditions, log))
        if not swapped.keep:
            command = f"neckpreload swap {again} --serial {shlex.quote(found[-1].serial)} --done"
            typer.echo(f"  next: with this pair in the guitar, log it:\n    {command}")


def _check_advised(last: "Fit", typed: dict[str, float | None], conditions: "Conditions") -> None:
    """Refuse to log a swap that was not advised, or measurements beside it that are not in the log."""
    from cases.bench.shims.dry_log import last_advice
    from cases.bench.shims.swap_log import new_measurements
    from materials.errors import InputError

    new = [row["kind"].replace("_", " ") for row in new_measurements(last, typed, conditions)]
    if new:
        raise InputError(
            f"--done logs the pair advised last and takes no new measurement, here {', '.join(new)}: leave "
            "--done out to log what you measured and get advice, then give --done alone."
        )
    advised = last_advice(last, "strung")
    if advised is None or advised == (last.upper_deg, last.lower_deg):
        none = "no swap was advised yet" if advised is None else "it keeps its pair"
        raise InputError(
            f"--done: {last.serial}: {none}, so there is no swap to log. If another pair went in, log it "
            f"with `neckpreload logbook add {last.serial} --upper ... --lower ... --reason swap`."
        )


def _log_advice(
    fit: "Fit", typed: dict[str, float | None], found: "Swap", conditions: "Conditions", log: str | None
) -> str:
    """Log measurements that are new and the pair advised; return the line that says so."""
    from cases.bench.logbook.logbook import add_measurements
    from cases.bench.logbook.store import open_logbook
    from cases.bench.logbook.validation import NewMeasurement, validated
    from cases.bench.shims.dry_log import advice, last_advice
    from cases.bench.shims.swap_log import new_measurements

    rows = new_measurements(fit, typed, conditions)
    pair = (found.new.upper_deg, found.new.lower_deg)
    if last_advice(fit, "strung") != pair:
        rows += advice(pair, "strung")
    with open_logbook(log, create=False) as logbook:
        entries = [validated(NewMeasurement, row) for row in rows]
        logged = add_measurements(logbook, fit.serial, entries, attempt=fit.attempt)
        said = "logged" if rows else "already in the log"
        return f"  {said}: {logged.serial} attempt {logged.attempt}, advice included, in {logbook.where}"


def _log_swap(
    case: "Case", last: "Fit", found: "Swap", calibration: "Calibration | None", log: str | None
) -> str:
    """Log the pair advised last as the next attempt, predicted where it is still advised; return the line
    that says so.
    """
    from cases.bench.shims.choose_pair import prediction
    from cases.bench.shims.dry_log import last_advice

    advised = last_advice(last, "strung")
    assert advised is not None
    predicted = prediction(found.new) if advised == (found.new.upper_deg, found.new.lower_deg) else {}
    return log_attempt(case, last, advised, predicted, calibration, log)


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

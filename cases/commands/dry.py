"""`neckpreload pair --bolted`: the joint read before the strings go on, and the shim to change."""

import shlex
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands.logbook import log_fit, parse_measurement
from cases.commands.output import json_text, say

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit
    from cases.bench.logbook.validation import NewMeasurement
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop
    from cases.offset.calibration import Calibration

BoltedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--bolted",
        help="Read on the bolted joint, without strings: kink=-0.07deg or tongue_gap=-0.10mm, up to five "
        "times; saddle_line=9.2mm, height of the frets' line at the saddle, checks the pocket's reading.",
        metavar="KIND=VALUE",
    ),
]
TunedDownOption = Annotated[
    list[str] | None,
    typer.Option(
        "--tuned-down",
        help="Kink with all strings six semitones low and the rod slack; up to five times.",
        metavar="ANGLE",
    ),
]
DoneOption = Annotated[
    bool, typer.Option("--done", help="The pair advised last is in the guitar: log it as the next attempt.")
]
BOLTED_KINDS = ("kink", "tongue_gap", "saddle_line")


def measured_dry(bolted: Sequence[str], tuned_down: Sequence[str]) -> "list[NewMeasurement]":
    """Readings of the bolted joint; `InputError` if one is wrong or there are too many."""
    from cases.bench.logbook.validation import NewMeasurement, validated
    from cases.bench.shims.dry_check import MOST_READINGS
    from cases.casefile.quantity import parse_angle
    from materials.errors import InputError

    for text in bolted:
        kind = text.partition("=")[0].strip().replace("-", "_")
        if kind not in BOLTED_KINDS:
            raise InputError(
                f"--bolted {text!r}: {', '.join(BOLTED_KINDS)} are read on the bolted joint; write for "
                "example kink=-0.07deg."
            )
    if max(len(bolted), len(tuned_down)) > MOST_READINGS:
        raise InputError(
            f"--bolted and --tuned-down take up to {MOST_READINGS} readings each; give the last."
        )
    found = [parse_measurement(text, {"state": "bolted"}) for text in bolted]
    for text in tuned_down:
        kink = parse_angle(text.removeprefix("kink="), name="--tuned-down")
        values = {"kind": "tuned_down_kink", "state": "bolted", "value": kink, "unit": "deg"}
        found.append(validated(NewMeasurement, values))
    return found


def check_logged(
    case: "Case",
    house: "Workshop",
    calibration: "Calibration | None",
    measured: "Sequence[NewMeasurement]",
    *,
    serial: str,
    log: str | None,
    again: str,
    done: bool,
    as_json: bool,
) -> None:
    """Check a guitar of the log; with ``done`` log first that the advised pair is in it.

    ``again`` : the case as typed, with its options, for the next command.
    """
    from cases.bench.logbook.logbook import add_measurements, case_text, fits, latest_fit
    from cases.bench.logbook.store import open_logbook
    from cases.bench.logbook.validation import NewMeasurement, validated
    from cases.bench.shims.case_of_guitar import check_case, fit_with_case
    from cases.bench.shims.dry_log import advice, with_measured

    with open_logbook(log, create=False) as logbook:
        latest_fit(logbook, serial)
        found = fits(logbook, serial=serial)
        named = fit_with_case(found)
        told = check_case(named, case_text(logbook, named), case, workshop=house)
    if done:
        typer.echo(_log_change(case, calibration, found, log), err=as_json)
        if not measured:
            typer.echo(to_be_read(again, serial), err=as_json)
            return
        with open_logbook(log, create=False) as logbook:
            found = fits(logbook, serial=serial)
    pair = show_check(case, house, calibration, with_measured(found, measured), told=told, as_json=as_json)
    advised = [] if pair is None else [validated(NewMeasurement, one) for one in advice(pair, "bolted")]
    with open_logbook(log, create=False) as logbook:
        fit = add_measurements(logbook, serial, [*measured, *advised])
        typer.echo(f"  logged: {fit.serial} attempt {fit.attempt} in {logbook.where}", err=as_json)
    if pair == (fit.upper_deg, fit.lower_deg):
        typer.echo(to_be_measured(again, serial, "string to pitch, set the rod, measure"), err=as_json)
    elif pair is not None:
        typer.echo(to_be_read(again, serial, change=True), err=as_json)


def to_be_read(again: str, serial: str, *, change: bool = False) -> str:
    """The step after a pair went in: reading the joint; with ``change`` it is another pair, to be logged.

    ``again`` : the case as typed, with its options.
    """
    what = "change the shim, bolt up, read again" if change else "bolt up, read the kink"
    done = "--done " if change else ""
    command = f"neckpreload pair {again} --serial {shlex.quote(serial)} {done}--bolted kink=ANGLE"
    return f"  next: {what} before the strings go on, then\n    {command}"


def to_be_measured(again: str, serial: str, what: str) -> str:
    """The step after string-up: measuring, and what to do about it."""
    measured = " ".join(f"--{name} LENGTH" for name in ("action-bass", "action-treble", "relief"))
    command = f"neckpreload swap {again} --serial {shlex.quote(serial)} {measured} --tongue-gap LENGTH"
    return f"  next: {what}, then\n    {command}"


def show_check(
    case: "Case",
    house: "Workshop",
    calibration: "Calibration | None",
    found: "Sequence[Fit]",
    *,
    told: str | None,
    as_json: bool,
) -> tuple[float, float] | None:
    """Print the dry check of a guitar's fits; return the pair to string up, None if the joint is to be
    inspected first.
    """
    from dataclasses import replace

    from cases.bench.shims.dry_log import bench_of_fits, checked
    from cases.show.text.dry import dry_text

    check, _ = checked(bench_of_fits(case, calibration, found), found)
    check = replace(check, warnings=check.warnings if told is None else (told, *check.warnings))
    pair = (check.best.upper_deg, check.best.lower_deg)
    if as_json:
        typer.echo(json_text({"schema": 1, **asdict(check), "inspect": check.odd}))
        return None if check.odd else pair
    typer.echo(f"{case.name}, {found[-1].serial}: bolted up, before string-up")
    say(dry_text(check, inch=house.units == "inch"))
    return None if check.odd else pair


def _log_change(
    case: "Case", calibration: "Calibration | None", found: "Sequence[Fit]", log: str | None
) -> str:
    """Log the pair that was advised last as the next attempt."""
    from cases.bench.shims.dry_log import bench_of_fits, checked, last_advice
    from materials.errors import InputError

    last = found[-1]
    advised = last_advice(last, "bolted")
    if advised is None or advised == (last.upper_deg, last.lower_deg):
        raise InputError(
            f"--done: no other pair was advised for {last.serial} before string-up, so there is no change to "
            "log; read the joint first and give --bolted kink=-0.07deg."
        )
    check, predicted = checked(bench_of_fits(case, calibration, found), found)
    if (check.best.upper_deg, check.best.lower_deg) != advised:
        predicted = {}
    return log_attempt(case, last, advised, predicted, calibration, log)


def log_attempt(
    case: "Case",
    last: "Fit",
    pair_deg: tuple[float, float],
    predicted: dict[str, float],
    calibration: "Calibration | None",
    log: str | None,
) -> str:
    """Log another pair of a guitar as its next attempt; return the line that says so."""
    from cases.bench.shims.fit_entry import next_entry

    used = calibration.id if calibration else None
    fit, where, _ = log_fit(next_entry(case, last, pair_deg, predicted, calibration_id=used), log)
    pair = f"upper {fit.upper_deg:+.2f}, lower {fit.lower_deg:+.2f} deg"
    return f"  logged: {fit.serial} attempt {fit.attempt}, {pair}, in {where}"

"""`neckpreload logbook`: adds to the log, shows it, corrects it."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cases.commands.options import LogOption

if TYPE_CHECKING:
    from datetime import datetime

    from cases.bench.logbook.current_rows import Fit
    from cases.bench.logbook.validation import NewMeasurement

app = typer.Typer(
    help="Shims fitted, predictions and measurements of each guitar; nothing is overwritten.",
    no_args_is_help=True,
)

SerialArgument = Annotated[
    str, typer.Argument(help="The guitar's serial, as printed; leading zeros count.", metavar="SERIAL")
]
AttemptOption = Annotated[
    int | None, typer.Option("--attempt", help="Which fit of the guitar; default: the last.", metavar="N")
]
WhoOption = Annotated[str | None, typer.Option("--who", help="Who says so, free text.")]
SinceOption = Annotated[
    str | None, typer.Option("--since", help="From this day or moment on, as 2025-05-04.", metavar="DATE")
]

SHOWN_FIELDS = (
    *("model", "wood_batch", "built_on", "strings", "bench", "who"),
    *("model_version", "calibration_id"),
)
OWN_SET = "own"
"""Name in the log for strings that a case gives by their gauges."""


def parse_moment(text: str | None, *, name: str) -> "datetime | None":
    """Read a day or a moment; without a time zone it is UTC; None without a text.

    Raises
    ------
    InputError
        If it is neither.
    """
    from datetime import UTC, datetime

    from materials.errors import InputError

    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{name} {text!r}: this is not a day or a time; "
            "write for example 2025-05-04 or 2025-05-04T08:30:00Z."
        ) from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment


@app.command("add")
def add(
    serial: SerialArgument,
    upper: Annotated[
        str | None, typer.Option("--upper", help="Upper shim that went in [deg].", metavar="ANGLE")
    ] = None,
    lower: Annotated[
        str | None, typer.Option("--lower", help="Lower shim that went in [deg].", metavar="ANGLE")
    ] = None,
    reason: Annotated[str | None, typer.Option("--reason", help="new, swap or return; default: new.")] = None,
    case: Annotated[str | None, typer.Option("--case", help="The case it was fitted to.")] = None,
    strings: Annotated[
        str | None, typer.Option("--strings", help="A set of `neckpreload strings`, or own.", metavar="SET")
    ] = None,
    model: Annotated[str | None, typer.Option("--model")] = None,
    wood_batch: Annotated[str | None, typer.Option("--wood-batch")] = None,
    built_on: Annotated[str | None, typer.Option("--built-on", metavar="DATE")] = None,
    bench: Annotated[str | None, typer.Option("--bench", help="Which bench it was done at.")] = None,
    who: WhoOption = None,
    started: Annotated[
        str | None, typer.Option("--started", help="When, if not now.", metavar="MOMENT")
    ] = None,
    attempt: AttemptOption = None,
    measured: Annotated[
        list[str] | None,
        typer.Option("--measured", help="As action_bass=2.4mm; may be given again.", metavar="KIND=VALUE"),
    ] = None,
    state: Annotated[
        str | None,
        typer.Option("--state", help="Of all measurements: bare, bolted, slack or strung; default: strung."),
    ] = None,
    minutes: Annotated[
        float | None, typer.Option("--minutes-since-pitch", help="Minutes since pitch or a rod turn.")
    ] = None,
    rh: Annotated[float | None, typer.Option("--rh-percent", help="Relative humidity.")] = None,
    temperature: Annotated[float | None, typer.Option("--temp-c", help="Temperature.")] = None,
    log: LogOption = None,
) -> None:
    """Add a fit (with --upper and --lower), or measurements to the last fit (without)."""
    around = {"state": state, "minutes_since_pitch": minutes, "rh_percent": rh, "temp_c": temperature}
    if not measured:
        _refuse(around, "describes a measurement: give --measured KIND=VALUE too, or leave it out")
    around["state"] = state or "strung"
    measurements = tuple(_measurement(text, around) for text in measured or ())
    of_fit = {"reason": reason, "strings": strings, "model": model, "wood_batch": wood_batch}
    of_fit |= {"built_on": built_on, "bench": bench, "who": who}
    if upper is None or lower is None:
        _check_measured_alone({**of_fit, "case": case, "started": started}, upper, lower, measurements)
        _add_measurements(serial, measurements, attempt=attempt, log=log)
        return
    values = {"serial": serial, "attempt": attempt, "measurements": measurements}
    values |= {**of_fit, "reason": reason or "new", "strings": _string_set(strings)}
    _add_fit(values, upper=upper, lower=lower, case=case, started=started, log=log)


def _refuse(options: dict[str, Any], why: str) -> None:
    """Refuse the first option given, as it would be ignored."""
    from materials.errors import InputError

    given = [name for name, value in options.items() if value is not None]
    if given:
        raise InputError(f"--{given[0].replace('_', '-')} {why}.")


def _check_measured_alone(
    of_fit: dict[str, Any],
    upper: str | None,
    lower: str | None,
    measurements: "tuple[NewMeasurement, ...]",
) -> None:
    """Refuse a fit with one shim, an empty entry, and options that only apply to a fit."""
    from materials.errors import InputError

    if (upper or lower) is not None:
        raise InputError(
            "A fit has two shims: give both --upper and --lower, or neither to add measurements."
        )
    if not measurements:
        raise InputError("Nothing to add: give --upper and --lower, or --measured KIND=VALUE.")
    _refuse(
        of_fit,
        "applies only to a fit, not to later measurements: leave it out, give --upper and --lower for a "
        "new fit, or correct the old one with `neckpreload logbook amend`",
    )


def _add_fit(
    values: dict[str, Any], *, upper: str, lower: str, case: str | None, started: str | None, log: str | None
) -> None:
    from datetime import UTC, datetime

    from cases.casefile.quantity import parse_angle

    values |= {
        **_case_columns(case),
        "upper_deg": parse_angle(upper, name="--upper", bare_unit="deg"),
        "lower_deg": parse_angle(lower, name="--lower", bare_unit="deg"),
        "started_utc": parse_moment(started, name="--started") or datetime.now(UTC),
    }
    fit, where, warning = log_fit(values, log)
    _show(fit, where=where)
    if warning is not None:
        typer.echo(f"  WARNING: {warning}")


def log_fit(values: dict[str, Any], log: str | None) -> "tuple[Fit, str, str | None]":
    """Add a fit to the log; return it, the place of the log, and a warning or None."""
    from importlib.metadata import version

    from cases.bench.logbook.logbook import add_fit, already_fitted_warning
    from cases.bench.logbook.store import open_logbook
    from cases.bench.logbook.validation import NewFit, validated

    entry = validated(NewFit, {**values, "model_version": version("neckpreload")})
    with open_logbook(log) as logbook:
        fit = add_fit(logbook, entry)
        return fit, logbook.where, already_fitted_warning(logbook, fit)


def _add_measurements(
    serial: str, measurements: "tuple[NewMeasurement, ...]", *, attempt: int | None, log: str | None
) -> None:
    from cases.bench.logbook.logbook import add_measurements
    from cases.bench.logbook.store import open_logbook

    with open_logbook(log, create=False) as logbook:
        fit = add_measurements(logbook, serial, measurements, attempt=attempt)
        _show(fit, where=logbook.where)


def _string_set(name: str | None) -> str | None:
    """The set's full name, as `neckpreload pair --serial` logs it."""
    from materials.strings import string_set

    return name if name is None or name == OWN_SET else string_set(name).name


def _case_columns(name: str | None) -> dict[str, str | None]:
    if name is None:
        return {}
    from cases.casefile.files import load

    case = load(name)
    return {"case_sha256": case.sha256, "case_text": case.text}


def _measurement(text: str, around: Mapping[str, object]) -> "NewMeasurement":
    from cases.bench.logbook.validation import NewMeasurement, validated
    from cases.bench.logbook.value_ranges import KINDS
    from cases.casefile.quantity import is_angle, parse_angle, parse_length
    from materials.errors import InputError

    kind, equals, value = text.partition("=")
    kind = kind.strip().replace("-", "_")
    if not equals:
        raise InputError(f"--measured {text!r}: this is not KIND=VALUE; write for example action_bass=2.4mm.")
    angle = is_angle(value) or "mm" not in KINDS.get(kind, ("mm",))
    number = parse_angle(value, name=kind) if angle else parse_length(value, name=kind)
    return validated(
        NewMeasurement, {"kind": kind, "value": number, "unit": "deg" if angle else "mm", **around}
    )


@app.command("list")
def list_fits(since: SinceOption = None, log: LogOption = None) -> None:
    """List every fit, oldest first."""
    from cases.bench.logbook.logbook import fits
    from cases.bench.logbook.store import open_logbook

    moment = parse_moment(since, name="--since")
    with open_logbook(log, create=False) as logbook:
        found = fits(logbook, since=moment)
        typer.echo(
            f"{'started':17}{'serial':24}{'attempt':>8} {'reason':8}{'upper':>6} {'lower':>6}  measured"
        )
        for fit in found:
            typer.echo(
                f"{fit.started_utc:%Y-%m-%d %H:%M} {fit.serial:24}{fit.attempt:>8} {fit.reason:8}"
                f"{fit.upper_deg:6.2f} {fit.lower_deg:6.2f}  {len(fit.measurements)}"
            )
        typer.echo(f"{len(found)} fits in {logbook.where}")


@app.command("show")
def show(serial: SerialArgument, log: LogOption = None) -> None:
    """Show all fits of a guitar, struck-out ones too, with every correction."""
    from cases.bench.logbook.logbook import amendments, fits, latest_fit
    from cases.bench.logbook.store import open_logbook

    with open_logbook(log, create=False) as logbook:
        latest_fit(logbook, serial, struck_out=True)
        for fit in fits(logbook, serial=serial, struck_out=True):
            _show(fit, where=logbook.where)
            for one in amendments(logbook, fit):
                typer.echo(
                    f"  amended {one.amended_utc:%Y-%m-%d %H:%M}: {one.table_name} {one.row_id} "
                    f"{one.column_name} {one.old_value} -> {one.new_value} ({one.reason})"
                )


def _show(fit: "Fit", *, where: str) -> None:
    struck = " STRUCK OUT" if fit.struck_out else ""
    typer.echo(
        f"{fit.serial} attempt {fit.attempt} ({fit.reason}), {fit.started_utc:%Y-%m-%d %H:%M} UTC{struck}"
    )
    typer.echo(f"  upper {fit.upper_deg:.2f} deg, lower {fit.lower_deg:.2f} deg")
    for name in SHOWN_FIELDS:
        value = getattr(fit, name)
        if value is not None:
            typer.echo(f"  {name} {value}")
    if fit.case_sha256:
        typer.echo(f"  case sha256 {fit.case_sha256[:12]}")
    for name, value in fit.predicted.items():
        shown = f"{value:.3f}" if isinstance(value, float) else value
        typer.echo(f"  predicted {name} {shown}")
    for one in fit.measurements:
        late = "" if one.minutes_since_pitch is None else f", {one.minutes_since_pitch:g} min since pitch"
        struck = " STRUCK OUT" if one.struck_out else ""
        typer.echo(f"  measurement {one.id}: {one.kind} {one.value:g} {one.unit} ({one.state}{late}){struck}")
    typer.echo(f"  in {where}")


@app.command("amend")
def amend_one(
    serial: SerialArgument,
    field: Annotated[
        str, typer.Argument(help="The field to correct, as wood_batch; struck_out removes a row.")
    ],
    value: Annotated[str, typer.Argument(help="The right value.")],
    reason: Annotated[str, typer.Option("--reason", help="Why.")],
    attempt: AttemptOption = None,
    measurement: Annotated[
        int | None, typer.Option("--measurement", help="Its number in `logbook show`.", metavar="N")
    ] = None,
    who: WhoOption = None,
    log: LogOption = None,
) -> None:
    """Correct one value; the log keeps the old one beside the correction."""
    from datetime import UTC, datetime

    from cases.bench.logbook.logbook import amend
    from cases.bench.logbook.store import open_logbook

    with open_logbook(log, create=False) as logbook:
        done = amend(
            logbook, serial, field, value,
            reason=reason, at=datetime.now(UTC), attempt=attempt, measurement_id=measurement, who=who,
        )  # fmt: skip
        typer.echo(f"{field}: {done.old_value} -> {done.new_value} in {logbook.where}")

"""`neckpreload logbook`: adds to the log, shows it, corrects it."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cases.commands.options import LogOption
from materials.counted import counted

if TYPE_CHECKING:
    from datetime import datetime

    from cases.bench.logbook.current_rows import Fit
    from cases.bench.logbook.validation import NewFit, NewMeasurement

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
WhoOption = Annotated[str | None, typer.Option("--who", help="Who did it, free text.")]
SinceOption = Annotated[
    str | None, typer.Option("--since", help="From this day or moment on, as 2025-05-04.", metavar="DATE")
]

SHOWN = ("model", "wood_batch", "built_on", "strings", "bench", "who", "model_version", "calibration_id")
OWN_SET = "own"
"""Name in the log for strings that a case gives by their gauges."""


def parse_moment(text: str | None, *, name: str) -> "datetime | None":
    """Read a day or a moment, UTC unless it has a time zone; None without a text; `InputError` if wrong."""
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
    upper: Annotated[str | None, typer.Option(help="Upper shim that went in [deg].", metavar="ANGLE")] = None,
    lower: Annotated[str | None, typer.Option(help="Lower shim that went in [deg].", metavar="ANGLE")] = None,
    reason: Annotated[str | None, typer.Option(help="new, swap or return; default: new.")] = None,
    case: Annotated[str | None, typer.Option(help="The case it was fitted to.")] = None,
    strings: Annotated[
        str | None, typer.Option(help="A set of `neckpreload strings`, or own.", metavar="SET")
    ] = None,
    model: Annotated[str | None, typer.Option(help="The model built, free text.")] = None,
    wood_batch: Annotated[str | None, typer.Option(help="Delivery that its wood is from.")] = None,
    built_on: Annotated[str | None, typer.Option(help="Day it was built.", metavar="DATE")] = None,
    bench: Annotated[str | None, typer.Option(help="Which bench it was done at.")] = None,
    who: WhoOption = None,
    started: Annotated[str | None, typer.Option(help="When, if not now.", metavar="MOMENT")] = None,
    attempt: AttemptOption = None,
    measured: Annotated[
        list[str] | None,
        typer.Option(
            help="action_bass, action_treble, relief, tongue_gap, kink and the like, as action_bass=2.4mm; "
            "may be given again.",
            metavar="KIND=VALUE",
        ),
    ] = None,
    state: Annotated[
        str | None, typer.Option(help="Of all measurements: bare, bolted, slack or strung; default: strung.")
    ] = None,
    minutes_since_pitch: Annotated[
        float | None, typer.Option(help="Minutes since pitch or a rod turn.")
    ] = None,
    rh_percent: Annotated[float | None, typer.Option(help="Relative humidity, %.")] = None,
    temp_c: Annotated[float | None, typer.Option(help="Temperature, degC.")] = None,
    log: LogOption = None,
) -> None:
    """Add a fit (with --upper and --lower), or measurements to the last fit (without)."""
    from cases.bench.logbook.logbook import add_measurements
    from cases.bench.logbook.store import open_logbook
    from materials.errors import InputError

    around = {"minutes_since_pitch": minutes_since_pitch, "rh_percent": rh_percent, "temp_c": temp_c}
    if not measured:
        why = "describes a measurement: give --measured KIND=VALUE too, or leave it out"
        refuse_given({"state": state, **around}, why)
    measurements = tuple(
        parse_measurement(text, {"state": state or "strung", **around}) for text in measured or ()
    )
    of_fit = {"reason": reason, "strings": strings, "model": model, "wood_batch": wood_batch}
    of_fit |= {"built_on": built_on, "bench": bench, "who": who}
    if (upper is None) != (lower is None):
        raise InputError(
            "A fit has two shims: give both --upper and --lower, or neither to add measurements."
        )
    if upper is None or lower is None:
        if not measurements:
            raise InputError("Nothing to add: give --upper and --lower, or --measured KIND=VALUE.")
        refuse_given(
            {**of_fit, "case": case, "started": started},
            "applies only to a fit, not to later measurements: leave it out, give --upper and --lower for a "
            "new fit, or correct the old one with `neckpreload logbook amend`",
        )
        with open_logbook(log, create=False) as logbook:
            _show(add_measurements(logbook, serial, measurements, attempt=attempt), where=logbook.where)
        return
    values = {"serial": serial, "attempt": attempt, "measurements": measurements}
    values |= {**of_fit, "reason": reason or "new"}
    _add_fit(values, upper=upper, lower=lower, case=case, started=started, log=log)


def refuse_given(options: Mapping[str, object], why: str) -> None:
    """Refuse the first option given, as it would be ignored."""
    from materials.errors import InputError

    given = [name for name, value in options.items() if value is not None]
    if given:
        raise InputError(f"--{given[0].replace('_', '-')} {why}.")


def _add_fit(
    values: dict[str, Any], *, upper: str, lower: str, case: str | None, started: str | None, log: str | None
) -> None:
    from datetime import UTC, datetime
    from importlib.metadata import version

    from cases.bench.logbook.validation import NewFit, validated
    from cases.casefile.files import load
    from cases.casefile.quantity import parse_angle
    from materials.strings import string_set

    if values["strings"] not in (None, OWN_SET):
        # the full name, as `neckpreload pair --serial` logs it
        values["strings"] = string_set(values["strings"]).name
    if case is not None:
        fitted = load(case)
        values |= {"case_sha256": fitted.sha256, "case_text": fitted.text}
    values |= {
        "upper_deg": parse_angle(upper, name="--upper", bare_unit="deg"),
        "lower_deg": parse_angle(lower, name="--lower", bare_unit="deg"),
        "started_utc": parse_moment(started, name="--started") or datetime.now(UTC),
    }
    entry = validated(NewFit, {**values, "model_version": version("neckpreload")})
    fit, where, warning = log_fit(entry, log)
    _show(fit, where=where)
    if warning is not None:
        typer.echo(f"  WARNING: {warning}")


def log_fit(entry: "NewFit", log: str | None) -> "tuple[Fit, str, str | None]":
    """Add a fit to the log; return it, the place of the log, and a warning or None."""
    from cases.bench.logbook.logbook import add_fit, already_fitted_warning
    from cases.bench.logbook.store import open_logbook

    with open_logbook(log) as logbook:
        fit = add_fit(logbook, entry)
        return fit, logbook.where, already_fitted_warning(logbook, fit)


def parse_measurement(text: str, around: Mapping[str, object]) -> "NewMeasurement":
    """Read `KIND=VALUE`; ``around`` : the other columns. `InputError` if it is wrong."""
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
        typer.echo(f"{counted(len(found), 'fit')} in {logbook.where}")


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
    for name in SHOWN:
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
    reason: Annotated[str, typer.Option(help="Why.")],
    attempt: AttemptOption = None,
    measurement: Annotated[
        int | None, typer.Option(help="Its number in `logbook show`.", metavar="N")
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

"""`neckpreload swap`: from a strung guitar to the correction."""

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
    from cases.bench.geometry import Geometry
    from cases.bench.logbook import Fit


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
    relief: Annotated[str | None, typer.Option("--relief", help="As it is now.", metavar="LENGTH")] = None,
    tongue_gap: Annotated[
        str | None,
        typer.Option("--tongue-gap", help="At the last fret, rises = +, bow taken out.", metavar="LENGTH"),
    ] = None,
    saddle: Annotated[
        str | None, typer.Option("--saddle", help="Its height over the bridge.", metavar="LENGTH")
    ] = None,
    reading: Annotated[
        str | None,
        typer.Option("--reading", help="Of the bare pocket when it was fitted.", metavar="LENGTH"),
    ] = None,
    serial: Annotated[
        str | None, typer.Option("--serial", help="Take pair and reading from the logbook.")
    ] = None,
    rh: RhOption = None,
    hours: HoursOption = None,
    calibration: CalibrationOption = None,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
    log: LogOption = None,
) -> None:
    """Say what moved on a strung guitar and which pair to swap to, in one step."""
    from cases.bench import swap as swapping
    from cases.bench.bench_text import swap_text
    from cases.bench.calibrate import squares_of
    from cases.bench.readings import NO_SQUARES, Conditions
    from cases.bench.response import bench_of
    from cases.quantity import parse_angle, parse_length
    from materials.errors import InputError

    opened, house = open_case(case, settings=settings, workshop_path=workshop)
    fit = None if serial is None else _fit(serial, log)
    angles = [
        parse_angle(text, name=name, bare_unit="deg") if text is not None else logged
        for text, name, logged in (
            (upper, "--upper", fit.upper_deg if fit else None),
            (lower, "--lower", fit.lower_deg if fit else None),
        )
    ]
    if angles[0] is None or angles[1] is None:
        raise InputError("Which shims are in it? Give --upper and --lower, or --serial of a logged guitar.")
    on = bench_of(opened, calibration=open_calibrations(calibration))
    known = _length(reading, "--reading")
    measured = swapping.Measured(
        action_bass=parse_length(action_bass, name="--action-bass"),
        action_treble=parse_length(action_treble, name="--action-treble"),
        relief=_length(relief, "--relief"),
        tongue_gap=_length(tongue_gap, "--tongue-gap"),
        saddle=_length(saddle, "--saddle"),
        reading=known if known is not None or fit is None else _logged_reading(fit, on.geometry),
        squares=NO_SQUARES if fit is None else squares_of(fit),
    )
    found = swapping.swap(on, angles[0], angles[1], measured, conditions=Conditions(rh, hours))
    typer.echo(f"{opened.name}{'' if serial is None else f', {serial}'}:")
    typer.echo(swap_text(found, inch=house.units == "inch"))


def _length(text: str | None, name: str) -> float | None:
    from cases.quantity import parse_length

    return None if text is None else parse_length(text, name=name)


def _fit(serial: str, log: str | None) -> "Fit":
    from cases.bench.logbook import latest_fit, open_logbook

    with open_logbook(log, create=False) as logbook:
        return latest_fit(logbook, serial)


def _logged_reading(fit: "Fit", geometry: "Geometry") -> float | None:
    """Mean reading of the bare pocket [mm], None where none was logged."""
    heights = [
        one.value if one.unit == "mm" else geometry.height_of(one.value)
        for one in fit.measurements
        if one.kind == "reading" and one.state == "bare"
    ]
    return sum(heights) / len(heights) if heights else None

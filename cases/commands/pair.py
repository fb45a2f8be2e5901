"""`neckpreload pair`: from a reading of the bare pocket to the pair of shims."""

from typing import TYPE_CHECKING, Annotated, Any

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

if TYPE_CHECKING:
    from cases.bench.aim import Aim
    from cases.bench.geometry import Geometry
    from cases.bench.readings import Squares
    from cases.case import Case

RhOption = Annotated[float | None, typer.Option("--rh-percent", help="Relative humidity at the reading.")]
HoursOption = Annotated[
    float | None, typer.Option("--hours", help="Hours since pitch or a rod turn, where there was one.")
]


def pair(
    case: CaseArgument,
    reading: Annotated[
        list[str] | None,
        typer.Option(
            "--reading",
            help="Height of the carried pocket plane over the top at the saddle, or its angle; may be given "
            "again.",
            metavar="1.8mm",
        ),
    ] = None,
    gauge_step: Annotated[
        str | None,
        typer.Option(
            "--gauge-step",
            help="How far the gauge lifts the plane over the bare seat; without it to the fretboard's "
            "underside (tongue depth and shim).",
            metavar="LENGTH",
        ),
    ] = None,
    pocket_square: Annotated[
        str | None,
        typer.Option(
            "--pocket-square", help="Gap at the cap end, square in the pocket; open = +.", metavar="GAP"
        ),
    ] = None,
    heel_square: Annotated[
        str | None,
        typer.Option(
            "--heel-square", help="Gap at the cap end, square on the neck's heel; open = +.", metavar="GAP"
        ),
    ] = None,
    rh: RhOption = None,
    hours: HoursOption = None,
    table: Annotated[bool, typer.Option("--table", help="Print the reading table instead.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
    calibration: CalibrationOption = None,
    serial: Annotated[
        str | None, typer.Option("--serial", help="Store reading and prediction in the logbook.")
    ] = None,
    reason: Annotated[str, typer.Option("--reason", help="For the logbook: new, swap or return.")] = "new",
    model: Annotated[str | None, typer.Option("--model", help="For the logbook.")] = None,
    wood_batch: Annotated[str | None, typer.Option("--wood-batch", help="For the logbook.")] = None,
    bench: Annotated[str | None, typer.Option("--bench", help="For the logbook: which bench.")] = None,
    who: Annotated[str | None, typer.Option("--who", help="For the logbook, free text.")] = None,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
    log: LogOption = None,
) -> None:
    """Choose the pair of shims for a pocket, with what to expect and how sure that is."""
    from cases.bench.aim import aimed, table_of
    from cases.bench.bench_text import aim_text, table_text
    from cases.bench.readings import Conditions, Squares
    from cases.bench.response import bench_of

    opened, house = open_case(case, settings=settings, workshop_path=workshop)
    inch = house.units == "inch"
    on = bench_of(opened, calibration=open_calibrations(calibration))
    if table:
        rows = table_of(on, step_mm=0.008 * 25.4 if inch else 0.2)
        typer.echo(table_text(rows, name=opened.name, inch=inch))
        return
    squares = Squares(_gap(pocket_square, "--pocket-square"), _gap(heel_square, "--heel-square"))
    heights = [_height(text, on.geometry, gauge_step) for text in reading or ()]
    found = aimed(on, heights, squares=squares, conditions=Conditions(rh, hours))
    typer.echo(_json(found) if as_json else aim_text(found, inch=inch))
    if serial is not None:
        around = {"rh_percent": rh, "model": model, "wood_batch": wood_batch, "bench": bench, "who": who}
        where = _store(opened, found, heights, squares, serial, reason, around, log)
        typer.echo(where, err=as_json)


def _gap(text: str | None, name: str) -> float | None:
    from cases.quantity import parse_length
    from materials.errors import InputError

    if text is None:
        return None
    gap = parse_length(text, name=name)
    if abs(gap) > 3.0:
        raise InputError(f"{name} {text}: a gap of -3 to 3 mm is allowed; check the unit.")
    return gap


def _height(text: str, geometry: "Geometry", gauge_step: str | None) -> float:
    """Height of the fretboard's underside carried to the saddle [mm]."""
    from cases.quantity import is_angle, parse_angle, parse_length
    from materials.errors import InputError

    if is_angle(text):
        angle = parse_angle(text, name="--reading")
        if abs(angle) > 10.0:
            raise InputError(f"--reading {text}: -10 to 10 degrees are allowed; check the unit.")
        return geometry.height_of(angle)
    height = parse_length(text, name="--reading")
    if gauge_step is None:
        return height
    return height + geometry.seat_depth - parse_length(gauge_step, name="--gauge-step")


def _json(found: "Aim") -> str:
    import json
    from dataclasses import asdict

    return json.dumps({"schema": 1, **asdict(found)}, indent=2, ensure_ascii=False)


def _store(
    case: "Case",
    found: "Aim",
    heights: list[float],
    squares: "Squares",
    serial: str,
    reason: str,
    around: dict[str, Any],
    log: str | None,
) -> str:
    from datetime import UTC, datetime
    from importlib.metadata import version

    from cases.bench.aim import prediction
    from cases.bench.entry import checked
    from cases.bench.logbook import FitEntry, add_fit, open_logbook
    from cases.stringing import strings_of

    rh = around.pop("rh_percent")
    bare = [("reading", height) for height in heights]
    bare += [
        (kind, gap)
        for kind, gap in (("pocket_square", squares.pocket), ("heel_square", squares.heel))
        if gap is not None
    ]
    values = {
        **around,
        "serial": serial,
        "reason": reason,
        "case_sha256": case.sha256,
        "case_text": case.text,
        "strings": strings_of(case.strings).name,
        "upper_deg": found.pair.upper_deg,
        "lower_deg": found.pair.lower_deg,
        "predicted": prediction(found),
        "model_version": version("neckpreload"),
        "calibration_id": found.calibration_id,
        "started_utc": datetime.now(UTC),
        "measurements": tuple(
            {"kind": kind, "state": "bare", "value": value, "unit": "mm", "rh_percent": rh}
            for kind, value in bare
        ),
    }
    entry = checked(FitEntry, values)
    with open_logbook(log) as logbook:
        fit = add_fit(logbook, entry)
        return f"  logged: {fit.serial} attempt {fit.attempt} in {logbook.where}"

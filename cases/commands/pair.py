"""`neckpreload pair`: from a reading of the bare pocket to the pair of shims."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cases.commands import options
from cases.commands.dry import (
    BoltedOption,
    DoneOption,
    TunedDownOption,
    check_logged,
    measured_dry,
    to_be_read,
)
from cases.commands.logbook import log_fit, refuse_given
from cases.commands.output import JsonOption, put

if TYPE_CHECKING:
    from cases.bench.shims.choose_pair import PairChoice
    from cases.bench.shims.readings import Squares
    from cases.bench.shims.strung_neck import Bench
    from cases.casefile.case import Case

RhOption = Annotated[float | None, typer.Option("--rh-percent", help="Relative humidity at the reading.")]
HoursOption = Annotated[
    float | None, typer.Option("--hours", help="Hours since pitch or a rod turn, where there was one.")
]


ReadingOption = Annotated[
    list[str] | None,
    typer.Option(
        help="Height of the pocket's plane, extended to the saddle, over the top; or its angle; may be "
        "given again.",
        metavar="1.8mm",
    ),
]
GaugeStepOption = Annotated[
    str | None,
    typer.Option(
        help="Height of the gauge's plane over the bare seat; default: tongue depth and shim, up to the "
        "fretboard's underside.",
        metavar="LENGTH",
    ),
]
PocketSquareOption = Annotated[
    str | None, typer.Option(help="Gap at the cap end, square in the pocket; open = +.", metavar="GAP")
]
HeelSquareOption = Annotated[
    str | None, typer.Option(help="Gap at the cap end, square on the neck's heel; open = +.", metavar="GAP")
]
LoggedOption = Annotated[
    str | None,
    typer.Option(
        help="The guitar's serial: log reading, pair and prediction; with --bolted or --done, take them from "
        "the log."
    ),
]
WoodBatchOption = Annotated[str | None, typer.Option(help="For the logbook: delivery of its wood.")]


def pair(
    case: options.CaseArgument,
    reading: ReadingOption = None,
    gauge_step: GaugeStepOption = None,
    pocket_square: PocketSquareOption = None,
    heel_square: HeelSquareOption = None,
    bolted: BoltedOption = None,
    tuned_down: TunedDownOption = None,
    done: DoneOption = False,
    rh: RhOption = None,
    hours: HoursOption = None,
    table: Annotated[
        bool, typer.Option("--table", help="Print the pair for every reading, for the wall, instead.")
    ] = False,
    full: options.FullOption = False,
    explain: options.ExplainOption = False,
    as_json: JsonOption = False,
    strings: options.StringsOption = None,
    tuning: options.TuningOption = None,
    calibration: options.CalibrationOption = None,
    serial: LoggedOption = None,
    reason: Annotated[str, typer.Option(help="For the logbook: new, swap or return.")] = "new",
    model: Annotated[str | None, typer.Option(help="For the logbook: the model built.")] = None,
    wood_batch: WoodBatchOption = None,
    bench: Annotated[str | None, typer.Option(help="For the logbook: which bench.")] = None,
    who: Annotated[str | None, typer.Option(help="For the logbook: who did it.")] = None,
    settings: options.SetOption = None,
    workshop: options.WorkshopOption = None,
    log: options.LogOption = None,
) -> None:
    """Choose the shim pair for a pocket, with the expected result and its uncertainty."""
    from cases.bench.shims.choose_pair import choose_pair
    from cases.bench.shims.readings import Conditions, Squares
    from cases.bench.shims.strung_neck import bench_of
    from cases.casefile.changes import Changes
    from cases.show.text.bench import pair_text

    depth = options.depth_of(full=full, explain=explain)
    about = {"reason": reason, "model": model, "wood_batch": wood_batch, "bench": bench, "who": who}
    _check_for_the_log(serial, about, log)
    squares = Squares(_gap(pocket_square, "--pocket-square"), _gap(heel_square, "--heel-square"))
    dry = measured_dry(bolted or (), tuned_down or ())
    typed: dict[str, Any] = {"reading": reading, "gauge-step": gauge_step, "pocket-square": pocket_square}
    typed |= {"heel-square": heel_square, "rh-percent": rh, "hours": hours}
    if table:
        more = {"bolted": bolted, "tuned-down": tuned_down, "done": done or None, "full": full or None}
        _check_alone(typed | more | {"explain": explain or None, "json": as_json or None, "serial": serial})
    changes = Changes(strings, tuning)
    opened, house = options.open_case(case, settings=settings, workshop_path=workshop, changes=changes)
    again = options.again(case, settings, changes, calibration, log=log)
    learned = options.open_calibrations(calibration)
    if dry or done:
        _check_logged_already(serial, typed | {k: v for k, v in about.items() if v != "new"})
        check_logged(
            opened, house, learned, dry, serial=serial or "", log=log, again=again, done=done, as_json=as_json
        )
        return
    on = bench_of(opened, calibration=learned)
    inch = house.units == "inch"
    if table:
        _print_table(on, name=opened.name, inch=inch)
        return
    heights = _heights(on, reading or (), gauge_step)
    found = choose_pair(on, heights, squares=squares, conditions=Conditions(rh, hours), inch=inch)
    put(pair_text(found, depth=depth, inch=inch), {"schema": 1, **asdict(found)}, as_json=as_json)
    if serial is not None:
        around = {**about, "serial": serial, "rh_percent": rh}
        typer.echo(_store(opened, found, heights, squares, around, log), err=as_json)
        typer.echo(to_be_read(again, serial), err=as_json)


def _heights(on: "Bench", readings: Sequence[str], gauge_step: str | None) -> list[float]:
    from cases.bench.shims.fit_entry import reading_height
    from cases.casefile.quantity import length_or_none

    step = length_or_none(gauge_step, "--gauge-step")
    return [reading_height(text, on.geometry, gauge_step_mm=step) for text in readings]


def _print_table(on: "Bench", *, name: str, inch: bool) -> None:
    from cases.bench.shims.choose_pair import reading_rows
    from cases.show.text.bench import table_text

    rows = reading_rows(on, step_mm=0.008 * 25.4 if inch else 0.2)
    typer.echo(table_text(rows, name=name, inch=inch))


def _check_for_the_log(serial: str | None, around: dict[str, Any], log: str | None) -> None:
    """Refuse an entry that the logbook would refuse, before anything is computed."""
    if serial is None:
        refuse_given(
            {name: value for name, value in around.items() if value != "new"},
            "is for the logbook, but without --serial nothing is logged: "
            "give the guitar's --serial, or leave it out",
        )
        return
    from datetime import UTC, datetime

    from cases.bench.logbook.store import check_place
    from cases.bench.logbook.validation import NewFit, validated

    empty = {"upper_deg": 0.0, "lower_deg": 0.0, "started_utc": datetime.now(UTC)}
    validated(NewFit, {**around, **empty, "serial": serial})
    check_place(log)


def _check_logged_already(serial: str | None, typed: dict[str, Any]) -> None:
    """Refuse a dry check without a guitar, or with readings that belong to its pair."""
    from materials.errors import InputError

    if serial is None:
        raise InputError(
            "--bolted, --tuned-down and --done need the pair and the reading of a guitar in the log: choose "
            "its pair with --reading 1.8mm --serial SERIAL first, bolt up, then give --serial SERIAL again."
        )
    refuse_given(
        typed,
        "is in the log since the pair was chosen: leave it out of the dry check, or choose the pair again "
        "without --bolted, --tuned-down and --done",
    )


def _check_alone(beside: dict[str, Any]) -> None:
    from materials.errors import InputError

    given = [f"--{name}" for name, value in beside.items() if value is not None]
    if given:
        raise InputError(
            f"--table lists all readings as text and takes no other input, here {', '.join(given)}; "
            "leave out one or the other."
        )


def _gap(text: str | None, name: str) -> float | None:
    from cases.bench.logbook.value_ranges import KINDS
    from cases.casefile.quantity import parse_length
    from materials.errors import InputError

    if text is None:
        return None
    gap = parse_length(text, name=name)
    low, high = KINDS[name.removeprefix("--").replace("-", "_")]["mm"]
    if not low <= gap <= high:
        raise InputError(f"{name} {text}: a gap of {low:g} to {high:g} mm is allowed; check the unit.")
    return gap


def _store(
    case: "Case",
    found: "PairChoice",
    heights: list[float],
    squares: "Squares",
    around: dict[str, Any],
    log: str | None,
) -> str:
    from cases.bench.shims.choose_pair import prediction
    from cases.bench.shims.fit_entry import fit_entry

    entry = fit_entry(
        case, (found.pair.upper_deg, found.pair.lower_deg), prediction(found.pair),
        calibration_id=found.calibration_id, heights=heights, squares=squares,
        rh_percent=around.pop("rh_percent"), around=around,
    )  # fmt: skip
    fit, where, warning = log_fit(entry, log)
    logged = f"  logged: {fit.serial} attempt {fit.attempt} in {where}"
    return logged if warning is None else f"{logged}\n  WARNING: {warning}"

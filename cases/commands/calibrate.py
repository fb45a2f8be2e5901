"""`neckpreload calibrate`: from blanks, necks, a log or a known offset to a calibration file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands.logbook import SinceOption, parse_moment
from cases.commands.options import CaseArgument, LogOption, SetOption, WorkshopOption, open_case

if TYPE_CHECKING:
    from datetime import datetime

    from cases.offset.calibration import Calibration

app = typer.Typer(
    help="Learn from blanks, necks, the log or a known offset; writes a file for --calibration.",
    no_args_is_help=True,
)

OutOption = Annotated[Path, typer.Option("--out", help="The calibration file.", metavar="FILE")]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Overwrite an existing file.")]
CALIBRATION_FILE = Path("calibration.toml")


def _now() -> "datetime":
    from datetime import UTC, datetime

    return datetime.now(UTC).replace(microsecond=0)


def _check_free(out: Path, *, replace: bool) -> None:
    """Refuse a file that cannot be written, before anything is computed."""
    from materials.errors import InputError

    wrong = None
    if out.suffix != ".toml":
        wrong = "give a name that ends in .toml"
    elif out.is_dir() or not out.parent.is_dir():
        wrong = "there is no such folder, or this is a folder; make the folder first, or give another file"
    elif out.exists() and not replace:
        wrong = "the file exists already; give another name with --out, or --replace to overwrite it"
    if wrong is not None:
        raise InputError(f"--out {out}: {wrong}.")


def _write(calibration: "Calibration", out: Path, *, replace: bool) -> None:
    from cases.offset.calibration_file import save_calibration

    save_calibration(calibration, out, overwrite=replace)
    typer.echo(f"  written: {out}, for use as --calibration {out}")


def _necks_in(folder: Path, *, follow: bool) -> "list[Calibration]":
    """The tests of necks in a folder."""
    from cases.offset.calibration_file import calibrations_in
    from materials.errors import InputError

    if not follow:
        raise InputError("--necks is used with --follow only: add --follow, or leave --necks out.")
    tested = [one for one in calibrations_in(folder) if one.kind == "neck"]
    if not tested:
        raise InputError(
            f"--necks {folder}: a folder with files of `neckpreload calibrate neck` is needed, and there are "
            "none here; give that folder, or leave --necks out."
        )
    return tested


OPPOSITE_DEG = 0.04
"""With this much difference from the model, an opposite sign gets a warning: one usual shim step [deg]."""


@app.command("shop")
def shop(
    case: CaseArgument,
    since: SinceOption = None,
    follow: Annotated[
        bool,
        typer.Option(
            "--follow", help="Follow the last guitars: add how far they lie beside the mean of all."
        ),
    ] = False,
    necks: Annotated[
        Path | None,
        typer.Option(help="With --follow: a folder of files of `calibrate neck`.", metavar="FOLDER"),
    ] = None,
    out: OutOption = CALIBRATION_FILE,
    replace: ReplaceOption = False,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
    log: LogOption = None,
) -> None:
    """Learn from the log how the shop's necks differ from the model."""
    from cases.bench.learning.calibrate import calibrate_shop
    from cases.bench.logbook.logbook import fits
    from cases.bench.logbook.store import open_logbook
    from cases.bench.shims.strung_neck import bench_of
    from cases.show.text.bench import shop_text

    _check_free(out, replace=replace)
    opened, _ = open_case(case, settings=settings, workshop_path=workshop)
    moment = parse_moment(since, name="--since")
    tested = [] if necks is None else _necks_in(necks, follow=follow)
    with open_logbook(log, create=False) as logbook:
        rows = fits(logbook, since=moment)
    bench = bench_of(opened)
    found = calibrate_shop(bench, rows, created=_now(), follow=follow, necks=tested)
    typer.echo(shop_text(found))
    _write(found.calibration, out, replace=replace)


@app.command("known")
def known(
    case: CaseArgument,
    offset: Annotated[str, typer.Option(help="Lower minus upper shim [deg].", metavar="ANGLE")],
    guitars: Annotated[int, typer.Option(help="Number of guitars behind it.")],
    out: OutOption = CALIBRATION_FILE,
    replace: ReplaceOption = False,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Use the offset that the shop knows from experience."""
    from cases.bench.learning.known_offset import known_offset
    from cases.bench.shims.strung_neck import bench_of
    from cases.casefile.quantity import parse_angle

    _check_free(out, replace=replace)
    opened, _ = open_case(case, settings=settings, workshop_path=workshop)
    wanted = parse_angle(offset, name="--offset", bare_unit="deg")
    bench = bench_of(opened)
    made = known_offset(bench, wanted, guitars=guitars, created=_now())
    upper, lower = bench.reference_deg
    typer.echo(
        f"{made.id}: kink bias {made.mean[0]:+.3f} +- {made.covariance[0][0] ** 0.5:.3f} deg; offset of the "
        f"model {lower - upper:+.2f}, of the shop {wanted:+.2f} deg"
    )
    if (lower - upper) * wanted < 0.0 and abs(wanted - (lower - upper)) > OPPOSITE_DEG:
        typer.echo(
            "  WARNING: the shop's offset (lower minus upper shim) and the model's have opposite signs. "
            "If yours is right, measure one guitar bolted up and at pitch."
        )
    _write(made, out, replace=replace)


@app.command("neck")
def neck(
    case: CaseArgument,
    first: Annotated[str, typer.Option(help="First support, from the nut.", metavar="LENGTH")],
    last: Annotated[str, typer.Option(help="Last support, from the nut.", metavar="LENGTH")],
    load: Annotated[str, typer.Option(help="Where the mass hangs, from the nut.", metavar="LENGTH")],
    dial: Annotated[str, typer.Option(help="Where the dial reads, from the nut.", metavar="LENGTH")],
    mass_kg: Annotated[float, typer.Option(help="The mass hung on.")],
    moved: Annotated[str, typer.Option(help="Movement of the dial.", metavar="LENGTH")],
    dial_error: Annotated[str, typer.Option(help="One standard deviation.", metavar="LENGTH")] = "0.01mm",
    name: Annotated[str, typer.Option(help="Which neck, for the file.")] = "neck",
    out: OutOption = CALIBRATION_FILE,
    replace: ReplaceOption = False,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Evaluate a dead-weight test: a neck on two supports, a mass, a dial."""
    from cases.bench.learning.stiffness_test import DeadWeight, neck_test
    from cases.casefile.quantity import parse_length
    from cases.show.text.bench import neck_text

    _check_free(out, replace=replace)
    opened, _ = open_case(case, settings=settings, workshop_path=workshop)
    way = parse_length(moved, name="--moved")
    test = DeadWeight(
        first_mm=parse_length(first, name="--first"),
        last_mm=parse_length(last, name="--last"),
        load_mm=parse_length(load, name="--load"),
        dial_mm=parse_length(dial, name="--dial"),
        mass_kg=mass_kg,
        moved_mm=way,
        error_mm=parse_length(dial_error, name="--dial-error"),
    )
    found = neck_test(opened, test, name=name, created=_now())
    typer.echo(neck_text(found, name=name, moved_mm=way))
    _write(found.calibration, out, replace=replace)


@app.command("blank")
def blank(
    wood: Annotated[str, typer.Option(help="A name of `neckpreload woods`.", metavar="NAME")],
    length_mm: float | None = None,
    width_mm: float | None = None,
    thickness_mm: Annotated[float | None, typer.Option(help="In the direction of bending.")] = None,
    mass_g: float | None = None,
    tap_hz: Annotated[float | None, typer.Option(help="First bending note, free.")] = None,
    span_mm: Annotated[float | None, typer.Option(help="Instead: on two supports,")] = None,
    load_kg: Annotated[float | None, typer.Option(help="a load in the middle,")] = None,
    dial_mm: Annotated[float | None, typer.Option(help="and the deflection there.")] = None,
    name: Annotated[str, typer.Option(help="Which blank, for the file.")] = "blank",
    table: Annotated[
        Path | None, typer.Option("--csv", help="Many blanks instead, one a line.", metavar="FILE")
    ] = None,
    batch: Annotated[
        Path | None, typer.Option(help="A calibration file of a batch to compare with.", metavar="FILE")
    ] = None,
    out: OutOption = CALIBRATION_FILE,
    replace: ReplaceOption = False,
) -> None:
    """Density and modulus of a blank, tapped or loaded; of many, the batch and its scatter."""
    from cases.bench.learning import blank_modulus
    from cases.offset.calibration_file import load_calibration
    from cases.show.text.bench import batch_text, blank_text
    from materials.errors import InputError
    from materials.wood import wood as wood_named

    _check_free(out, replace=replace)
    created = _now()
    ratio = blank_modulus.e_over_g_of(wood_named(wood))
    if table is not None:
        results = [
            blank_modulus.measure_blank(one, e_over_g=ratio) for one in blank_modulus.read_blanks(table)
        ]
        found = blank_modulus.batch_of(results)
        typer.echo(batch_text(found, results, wood=wood))
        made = blank_modulus.batch_calibration(found, results, wood_name=wood, created=created)
        _write(made, out, replace=replace)
        return
    if length_mm is None or width_mm is None or thickness_mm is None or mass_g is None:
        raise InputError(
            "Give --length-mm, --width-mm, --thickness-mm and --mass-g, or many blanks by --csv."
        )
    size = (length_mm, width_mm, thickness_mm, mass_g)
    one = blank_modulus.Blank(name, *size, tap_hz, span_mm, load_kg, dial_mm)
    result = blank_modulus.measure_blank(one, e_over_g=ratio)
    if batch is None:
        beside = blank_modulus.table_batch(wood)
    else:
        beside = blank_modulus.batch_from(load_calibration(batch))
    typer.echo(blank_text(result, beside, wood=wood))
    made = blank_modulus.blank_calibration(result, wood_name=wood, created=created)
    _write(made, out, replace=replace)

"""`neckpreload sheet`: the set-up sheet for the bench."""

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands import options
from cases.commands.output import working, writable_file

if TYPE_CHECKING:
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop
    from cases.offset.calibration import Calibration


def sheet(
    case: options.CaseArgument,
    out: Annotated[Path, typer.Option(help="The sheet, a .pdf or .html.", metavar="FILE")],
    paper: Annotated[str, typer.Option(help="a4 or letter, for a .pdf.", metavar="NAME")] = "a4",
    on: Annotated[
        datetime | None,
        typer.Option("--date", formats=["%Y-%m-%d"], help="The date on the sheet; default: today."),
    ] = None,
    for_class: Annotated[
        bool, typer.Option("--class", help="Two sides for a class instead: three predictions, the answer.")
    ] = False,
    settings: options.SetOption = None,
    calibration: options.CalibrationOption = None,
    workshop: options.WorkshopOption = None,
) -> None:
    """Write one page for the bench (pairs, edges, torques, order of work, checks), or a sheet for a class."""
    day = (on or datetime.now()).date()
    with working(f"solving {case}"):
        from cases.show.sheet.file import sheet_kind, sheet_paper

        kind, size = sheet_kind(out, for_class=for_class), sheet_paper(paper)
        writable_file(out, option="--out")
        opened, house = options.open_case(case, settings=settings, workshop_path=workshop)
        if for_class:
            said = _class_sheet(opened, out, calibration, on=day, paper=size)
        else:
            learned = options.open_calibrations(calibration)
            said = _bench_sheet(opened, house, out, learned, on=day, kind=kind, paper=size)
    for line in said:
        typer.echo(line)


def _class_sheet(
    case: "Case", out: Path, calibration: list[Path] | None, *, on: date, paper: str
) -> tuple[str, ...]:
    """Write the class sheet; returns what to say."""
    from cases.show.sheet.file import save_class_sheet
    from cases.studies.flex import flex
    from materials.errors import InputError

    if calibration:
        raise InputError("--calibration: a class sheet shows the model alone; leave the calibration out")
    found = flex(case)
    save_class_sheet(case, found.answer, found.line, out, on=on, paper=paper)
    return (f"class sheet of {case.name} written to {out}: question in front, answer overleaf",)


def _bench_sheet(
    case: "Case",
    house: "Workshop",
    out: Path,
    learned: "Calibration | None",
    *,
    on: date,
    kind: str,
    paper: str,
) -> tuple[str, ...]:
    """Write the sheet for the bench; returns what to say."""
    from cases.bench.shims.choose_pair import reading_table
    from cases.offset.preload import answer_from, in_workshop
    from cases.offset.solve import solve
    from cases.show.sheet.content import sheet_of
    from cases.show.sheet.file import save_sheet

    solved = solve(case, calibration=learned)
    answer = in_workshop(answer_from(solved, case, effects=False), case, house)
    readings = reading_table(case, answer, solved=solved) if answer.pocket is None else ()
    missing = save_sheet(sheet_of(case, answer, on=on, readings=readings), out, kind=kind, paper=paper)
    written = f"sheet of {case.name} written to {out}"
    if not missing:
        return (written,)
    lacking = f"no installed font has {' '.join(missing)}; an .html sheet uses the viewer's fonts"
    return written, f"warning: {lacking}"

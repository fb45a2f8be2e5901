"""`neckpreload sheet`: the set-up sheet for the bench."""

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from cases.commands import options
from cases.commands.output import writable_file


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
    from cases.bench.shims.choose_pair import reading_table
    from cases.offset.preload import answer_from, in_workshop
    from cases.offset.solve import solve
    from cases.show.sheet.content import sheet_of
    from cases.show.sheet.file import save_class_sheet, save_sheet, sheet_kind, sheet_paper
    from cases.studies.flex import flex
    from materials.errors import InputError

    kind, size = sheet_kind(out, for_class=for_class), sheet_paper(paper)
    writable_file(out, option="--out")
    opened, house = options.open_case(case, settings=settings, workshop_path=workshop)
    day = (on or datetime.now()).date()
    if for_class:
        if calibration:
            raise InputError("--calibration: a class sheet shows the model alone; leave the calibration out")
        found = flex(opened)
        save_class_sheet(opened, found.answer, found.line, out, on=day, paper=size)
        typer.echo(f"class sheet of {opened.name} written to {out}: question in front, answer overleaf")
        return
    learned = options.open_calibrations(calibration)
    solved = solve(opened, calibration=learned)
    answer = in_workshop(answer_from(solved, opened, effects=False), opened, house)
    readings = reading_table(opened, answer, solved=solved) if answer.pocket is None else ()
    content = sheet_of(opened, answer, on=day, readings=readings)
    missing = save_sheet(content, out, kind=kind, paper=size)
    typer.echo(f"sheet of {opened.name} written to {out}")
    if missing:
        typer.echo(
            f"warning: no installed font has {' '.join(missing)}; an .html sheet uses the viewer's fonts"
        )

"""`neckpreload export`: a solved case as files for other tools."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case
from cases.commands.output import working, writable_folder


def export(
    case: CaseArgument,
    out: Annotated[Path, typer.Option(help="Write the files into this folder.", metavar="DIR")],
    settings: SetOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Write fields and shims as .vtu, the mesh as .msh and the frets as CSV, in mm, N and MPa."""
    with working(f"solving {case}"):
        from cases.offset.solve import solve
        from cases.show.export import export as write

        opened, _ = open_case(case, settings=settings, workshop_path=workshop)
        folder = writable_folder(out)
        paths = write(solve(opened), folder)
    for path in paths:
        typer.echo(f"written: {path}")

"""`neckpreload flex`: pictures of where a neck flexes."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case
from cases.commands.output import working, writable_folder


def flex(
    case: CaseArgument,
    out: Annotated[Path, typer.Option(help="Write the pictures into this folder.", metavar="DIR")],
    settings: SetOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Draw where a neck flexes: side view, bending, flex budget, stress, and string-up in steps."""
    with working(f"solving {case}"):
        from cases.studies.flex import flex as flex_of

        opened, _ = open_case(case, settings=settings, workshop_path=workshop)
        folder = writable_folder(out)
        found = flex_of(opened)
    with working("drawing"):
        from cases.show.pictures.flex import save_flex_pictures

        paths = save_flex_pictures(
            opened, found.answer, folder, line=found.line, stress=found.stress, way=found.way
        )
    for path in paths:
        typer.echo(f"  written: {path}")

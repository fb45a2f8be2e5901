"""`neckpreload sensitivity`: what each input is worth."""

from typing import Annotated

import typer

from cases.commands.compare import (
    PictureOption,
    TableOption,
    check_places,
    progress_bar,
    write_picture,
    write_table,
)
from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case


def sensitivity(
    case: CaseArgument,
    settings: SetOption = None,
    csv: TableOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
    png: PictureOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Rank the inputs by what they change, and say which three things to measure first."""
    import json

    from cases.show.text.sensitivity import sensitivity_text
    from cases.studies.sensitivity import sensitivity as ranked

    check_places(csv, png)
    opened, _ = open_case(case, settings=settings, workshop_path=workshop)
    with progress_bar("inputs") as progress:
        found = ranked(opened, progress=progress)
    typer.echo(
        json.dumps(found.to_dict(), indent=2, ensure_ascii=False) if as_json else sensitivity_text(found)
    )
    if csv is not None:
        write_table(found.to_rows(), csv)
    if png is not None:
        from cases.show.pictures.sensitivity import draw_bars

        write_picture(draw_bars(found), png)

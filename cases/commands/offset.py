"""`neckpreload offset`: the main question."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.options import (
    CalibrationOption,
    CaseArgument,
    SetOption,
    WorkshopOption,
    open_calibrations,
    open_case,
)
from cases.commands.output import JsonOption, json_text, writable_folder

StringsOption = Annotated[
    str | None, typer.Option("--strings", help="Another string set for this run.", metavar="SET")
]
NeckWoodOption = Annotated[
    str | None, typer.Option("--neck-wood", help="Another neck wood for this run.", metavar="NAME")
]


def offset(
    case: CaseArgument,
    settings: SetOption = None,
    strings: StringsOption = None,
    neck_wood: NeckWoodOption = None,
    as_json: JsonOption = False,
    out: Annotated[
        Path | None, typer.Option(help="Write JSON and picture into this folder.", metavar="DIR")
    ] = None,
    calibration: CalibrationOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Compute the preload offset of a case and the shim pairs that have it."""
    from cases.offset.preload import answer_for
    from cases.show.text.answer import report

    changes = list(settings or [])
    if strings is not None:
        changes.append(f"strings.set={strings}")
    if neck_wood is not None:
        changes.append(f"neck.wood={neck_wood}")
    opened, house = open_case(case, settings=changes, workshop_path=workshop)
    folder = None if out is None else writable_folder(out)
    answer = answer_for(opened, house, calibration=open_calibrations(calibration))
    text = json_text(answer.to_dict())
    if folder is not None:
        from cases.show.pictures.side_view import save_side_view

        (folder / f"{opened.name}.json").write_text(text + "\n", encoding="utf-8")
        save_side_view(opened, answer, folder / f"{opened.name}.png")
    typer.echo(text if as_json else report(answer))
    if folder is not None and not as_json:
        typer.echo(f"  written: {folder / opened.name}.json and .png")

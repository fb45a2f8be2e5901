"""`neckpreload offset`: the main question."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from cases.commands import options
from cases.commands.output import JsonOption, json_text, say, working, writable_folder


def offset(
    case: options.CaseArgument,
    settings: options.SetOption = None,
    strings: options.StringsOption = None,
    tuning: options.TuningOption = None,
    neck_wood: options.NeckWoodOption = None,
    density: options.DensityOption = None,
    e_l: options.ModulusOption = None,
    full: options.FullOption = False,
    explain: options.ExplainOption = False,
    as_json: JsonOption = False,
    out: Annotated[
        Path | None, typer.Option(help="Write JSON and picture into this folder.", metavar="DIR")
    ] = None,
    calibration: options.CalibrationOption = None,
    workshop: options.WorkshopOption = None,
) -> None:
    """Compute the preload offset of a case and the shim pairs that have it."""
    from cases.casefile.changes import Changes
    from cases.offset.preload import answer_for
    from cases.show.text.answer import report

    depth = options.depth_of(full=full, explain=explain)
    changes = Changes(strings, tuning, neck_wood, density, e_l)
    opened, house = options.open_case(case, settings=settings, workshop_path=workshop, changes=changes)
    folder = None if out is None else writable_folder(out)
    learned = options.open_calibrations(calibration)
    with working(f"solving {case}"):
        answer = answer_for(opened, house, calibration=learned)
    text = json_text(answer.to_dict())
    if folder is not None:
        from cases.show.pictures.side_view import save_side_view

        (folder / f"{opened.name}.json").write_text(text + "\n", encoding="utf-8")
        save_side_view(opened, answer, folder / f"{opened.name}.png")
    if as_json:
        typer.echo(text)
    else:
        # the command to type next has no other way to take a wood
        wood = replace(changes, strings=None, tuning=None).keys(opened)
        made = [*(settings or ()), *(f"{key}={value}" for key, value in wood.items())]
        say(report(answer, depth=depth, case=options.again(case, made, changes, calibration)))
    if folder is not None and not as_json:
        typer.echo(f"  written: {folder / opened.name}.json and .png")

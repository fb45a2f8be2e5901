"""`neckpreload drift`: long-term and seasonal change."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case
from cases.commands.output import JsonOption, json_text, working, writable_folder


def parse_range(option: str, text: str, *, unit: str, example: str) -> tuple[float, float] | None:
    """Read ``low:high``; ``none`` leaves the study out; `InputError` if the text is not two numbers."""
    from cases.casefile.errors import Problem

    if text.strip().lower() == "none":
        return None
    try:
        low, high = map(float, text.split(":"))
    except ValueError:
        allowed = f"two numbers in {unit} with a colon between them, or none"
        remedy = f"write it as {example}"
        raise Problem(option, f'"{text}"', "this is not low:high", allowed, remedy).error() from None
    return low, high


def drift(
    case: CaseArgument,
    years: Annotated[float, typer.Option(help="Years under the strings.", metavar="YEARS")] = 20.0,
    humidity: Annotated[
        str, typer.Option("--rh", help="Relative humidity over the year, %, or none.", metavar="LOW:HIGH")
    ] = "30:70",
    temperature: Annotated[
        str, typer.Option(help="Room temperature over the year, degC, or none.", metavar="LOW:HIGH")
    ] = "15:30",
    settings: SetOption = None,
    as_json: JsonOption = False,
    out: Annotated[
        Path | None, typer.Option(help="Write JSON and pictures into this folder.", metavar="DIR")
    ] = None,
    workshop: WorkshopOption = None,
) -> None:
    """Follow an instrument through years of creep and the seasons of a year."""
    air = parse_range("--rh", humidity, unit="%", example="30:70")
    room = parse_range("--temperature", temperature, unit="degrees Celsius", example="15:30")
    with working(f"following {case} through {years:g} years"):
        from cases.show.text.drift import drift_text
        from cases.studies.drift import drift as follow

        opened, _ = open_case(case, settings=list(settings or []), workshop_path=workshop)
        folder = None if out is None else writable_folder(out)
        study = follow(opened, years=years, humidity=air, temperature=room)
    text = json_text(study.to_dict())
    typer.echo(text if as_json else drift_text(study))
    if folder is not None:
        from cases.show.pictures.drift import save_drift

        target = folder / f"{opened.name}-drift.json"
        target.write_text(text + "\n", encoding="utf-8")
        pictures = save_drift(study, folder)
        if not as_json:
            typer.echo("  written: " + ", ".join(str(path) for path in (target, *pictures)))

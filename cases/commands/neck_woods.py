"""`neckpreload neck-woods`: woods for the neck of one instrument."""

from typing import Annotated

import typer

from cases.commands import options
from cases.commands.drift import parse_range
from cases.commands.output import JsonOption, PictureOption, TableOption, check_places, progress_bar, show


def neck_woods(
    case: options.CaseArgument,
    neck_wood: Annotated[
        str | None, typer.Option(help="Woods, commas between; default: six usual ones.", metavar="NAMES")
    ] = None,
    density: options.DensityOption = None,
    e_l: options.ModulusOption = None,
    humidity: Annotated[
        str, typer.Option("--rh", help="Relative humidity over the year, %.", metavar="LOW:HIGH")
    ] = "30:70",
    settings: options.SetOption = None,
    csv: TableOption = None,
    as_json: JsonOption = False,
    png: PictureOption = None,
    workshop: options.WorkshopOption = None,
) -> None:
    """Compare neck woods: offset, scatter, a dry winter."""
    from cases.commands.compare import names_of, with_own_wood
    from cases.studies.neck_woods import neck_woods as compared

    check_places(csv, png)
    air = parse_range("--rh", humidity, unit="%", example="30:70") or (0.0, 0.0)
    opened, _ = options.open_case(case, settings=settings, workshop_path=workshop)
    woods = names_of(neck_wood, "--neck-wood")
    opened = with_own_wood(opened, woods, density=density, e_l=e_l)
    with progress_bar("woods") as progress:
        found = compared(opened, woods, humidity=air, progress=progress)
    show(found, as_json=as_json, csv=csv, png=png)

"""`neckpreload check`: validates a case."""

from typing import Annotated

import typer

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case


def check(
    case: CaseArgument,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
    assumed: Annotated[bool, typer.Option("--assumed", help="List every default of the case.")] = False,
) -> None:
    """Check a case without solving it."""
    from cases.offset.build import structure_of

    checked, house = open_case(case, settings=settings, workshop_path=workshop)
    structure_of(checked)  # refuses a heel file that does not fit the neck
    defaults = checked.assumed()
    typer.echo(f"{checked.name}: file is valid ({len(checked.given)} inputs given, {len(defaults)} assumed)")
    typer.echo(f"workshop settings: {house.path or 'none'}")
    angles = checked.stock.angles_deg()
    typer.echo(f"shim stock: {len(angles)} angles, {angles[0]:.2f} to {angles[-1]:.2f} degrees")
    if not assumed:
        typer.echo("to list the assumed inputs: --assumed")
        return
    for path, value, source in defaults:
        typer.echo(f"  {path} = {value}: {source}")

"""`neckpreload check`: validates a case."""

from typing import Annotated

import typer

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case
from materials.counted import counted


def check(
    case: CaseArgument,
    settings: SetOption = None,
    workshop: WorkshopOption = None,
    assumed: Annotated[
        bool, typer.Option("--assumed", help="List every input that was not measured or chosen here.")
    ] = False,
) -> None:
    """Check a case without solving it."""
    from cases.offset.build import structure_of
    from cases.offset.practice import unusual

    checked, house = open_case(case, settings=settings, workshop_path=workshop)
    structure = structure_of(checked)  # refuses a heel file that does not fit, and bolts that crush the wood
    defaults, copied = checked.assumed(), checked.copied
    own = sum("." in key and not key.endswith(".name") for key in checked.given) - len(copied)
    counts = [f"{own} measured or chosen here", f"{len(defaults)} assumed"]
    if checked.copied_from is not None:
        counts.insert(1, f"{len(copied)} copied from {checked.copied_from}")
    typer.echo(f"{checked.name}: file is valid (inputs: {', '.join(counts)})")
    for text in unusual(checked, structure.bolts):
        typer.echo(f"UNUSUAL INPUT: {text}")
    for typed in checked.typed:
        typer.echo(f"read with its unit: {typed}")
    typer.echo(f"workshop settings: {house.path or 'none'}")
    angles = checked.stock.angles_deg()
    typer.echo(f"shim stock: {counted(len(angles), 'angle')}, {angles[0]:.2f} to {angles[-1]:.2f} degrees")
    if not assumed:
        typer.echo(f"to list the {'copied and ' if copied else ''}assumed inputs: --assumed")
        return
    for path, value in copied.items():
        typer.echo(f"  {path} = {value}: copied from {checked.copied_from}")
    for path, value, source in defaults:
        typer.echo(f"  {path} = {value}: {source}")

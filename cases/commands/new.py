"""`neckpreload new`: a case file to edit."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.options import WorkshopOption, open_case


def new(
    name: Annotated[str, typer.Argument(help="Name of the new case; writes NAME.toml.", metavar="NAME")],
    like: Annotated[str, typer.Option(help="The case to start from.", metavar="CASE")] = "fourteen-mahogany",
    folder: Annotated[
        Path | None, typer.Option(help="Where to write it; default: the current folder.")
    ] = None,
    workshop: WorkshopOption = None,
) -> None:
    """Write a commented case file to edit; an existing file is never overwritten."""
    from cases.casefile.new_case import write_new_case

    start, _ = open_case(like, settings=None, workshop_path=workshop)
    path = write_new_case(name, like=start, folder=folder or Path())
    typer.echo(f"written: {path}")
    typer.echo(f"edit it, then run: neckpreload check {path}")

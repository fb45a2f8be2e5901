"""`neckpreload new`: a case file to edit."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.options import WorkshopOption, open_case
from materials.counted import counted


def new(
    name: Annotated[str, typer.Argument(help="Name of the new case; writes NAME.toml.", metavar="NAME")],
    like: Annotated[str, typer.Option(help="The case to start from.", metavar="CASE")] = "fourteen-mahogany",
    folder: Annotated[
        Path | None, typer.Option(help="Where to write it; default: the current folder.")
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Write every key with its meaning, not only those to measure.")
    ] = False,
    asked: Annotated[
        bool, typer.Option("--ask", help="Ask for each value to measure, and check it at once.")
    ] = False,
    workshop: WorkshopOption = None,
) -> None:
    """Write a case file with what to measure, and how; an existing file is never overwritten."""
    from cases.casefile.new_case import case_path, new_case
    from cases.casefile.toml_text import write_text

    start, _ = open_case(like, settings=None, workshop_path=workshop)
    path = case_path(name, folder or Path())
    measured: set[str] = set()
    if asked:
        from cases.commands.ask import ask
        from cases.offset.build import structure_of
        from cases.offset.practice import unusual

        start, values = ask(start, unusual=lambda case: unusual(case, structure_of(case).bolts))
        measured = set(values)
    write_text(path, new_case(name, like=start, every=every, measured=measured))
    typer.echo(f"written: {path}")
    if asked:
        typer.echo(
            f"{counted(len(measured), 'value')} measured or chosen; the others in the file are copied "
            f"from {like}"
        )
    typer.echo(f"{'' if asked else 'edit it, then '}run: neckpreload check {path}")

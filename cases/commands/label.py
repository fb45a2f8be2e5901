"""`neckpreload label`: prints the label of a fit, serial in text and as a QR code."""

from pathlib import Path
from typing import Annotated

import typer

from cases.commands.logbook import AttemptOption, SerialArgument
from cases.commands.options import LogOption


def label(
    serial: SerialArgument,
    attempt: AttemptOption = None,
    out: Annotated[
        Path | None, typer.Option(help="A .png or .svg; default: the terminal.", metavar="FILE")
    ] = None,
    log: LogOption = None,
) -> None:
    """Print the label of a guitar's last fit."""
    from cases.bench.logbook.logbook import latest_fit
    from cases.bench.logbook.store import open_logbook
    from cases.bench.shims.label import fit_label, label_text, save_label

    with open_logbook(log, create=False) as logbook:
        made = fit_label(latest_fit(logbook, serial, attempt=attempt))
    if out is None:
        typer.echo(label_text(made), nl=False)
        return
    missing = save_label(made, out)
    typer.echo(f"label of {made.serial} written to {out}")
    if missing:
        typer.echo(
            f"warning: no installed font has {' '.join(missing)}; the QR code is complete, "
            "and an .svg uses the viewer's fonts"
        )

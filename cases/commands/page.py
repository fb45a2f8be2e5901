"""`neckpreload page`: serves the page."""

import gc
from importlib.util import find_spec
from typing import Annotated

import typer

from cases.commands.options import CalibrationOption, LogOption, WorkshopOption, open_calibrations

PYTHONS_OWN = gc.get_threshold()
"""New objects after which Python searches for garbage, and how often it then looks at older ones."""


def page(
    port: Annotated[int, typer.Option(help="Port to listen on.", metavar="N")] = 8571,
    bench: Annotated[
        bool, typer.Option("--bench", help="The bench only: released cases, reading in, pair out.")
    ] = False,
    school: Annotated[
        bool, typer.Option("--class", help="For a class: no logbook, nothing is saved.")
    ] = False,
    host: Annotated[
        str,
        typer.Option(help="Another address of this machine, open to others; needs --token.", metavar="HOST"),
    ] = "127.0.0.1",
    token: Annotated[
        str | None,
        typer.Option(
            help="Secret that a browser must show once.", metavar="TEXT", envvar="NECKPRELOAD_TOKEN"
        ),
    ] = None,
    log: LogOption = None,
    calibration: CalibrationOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Serve the page: the whole job in a browser, by default for this machine only."""
    from cases.page import start

    start.begin()
    from cases.casefile.workshop import load_workshop
    from cases.page.room import Room
    from cases.page.settings import PageSettings, check_port, page_mode
    from materials.errors import InputError

    settings = PageSettings(
        mode=page_mode(bench=bench, school=school, log=log),
        host=host.strip().lower(),
        port=port,
        token=token or None,
        log=log,
        workshop=load_workshop(workshop),
        calibration=open_calibrations(calibration),
    )
    check_port(settings)
    if any(find_spec(name) is None for name in ("nicegui", "pebble")):
        raise InputError(
            "The page needs the extra `page`; in the program's folder run: pip install '.[page]'"
        )
    gc.set_threshold(*PYTHONS_OWN)  # a server goes on for weeks
    from cases.page.work import first_answers

    # at work while the server is being loaded
    room = Room(settings)
    answers = first_answers(room)
    from cases.page.server import serve

    address = f"[{settings.host}]" if ":" in settings.host else settings.host
    typer.echo(f"open http://{address}:{settings.port} (Ctrl-C ends the page)")
    serve(room, answers)

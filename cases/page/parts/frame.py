"""What every page has: its top line with the way to the others, light and dark, and a title."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from nicegui import ui

from cases.page.room import Room

FAULT = (
    "This is a fault of the program, not of your input; what you typed is kept. Load the page again, and "
    "report what you did."
)
PLACES = {"/neck": "Neck", "/bench": "Bench", "/trend": "Trend"}


@contextmanager
def sheet(room: Room, *, here: str, title: str) -> Iterator[None]:
    """A page with its top line; what is built inside stands under the title."""
    dark = ui.dark_mode(value=None)
    ui.colors(primary="#0b5394")
    client = ui.context.client

    def fault() -> None:
        with client:
            ui.notify(FAULT, type="negative", timeout=0, close_button="Close")

    client.on_exception(fault)
    with ui.element("div").classes("sheet"):
        with ui.element("header").classes("topline"):
            ui.html("neckpreload", sanitize=False, tag="span").classes("brand")
            with ui.element("nav").props('aria-label="Parts of the page"'):
                for path, name in open_places(room).items():
                    link = ui.link(name, path)
                    if path == here:
                        link.props('aria-current="page"')
            ui.select(
                {None: "as the system", False: "light", True: "dark"}, value=None, label="Light or dark"
            ).props("dense outlined options-dense").style("min-width:150px").bind_value_to(dark, "value")
        with ui.element("main"):
            ui.html(title, sanitize=False, tag="h1")
            yield


def open_places(room: Room) -> dict[str, str]:
    """Paths and names of the pages that a mode has."""
    closed = {"bench": ("/neck",), "class": ("/bench", "/trend"), "open": ()}[room.settings.mode]
    return {path: name for path, name in PLACES.items() if path not in closed}


def html(text: str = "", *, look: str = "") -> ui.html:
    """Text that a module of the page has made and escaped."""
    return ui.html(text, sanitize=False).classes(look or "wide")


def act(words: str, done: Callable[..., Any], *, quiet: bool = False) -> ui.button:
    """A button in the page's own colours; a quiet one is for the second choice."""
    button = ui.button(words, on_click=done, color=None).props("unelevated no-caps")
    return button.classes("act quiet-act" if quiet else "act")

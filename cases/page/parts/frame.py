"""Frame of every page: navigation, light or dark, title; and the elements that all parts use."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from nicegui import ui

from cases.page.answer_html import problems_html
from cases.page.room import Room
from cases.page.work import CancelledWork, WorkError
from materials.errors import InputError

FAULT = (
    "This is a program error, not an input error. Your input is kept: reload the page and report what you "
    "did."
)
PLACES = {"/neck": "Neck", "/bench": "Bench", "/trend": "Trend"}


@contextmanager
def sheet(room: Room, *, here: str, title: str) -> Iterator[None]:
    """A page; the elements built inside the `with` block go below the title."""
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
                {None: "system", False: "light", True: "dark"}, value=None, label="Light or dark"
            ).props("dense outlined options-dense").style("min-width:150px").bind_value_to(dark, "value")
        with ui.element("main"):
            ui.html(title, sanitize=False, tag="h1")
            yield


def open_places(room: Room) -> dict[str, str]:
    """Paths and names of the pages open in a mode."""
    closed = {"bench": ("/neck",), "class": ("/bench", "/trend"), "open": ()}[room.settings.mode]
    return {path: name for path, name in PLACES.items() if path not in closed}


def html(text: str = "", *, look: str = "") -> ui.html:
    """Show HTML; its maker has escaped every text in it."""
    return ui.html(text, sanitize=False).classes(look or "wide")


def act(words: str, done: Callable[..., Any], *, quiet: bool = False) -> ui.button:
    """A button in the page's colours; a quiet one is for the second choice."""
    button = ui.button(words, on_click=done, color=None).props("unelevated no-caps")
    return button.classes("act quiet-act" if quiet else "act")


class Notice:
    """A place for error messages."""

    def __init__(self) -> None:
        self._place = html()

    def show(self, *sentences: str) -> None:
        """Show these messages, or none."""
        self._place.content = problems_html(sentences)

    @contextmanager
    def guard(self) -> Iterator[None]:
        """Show an error of the enclosed work here; cancelled work shows none."""
        try:
            yield
        except CancelledWork:
            pass
        except (InputError, WorkError) as error:
            self.show(str(error))

"""The page of the neck: which pair goes in, the neck under the hands, and everything behind it."""

from nicegui import Client, ui

from cases.page.answer_html import assumed_html, joint_html, rests_html, warnings_html
from cases.page.desk import Desk, Part
from cases.page.draft import draft_from_json
from cases.page.parts.answer import AnswerCard
from cases.page.parts.ask import AskBar
from cases.page.parts.comparing import ComparePanel
from cases.page.parts.flexing import FlexPanel
from cases.page.parts.frame import html, sheet
from cases.page.parts.instrument import InstrumentPanel
from cases.page.parts.kept import keep, kept_by_tab
from cases.page.parts.sliders import NeckCard
from cases.page.room import Room
from cases.page.work import Workroom


def neck_page(room: Room, answers: Workroom) -> None:
    """Build the page for one visitor."""
    desk = Desk(room, answers)
    with sheet(room, here="/neck", title="Which pair goes in?"):
        ask = AskBar(desk)
        with ui.element("div").classes("desk"):
            answer = AnswerCard(desk)
            with ui.element("div"):
                NeckCard(desk)
                warnings = html(look="card")
        with ui.tabs().props("align=left inline-label outside-arrows mobile-arrows") as tabs:
            for name in ("The instrument", "Where it flexes", "Compare two", "What it rests on"):
                ui.tab(name)
        with ui.tab_panels(tabs, value="The instrument", animated=False):
            with ui.tab_panel("The instrument"):
                form = InstrumentPanel(desk)
            with ui.tab_panel("Where it flexes"):
                flex = FlexPanel(desk)
            with ui.tab_panel("Compare two"):
                compare = ComparePanel(desk, answers)
            with ui.tab_panel("What it rests on"):
                rests = html()

    def show_rests() -> None:
        if desk.worked is not None:
            answer = desk.worked.answer
            warnings.content = warnings_html(answer)
            rests.content = joint_html(answer) + rests_html(answer) + assumed_html(desk.worked.case.assumed())

    client = ui.context.client

    def heard(part: Part) -> None:
        if part != "answer":
            return
        with client:
            for view in (ask, answer, form, flex, compare):
                view.refresh()
            show_rests()

    desk.listen(heard)
    _begin(desk)


def _begin(desk: Desk) -> None:
    """Show the first answer at once, then what the tab kept."""
    client = ui.context.client
    begun = False
    first = desk.draft
    desk.take(first)

    def keeping(part: Part) -> None:
        if part == "answer":
            with client:
                keep("draft", desk.draft.to_json())

    async def connected(_: Client) -> None:
        nonlocal begun
        if begun:
            return
        begun = True
        with client:
            draft = draft_from_json(await kept_by_tab("draft"))
            # from here on: what the tab kept must be read before it is written over
            desk.listen(keeping)
            if desk.draft is first and draft != first:
                desk.take(draft)

    client.on_connect(connected)
    client.on_delete(lambda: desk.close())

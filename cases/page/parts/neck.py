"""The page of the neck: the pair, the neck under the sliders, and the tabs behind them."""

from nicegui import ui

from cases.page.answer_html import assumed_html, checks_html, joint_html
from cases.page.desk import Desk, Part
from cases.page.draft import Draft
from cases.page.parts.answer import AnswerCard, PairsCard
from cases.page.parts.ask import AskBar
from cases.page.parts.comparing import ComparePanel
from cases.page.parts.flexing import FlexPanel
from cases.page.parts.frame import html, sheet
from cases.page.parts.instrument import InstrumentPanel
from cases.page.parts.kept import keep, kept_by_tab, on_first_connection
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
                pairs = PairsCard(desk)
        with ui.tabs().props("align=left inline-label outside-arrows mobile-arrows") as tabs:
            for name in ("The instrument", "Where it flexes", "Compare two", "Checks and assumptions"):
                ui.tab(name)
        first = "Where it flexes" if room.settings.mode == "class" else "The instrument"
        with ui.tab_panels(tabs, value=first, animated=False):
            with ui.tab_panel("The instrument"):
                form = InstrumentPanel(desk)
            with ui.tab_panel("Where it flexes"):
                flex = FlexPanel(desk)
            with ui.tab_panel("Compare two"):
                compare = ComparePanel(desk, answers)
            with ui.tab_panel("Checks and assumptions"):
                basis = html()

    client = ui.context.client

    def heard(part: Part) -> None:
        if part != "answer":
            return
        with client:
            for view in (ask, answer, pairs, form, flex, compare):
                view.refresh()
            if desk.worked is not None:
                found, assumed = desk.worked.answer, desk.worked.case.assumed()
                basis.content = joint_html(found) + checks_html(found) + assumed_html(assumed)

    desk.listen(heard)
    _begin(desk)


def _begin(desk: Desk) -> None:
    """Show the first answer at once, then the draft that the tab kept."""
    client = ui.context.client
    first = desk.draft
    desk.take(first)

    def keeping(part: Part) -> None:
        if part == "answer":
            with client:
                keep("draft", desk.draft)

    async def restore() -> None:
        draft = await kept_by_tab("draft", Draft)
        # only now: the kept draft must be read before it is overwritten
        desk.listen(keeping)
        if desk.draft is first and draft != first:
            desk.take(draft)

    on_first_connection(restore)
    client.on_delete(lambda: desk.close())

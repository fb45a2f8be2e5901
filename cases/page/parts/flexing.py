"""Where it flexes: the flex budget and the curvature along the neck."""

from html import escape

from nicegui import ui

from cases.page.answer_html import key_html
from cases.page.chart_svg import SHADES, budget_svg, curvature_svg
from cases.page.desk import Desk
from cases.page.parts.frame import html
from cases.show.budget_bars import BudgetBar, budget_bars


class FlexPanel:
    """Budget and curvature of the full answer."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._shown: str | None = None
        with ui.element("div").classes("two"):
            self._budgets = [html(look="card"), html(look="card")]
        self._curvature = html(look="card")

    def refresh(self) -> None:
        """Show the desk's current state."""
        worked = self._desk.worked
        if worked is None or worked.sha256 == self._shown:
            return
        self._shown = worked.sha256
        for place, bar in zip(self._budgets, budget_bars(worked.answer), strict=True):
            place.content = budget_html(bar)
        self._curvature.content = (
            "<h2>Curvature at pitch, rod set</h2>"
            + curvature_svg(worked.line)
            + key_html("bending of the shaft", "the fretboard under the frets")
        )


def budget_html(bar: BudgetBar) -> str:
    """One bar with its table."""
    rows = "".join(
        f'<tr><th scope="row"><span class="swatch part-{number % SHADES}"></span>{escape(name)}</th>'
        f"<td>{share:+z.{bar.digits}f}</td><td>{round(percent)} %</td></tr>"
        for number, (name, share, percent) in enumerate(zip(bar.parts, bar.shares, bar.percent, strict=True))
    )
    return (
        f"<h2>Flex budget: {escape(bar.title)} {bar.total:+z.{bar.digits}f} {bar.unit}</h2>"
        f"{budget_svg(bar)}"
        "<table><caption>Contributions by virtual work; negative: in the opposite direction</caption>"
        f"<thead><tr>"
        f'<th scope="col">part</th><th scope="col">{bar.unit}</th><th scope="col">share</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )

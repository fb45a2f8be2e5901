"""The steps of the bench, one below the other in the order of the work."""

from collections.abc import Iterator
from contextlib import contextmanager
from html import escape

from nicegui import ui

from cases.bench.shims.swap import Swap
from cases.page.bench_html import short_pair
from cases.page.benchdesk import BenchDesk, Step
from cases.page.parts.frame import html

NAMES = {
    "scan": "Scan",
    "read": "Read the pocket",
    "pair": "Pair",
    "label": "Label",
    "bolt": "Bolt up",
    "dry": "Dry check",
    "string": "String up",
    "measure": "Read at pitch",
    "done": "Done",
}
OPEN: dict[Step, tuple[str, ...]] = {
    "scan": ("scan",),
    "read": ("scan", "read"),
    "pair": ("scan", "read", "pair"),
    "dry": ("scan", "label", "bolt", "dry"),
    "change": ("scan", "dry"),
    "string": ("scan", "label", "dry", "string", "measure"),
    "done": ("scan", "done"),
}
"""Steps open at each stage of the work; the last one is the next thing to do."""


def next_words(desk: BenchDesk, swap: Swap | None) -> str:
    """Words of the one large button: the next thing to do, and on which guitar."""
    serial = desk.serial
    match desk.step:
        case "scan":
            return "Take up this guitar"
        case "read":
            return f"Which pair for {serial}?"
        case "pair":
            return f"Log {short_pair(desk.offered[0])} for {serial}"
        case "dry":
            return f"Check {serial} before the strings"
        case "change" if desk.dry is not None:
            return f"Log the change to {short_pair(desk.dry.check.best)} for {serial}"
        case "string":
            return f"Log what {serial} measures"
        case "done" if swap is not None and not swap.keep:
            return f"Log the swap to {short_pair(swap.new)} for {serial}"
    return "Next guitar"


class StepList:
    """Nine headed sections; those of the present stage are open, the others show what the log has."""

    def __init__(self) -> None:
        self._sections: dict[str, ui.element] = {}
        self._bodies: dict[str, ui.element] = {}
        self._said: dict[str, ui.html] = {}

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        """A step; the elements built inside the `with` block are shown while it is open."""
        number = len(self._sections) + 1
        section = ui.element("section").classes("step")
        section.props(f'data-step={name} aria-label="{number} {NAMES[name]}"')
        with section:
            html(f'<h2><span class="number">{number}</span>{NAMES[name]}</h2>')
            self._said[name] = html(look="said")
            self._bodies[name] = ui.element("div").classes("wide")
            with self._bodies[name]:
                yield
        self._sections[name] = section

    def show(self, stage: Step, said: dict[str, str]) -> None:
        """Open the steps of a stage; the closed ones show their words in ``said``."""
        shown = OPEN[stage]
        for name, section in self._sections.items():
            at_it = name == shown[-1]
            self._bodies[name].set_visibility(name in shown)
            self._said[name].content = "" if name in shown else escape(said.get(name, ""))
            section.classes(remove="now later", add="now" if at_it else "" if name in shown else "later")
            if at_it:
                section.props('aria-current="step"')
            else:
                section.props(remove="aria-current")

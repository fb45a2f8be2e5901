"""Cache of necks solved and drawn: sliders return to the same positions, visitors to the same instrument."""

from collections import OrderedDict
from dataclasses import dataclass
from typing import TypeVar

from cases.casefile.case import Case
from cases.page.answer_html import readout_html
from cases.page.fields import FormTable, form_of
from cases.page.live import Bend, Knobs, LiveState, Worked
from cases.page.svg import Stage, neck_pictures, stage_of

Key = TypeVar("Key")
Value = TypeVar("Value")
MOST_DRAWN = 500
"""Largest number of necks kept, about 15 kB each."""
MOST_STAGES = 16
"""Largest number of stages and of forms kept, about 100 kB each."""


@dataclass(frozen=True)
class Drawing:
    """HTML of a neck: side view, joint, readings."""

    neck: str
    joint: str
    readout: str


class Drawn:
    """A cache of limited size, shared by all visitors."""

    def __init__(self) -> None:
        self._states: OrderedDict[tuple[str, Knobs], LiveState] = OrderedDict()
        self._drawings: OrderedDict[tuple[str, float, Knobs], Drawing] = OrderedDict()
        self._stages: OrderedDict[tuple[str, float | None], Stage] = OrderedDict()
        self._forms: OrderedDict[str, tuple[FormTable, ...]] = OrderedDict()

    def state(self, bend: Bend, knobs: Knobs) -> LiveState:
        """State of the neck for slider positions. Raises `ConvergenceError` as `Bend.state`."""
        key = (bend.worked.sha256, knobs)
        if key not in self._states:
            self._states[key] = bend.state(knobs)
        return _kept(self._states, key, MOST_DRAWN)

    def drawing(self, stage: Stage, state: LiveState) -> Drawing:
        """Drawing of a state."""
        key = (stage.worked.sha256, stage.view.exaggeration, state.knobs)
        if key not in self._drawings:
            self._drawings[key] = Drawing(*neck_pictures(stage, state), readout_html(state))
        return _kept(self._drawings, key, MOST_DRAWN)

    def stage(self, worked: Worked, exaggeration: float | None) -> Stage:
        """Stage of an instrument; without ``exaggeration`` the largest factor that fits."""
        key = (worked.sha256, exaggeration)
        if key not in self._stages:
            self._stages[key] = stage_of(worked, exaggeration=exaggeration)
        return _kept(self._stages, key, MOST_STAGES)

    def form(self, case: Case) -> tuple[FormTable, ...]:
        """Every key of a case as a form field."""
        key = case.sha256
        if key not in self._forms:
            self._forms[key] = form_of(case)
        return _kept(self._forms, key, MOST_STAGES)


def _kept(memory: OrderedDict[Key, Value], key: Key, most: int) -> Value:
    memory.move_to_end(key)
    while len(memory) > most:
        memory.popitem(last=False)
    return memory[key]

"""Cache of necks solved and drawn, for sliders that return to the same positions."""

from collections import OrderedDict
from dataclasses import dataclass
from typing import TypeVar

from cases.page.answer_html import readout_html
from cases.page.live import Bend, Knobs, LiveState
from cases.page.svg import Stage, neck_pictures

Key = TypeVar("Key")
Value = TypeVar("Value")
MOST_DRAWN = 500
"""Largest number of necks kept, about 15 kB each."""


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

    def state(self, bend: Bend, knobs: Knobs) -> LiveState:
        """State of the neck for slider positions. Raises `ConvergenceError` as `Bend.state`."""
        key = (bend.worked.case.sha256, knobs)
        if key not in self._states:
            self._states[key] = bend.state(knobs)
        return _kept(self._states, key)

    def drawing(self, stage: Stage, state: LiveState) -> Drawing:
        """Drawing of a state."""
        key = (stage.worked.case.sha256, stage.view.exaggeration, state.knobs)
        if key not in self._drawings:
            self._drawings[key] = Drawing(*neck_pictures(stage, state), readout_html(state))
        return _kept(self._drawings, key)


def _kept(memory: OrderedDict[Key, Value], key: Key) -> Value:
    memory.move_to_end(key)
    while len(memory) > MOST_DRAWN:
        memory.popitem(last=False)
    return memory[key]

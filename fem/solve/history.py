"""What happens to an instrument once it is bolted up: strings, rod, bolts, a knock (docs/history.md).

The joint takes the slip of its faces and the crushed depth of its wood along from state to state.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from fem.solve.equilibrium import State, Targets, string_up
from fem.solve.offset import Pair, Question, other_state, with_rod


@dataclass(frozen=True)
class Event:
    """One event: ``strings`` or ``rod`` brought to ``share`` of their tension at pitch and of the setting
    found, ``bolts`` tightened again to their tension on the bench, or a ``knock``: for a moment no friction.
    """

    kind: Literal["strings", "rod", "bolts", "knock"]
    share: float = 1.0


@dataclass(frozen=True)
class Moment:
    """A state on the way: ``number`` of the event that leads to it, 0 for bolted up; ``tension`` and ``rod``
    as shares; ``last`` unless the event goes on.
    """

    number: int
    tension: float
    rod: float
    state: State
    last: bool


def follow(question: Question, at: Pair, events: Sequence[Event], *, parts: int = 1) -> Iterator[Moment]:
    """States of a pair through the events, from bolted up; strings and rod move in ``parts`` equal parts.

    Shims and saddle are those of the pair. Raises `ConvergenceError`: the joint finds no rest.
    """
    flexibility, law = question.joint(at.angles)
    smooth = replace(law, friction=np.zeros_like(law.friction))
    tension, rod, bolted = 0.0, 0.0, at.bolted
    state = bolted
    yield Moment(0, tension, rod, state, last=True)
    for number, event in enumerate(events, 1):
        moved = event.kind in ("strings", "rod")
        from_tension, from_rod = tension, rod
        for part in np.linspace(0.0, 1.0, parts + 1)[1:] if moved else (1.0,):
            if event.kind == "strings":
                tension = from_tension + float(part) * (event.share - from_tension)
            elif event.kind == "rod":
                rod = from_rod + float(part) * (event.share - from_rod)
            tightened = replace(question.bolting, bolt_stiffness=np.zeros_like(bolted.bolts))
            state = string_up(
                flexibility,
                smooth if event.kind == "knock" else law,
                tightened if event.kind == "bolts" else question.bolting,
                bolted=bolted,
                line=question.line,
                strings=replace(question.strings, tension=tension * question.strings.tension),
                wanted=_held(question, at, rod),
                start=state,
                after=state,
            )
            yield Moment(number, tension, rod, state, last=bool(part == 1.0))
        if event.kind == "bolts":
            bolted = state


def _held(question: Question, at: Pair, rod: float) -> Targets:
    """The saddle of a pair, and the rod at a share of its setting there."""
    return replace(
        question.wanted,
        relief=None,
        rod=rod * at.strung.rod,
        height=None,
        saddle_height=at.strung.saddle_height,
    )


def back_from(question: Question, at: Pair, *, share: float) -> State:
    """The strung state of a pair after an excursion of the strings to ``share`` of their tension.

    Then rod and saddle are set to their targets again.
    """
    strings = replace(question.strings, tension=share * question.strings.tension)
    away = other_state(
        replace(question, strings=strings), at, strings=True, rod=at.strung.rod, after=at.strung
    )
    flexibility, law = question.joint(at.angles)
    again = partial(
        string_up,
        flexibility,
        law,
        question.bolting,
        bolted=at.bolted,
        line=question.line,
        strings=question.strings,
        after=away,
    )
    return with_rod(question, lambda wanted, start: again(wanted=wanted, start=start), at.strung)

"""What the joint of an instrument remembers: kink and action along strings, rod, bolts and knocks."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from math import degrees
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.casefile.files import opened
from cases.offset.build import MM
from cases.offset.joint_history import crushable
from cases.offset.results import action
from cases.offset.solve import Solved, one_thread, solve
from cases.result import Result
from cases.studies.history_steps import FIRST, events_of, words_of
from fem.errors import ConvergenceError
from fem.results.reading import read, string_height
from fem.solve.history import Event, Moment, follow
from fem.solve.offset import Pair, Question, pair

PARTS = 16
"""Points of the picture on the way of strings or rod in one step."""
STUCK = 1e3
"""Coefficient of friction with which nothing slips."""


@dataclass(frozen=True)
class HistoryPoint:
    """One state. ``step`` is the number of the step that leads to it (0: bolted up), ``what`` its words.

    ``strings`` and ``rod`` are shares of the tension at pitch and of the rod's setting; ``action_mm`` is over
    fret 12, None with slack strings; ``saddle_line_mm`` is the shaft line's height at the saddle and
    ``crushed_mm`` the largest depth crushed.
    """

    step: int
    what: str
    strings: float
    rod: float
    kink_deg: float
    tongue_gap_mm: float
    relief_mm: float
    action_mm: float | None
    saddle_line_mm: float
    crushed_mm: float

    @property
    def at_pitch(self) -> bool:
        """Whether strings and rod are where the answer has them."""
        return abs(self.strings - 1.0) < 1e-9 and abs(self.rod - 1.0) < 1e-9


@dataclass(frozen=True)
class History(Result):
    """States of an instrument after each step, on the shims and saddle of its answer.

    ``path`` has the points in between as well. ``kink_stuck_deg`` and ``kink_smooth_deg`` are the kinks at
    pitch if nothing slipped, and after all friction was gone for a moment; None if the joint finds no rest.
    ``transfer`` is the kink per degree of lower shim, None without two shims.
    """

    case: str
    angles_deg: tuple[float, ...]
    points: tuple[HistoryPoint, ...]
    path: tuple[HistoryPoint, ...]
    kink_stuck_deg: float | None
    kink_smooth_deg: float | None
    transfer: float | None
    crushing: bool

    @property
    def at_pitch(self) -> tuple[HistoryPoint, ...]:
        """The states with strings at pitch and the rod set, in order."""
        return tuple(one for one in self.points if one.at_pitch)

    def offset_change_deg(self, point: HistoryPoint) -> float | None:
        """Return the change of the offset that a state at pitch would need; None elsewhere."""
        if self.transfer is None or not point.at_pitch:
            return None
        return -(point.kink_deg - self.at_pitch[0].kink_deg) / self.transfer

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object; ``path`` as lists."""
        names = ("step", "strings", "rod", "kink_deg", "action_mm")
        return {
            "schema": 1,
            "case": self.case,
            "angles_deg": list(self.angles_deg),
            "crushing": self.crushing,
            "kink_stuck_deg": self.kink_stuck_deg,
            "kink_smooth_deg": self.kink_smooth_deg,
            "steps": self.to_rows(),
            "path": {name: [getattr(one, name) for one in self.path] for name in names},
        }

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary per step."""
        return [asdict(one) | {"offset_change_deg": self.offset_change_deg(one)} for one in self.points]


@one_thread
def history(case: Case | str | Path, steps: str | None = None, *, crushing: bool = False) -> History:
    """Follow the joint of a case through steps, on the shims that its answer gives.

    Parameters
    ----------
    case : instrument with strings and set-up, its name or file.
    steps : what happens after bolting up, in order, as in ``1, rod, 0, 1.05, 1, knock`` (docs/history.md);
      default: once through everything but a slack rod.
    crushing : whether pressure beyond the wood's strength across the grain crushes it.

    Raises
    ------
    InputError
        If a step is wrong.
    ModelError, ConvergenceError
        If the case or one of its states cannot be solved.
    """
    events = events_of(FIRST if steps is None else steps)
    solved = solve(opened(case))
    if solved.pair.strung.rod == 0.0:
        events = _without_rod(solved, events, given=steps is not None)
    question, at = solved.question, solved.pair
    if crushing:
        question = crushable(solved)
        crushed = pair(question, at.angles, start=at)
        # rod and saddle stay those of the answer
        at = Pair(at.angles, crushed.bolted, at.strung)
    path = tuple(_points(solved, question, at, events))
    return History(
        case=solved.case.name,
        angles_deg=tuple(degrees(angle) for angle in at.angles),
        points=tuple(point for point, last in path if last),
        path=tuple(point for point, _ in path),
        kink_stuck_deg=_kink_at_pitch(replace(question, friction=(STUCK,) * len(question.friction)), at),
        kink_smooth_deg=_kink_at_pitch(question, at, Event("knock")),
        transfer=None if len(question.shims) < 2 else float(solved.offset.transfer),
        crushing=crushing,
    )


def _without_rod(solved: Solved, events: tuple[Event, ...], *, given: bool) -> tuple[Event, ...]:
    """The events without those of a rod that stays slack; `InputError` if they were asked for."""
    for number, event in enumerate(events, 1):
        if given and event.kind == "rod":
            wrong = f"{solved.case.name} has no rod, or one that its answer leaves slack"
            allowed = "steps of strings, bolts and knocks"
            raise Problem(f"--steps, step {number}", words_of(event), wrong, allowed, "leave it out").error()
    return tuple(event for event in events if event.kind != "rod")


def _points(
    solved: Solved, question: Question, at: Pair, events: tuple[Event, ...]
) -> Iterator[tuple[HistoryPoint, bool]]:
    """Each moment read, and whether it ends its step."""
    x = float(question.line.x[11])
    usual, height = action(solved), string_height(solved.question, solved.pair.strung, x)
    no_rod = solved.pair.strung.rod == 0.0

    def point(moment: Moment) -> HistoryPoint:
        found = read(question, moment.state)
        strung = moment.tension > 0.0
        return HistoryPoint(
            step=moment.number,
            what=words_of(events[moment.number - 1]) if moment.number else "bolted up",
            strings=moment.tension,
            rod=1.0 if no_rod else moment.rod,
            kink_deg=degrees(found.kink),
            tongue_gap_mm=found.tongue_gap / MM,
            relief_mm=found.relief / MM,
            action_mm=usual + (string_height(question, moment.state, x) - height) / MM if strung else None,
            saddle_line_mm=found.saddle_line / MM,
            crushed_mm=float(moment.state.crushed.max()) / MM,
        )

    for moment in follow(question, at, events, parts=PARTS):
        yield point(moment), moment.last


def _kink_at_pitch(question: Question, at: Pair, *further: Event) -> float | None:
    """Kink with strings at pitch and the rod set, after further events [deg]; None if there is no rest."""
    try:
        *_, last = follow(question, at, (Event("rod"), Event("strings"), *further))
    except ConvergenceError:
        return None
    return degrees(question.kink(last.state))

"""The steps of a history as one types them: ``1, rod, 0, 1.05, 1, knock`` (docs/history.md)."""

import re

from cases.casefile.errors import Problem
from fem.solve.history import Event
from materials.errors import InputError

FIRST = "1, rod, 0, 1, 1.05, 1, knock"
"""Steps of a history if none are given."""
MOST = 200
"""Most steps of a history."""
STRONGEST, TIGHTEST = 1.2, 1.5
"""Largest share of the tension at pitch, and of the rod's setting; beyond it strings or rods break."""
ALLOWED = (
    "a number (tension of the strings, 1 = at pitch, 0 = slack), rod (set), rod 0 (slack), bolts (tightened "
    "again), knock, and 5 x (0, 1) to repeat"
)
PLAIN = {"rod": Event("rod"), "bolts": Event("bolts"), "knock": Event("knock")}
"""Steps of a word alone."""
_REPEAT = re.compile(r"(\d{1,3})\s*x\s*\(([^()]*)\)")


def events_of(steps: str) -> tuple[Event, ...]:
    """Events of typed steps.

    Raises `InputError`: a step is not understood or too large, or there are none or more than `MOST`.

    >>> [one.kind for one in events_of("1, rod, 2 x (0, 1)")]
    ['strings', 'rod', 'strings', 'strings', 'strings', 'strings']
    """
    written = _REPEAT.sub(lambda found: ", ".join([found.group(2)] * int(found.group(1))), steps)
    words = [" ".join(word.split()) for word in written.split(",")]
    if len(words) > MOST:
        raise _wrong("--steps", f"{len(words)} steps", "too many", f"at most {MOST}")
    return tuple(_event(number, word) for number, word in enumerate(words, 1))


def _event(number: int, word: str) -> Event:
    if word in PLAIN:
        return PLAIN[word]
    where, rod = f"--steps, step {number}", word.startswith("rod ")
    try:
        share = float(word.removeprefix("rod "))
    except ValueError:
        raise _wrong(where, f'"{word}"', "this is no step", ALLOWED) from None
    most = TIGHTEST if rod else STRONGEST
    if not 0.0 <= share <= most:
        of = "the rod's setting" if rod else "the tension at pitch"
        raise _wrong(where, word, f"this share of {of} is out of range", f"0 to {most:g}")
    return Event("rod" if rod else "strings", share)


def _wrong(where: str, given: str, wrong: str, allowed: str) -> InputError:
    return Problem(where, given, wrong, allowed, f'write the steps like "{FIRST}"').error()


def words_of(event: Event) -> str:
    """An event in words.

    >>> words_of(Event("strings", 1.05))
    'strings 105 %'
    """
    if event.kind in ("strings", "rod"):
        return f"{event.kind} {100.0 * event.share:.4g} %"
    return "bolts tightened again" if event.kind == "bolts" else "knock"

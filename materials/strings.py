"""Sets of strings, and the tension of each string from its linear density, the scale and the pitch.

Numbers in brackets: `sources.md`. A string under tension can break and whip: protect your eyes when tuning.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from materials.counted import counted
from materials.errors import MaterialError
from materials.pitch import note_frequency, parse_tuning, with_octaves
from materials.string_density import (
    String,
    alloy_names,
    own_string,
    parse_gauge,
    parse_gauges,
    weight_scatter,
    wound_linear_density,
)
from materials.table import text_of, unknown_name

__all__ = [
    "USUAL_TUNING",
    "String",
    "StringSet",
    "StringTension",
    "alloy_names",
    "note_frequency",
    "overstressed",
    "own_set",
    "own_string",
    "parse_gauge",
    "parse_gauges",
    "parse_tuning",
    "set_names",
    "string_set",
    "tension",
    "tensions",
    "total_tension",
    "weight_scatter",
    "wound_linear_density",
]

POUND_FORCE = 4.4482216152605

USUAL_TUNING = "E2 A2 D3 G3 B3 E4"
"""Tuning of six strings, low to high."""

SCALE_RANGE_M = (0.25, 1.2)
# Music wire on guitars carries up to about 2000 N/mm2 at rest, [26], found. The 5 % above are a choice: the
# octave string of a twelve-string's third course is used at 2010 N/mm2, and is known to break.
CORE_STRESS_LIMIT = 2.1e9


@dataclass(frozen=True)
class StringSet:
    """A set of strings; `courses` and `notes` run from the 1st (highest) course, main string first."""

    name: str
    title: str
    courses: tuple[tuple[String, ...], ...]
    notes: tuple[tuple[str, ...], ...]
    source: str
    mark: str

    @property
    def gauges(self) -> str:
        """All gauges, 1st course to last, as the trade writes them."""
        return " ".join("/".join(string.label for string in course) for course in self.courses)


@dataclass(frozen=True)
class StringTension:
    """One string at pitch: its course (1 = highest), note, frequency [Hz] and tension [N]."""

    course: int
    string: String
    note: str
    frequency: float
    tension_n: float

    @property
    def gauge(self) -> str:
        """The gauge as the trade writes it."""
        return self.string.label

    @property
    def tension_lbf(self) -> float:
        """Tension [lbf]."""
        return self.tension_n / POUND_FORCE


def tension(linear_density: float, *, scale: float, frequency: float) -> float:
    """Return the tension of an ideal string [N], T = mu (2 L f)^2.

    Parameters
    ----------
    linear_density : Mass per length mu [kg/m].
    scale : Sounding length L [m].
    frequency : Pitch f [Hz].

    Raises `MaterialError`: a value that is not positive.
    """
    if not (linear_density > 0.0 and scale > 0.0 and frequency > 0.0):
        raise MaterialError(
            f"string of {linear_density:g} kg/m, {scale:g} m, {frequency:g} Hz: all three must be positive; "
            "correct the one that is not"
        )
    return linear_density * (2.0 * scale * frequency) ** 2


@cache
def _sets() -> Mapping[str, Any]:
    return tomllib.loads(text_of("string_sets.toml"))


def set_names() -> tuple[str, ...]:
    """Return the names of all string sets."""
    return tuple(_sets())


@cache
def string_set(name: str) -> StringSet:
    """Return a set by its name or alias, such as `acoustic-light` or `light`.

    Raises `MaterialError`: unknown name; the nearest are given.
    """
    key = name.strip().lower()
    aliases = {alias: full for full, entry in _sets().items() for alias in entry["aliases"]}
    full = aliases.get(key, key)
    if full not in _sets():
        raise unknown_name(
            name, (*_sets(), *aliases), what="string set", remedy="`neckpreload strings` lists all sets"
        )
    entry = _sets()[full]
    made = own_set(
        entry["gauges"].split(),
        tuning=entry["tuning"],
        plain_alloy=entry["plain_alloy"],
        wound_alloy=entry["wound_alloy"],
    )
    return StringSet(full, entry["title"], made.courses, made.notes, entry["source"], entry["mark"])


def own_set(
    gauges: Sequence[str | String],
    *,
    tuning: str,
    plain_alloy: str = "plain-steel",
    wound_alloy: str = "phosphor-bronze",
) -> StringSet:
    """Return a set of a user's own strings.

    Parameters
    ----------
    gauges : One entry a course, 1st to last: a gauge as in `parse_gauge`, two joined by `/`, or a `String`.
    tuning : Notes low to high as in `parse_tuning`, one a course; six courses need no octaves.
    plain_alloy, wound_alloy : Alloys of the plain and of the wound strings.

    Raises `MaterialError`: a wrong gauge or alloy, or a tuning that does not fit.
    """
    courses: list[tuple[String, ...]] = []
    for entry in gauges:
        if isinstance(entry, String):
            courses.append((entry,))
            continue
        parsed = [parse_gauge(part) for part in entry.split("/")]
        courses.append(
            tuple(
                own_string(gauge_in=gauge, wound=wound, alloy=wound_alloy if wound else plain_alloy)
                for gauge, wound in parsed
            )
        )
    if len(courses) == 6:
        tuning = with_octaves(tuning, parse_tuning(USUAL_TUNING))
    notes = _fitted_notes(tuple(courses), tuning, name="own set")
    return StringSet("own", "own strings", tuple(courses), notes, "given by the user", "given")


def _fitted_notes(
    courses: tuple[tuple[String, ...], ...], tuning: str, *, name: str
) -> tuple[tuple[str, ...], ...]:
    """Return the notes of a tuning, 1st course to last, after checking that they fit the strings."""
    notes = parse_tuning(tuning)[::-1]
    if len(notes) != len(courses):
        raise MaterialError(
            f"tuning '{tuning}' names {counted(len(notes), 'course')}, the strings ({name}) have "
            f"{len(courses)}; give one note for each course, low to high"
        )
    for place, (course, wanted) in enumerate(zip(courses, notes, strict=True), start=1):
        if len(wanted) != len(course):
            raise MaterialError(
                f"course {place} of {name} has {counted(len(course), 'string')} and "
                f"{counted(len(wanted), 'note')}; write a doubled course as two notes joined by "
                "'/', such as E2/E3"
            )
    return notes


def tensions(strings: StringSet, *, scale: float, tuning: str | None = None) -> tuple[StringTension, ...]:
    """Return the tension of each string at pitch, 1st course to last, main string first.

    Parameters
    ----------
    strings : The set.
    scale : Scale length [m], 0.25 to 1.2.
    tuning : Notes low to high; the set's own tuning if None. A note without its octave is the nearest to the
      set's own. For a doubled course give the main note alone (its partner keeps the set's interval of
      unison or octave) or both as `E2/E3`.

    Raises `MaterialError`: a scale out of range, or a tuning that does not fit the strings.
    """
    low, high = SCALE_RANGE_M
    if not low <= scale <= high:
        hint = f"; {scale:g} mm is {scale / 1000.0:g} m" if 1000.0 * low <= scale <= 1000.0 * high else ""
        raise MaterialError(f"scale {scale:g} m is outside {low:g} to {high:g} m; give metres{hint}")
    notes = (
        strings.notes
        if tuning is None
        else _fitted_notes(strings.courses, _completed(tuning, strings), name=strings.name)
    )
    result = []
    for place, (course, wanted) in enumerate(zip(strings.courses, notes, strict=True), start=1):
        for string, note in zip(course, wanted, strict=True):
            frequency = note_frequency(note)
            pull = tension(string.unit_weight_kg_m, scale=scale, frequency=frequency)
            result.append(StringTension(place, string, note, frequency, pull))
    return tuple(result)


def _completed(tuning: str, strings: StringSet) -> str:
    """Add the partner's note to each doubled course for which only the main note is given."""
    full = with_octaves(tuning, strings.notes[::-1])
    courses = parse_tuning(full)
    if len(courses) != len(strings.notes):
        return full
    words = []
    for given, usual in zip(courses, strings.notes[::-1], strict=True):
        if len(given) == 1 and len(usual) == 2:
            # the partner sounds in unison or an octave up: same letter, another octave number
            octaves = int(usual[1][-1]) - int(usual[0][-1])
            words.append(f"{given[0]}/{given[0][:-1]}{int(given[0][-1]) + octaves}")
        else:
            words.append("/".join(given))
    return " ".join(words)


def total_tension(strings: Sequence[StringTension]) -> float:
    """Return the sum of the tensions [N]."""
    return math.fsum(one.tension_n for one in strings)


def overstressed(strings: Sequence[StringTension]) -> tuple[str, ...]:
    """Return a warning for each steel string whose core carries more than about 2000 N/mm2 ([26], found)."""
    warnings = []
    for one in strings:
        stress = one.tension_n / one.string.core_area
        if not one.string.kind.startswith("nylon") and stress > CORE_STRESS_LIMIT:
            warnings.append(
                f"string {one.gauge} at {one.note}: {stress / 1e6:.0f} N/mm2 in its steel, above about 2000; "
                "it may break: tune lower, or take a thicker core or a shorter scale, and protect the eyes"
            )
    return tuple(warnings)

"""What is typed at the bench: each field with its label, unit and allowed range, and the values in it."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, Field

from cases.bench.learning.stiffness_test import DeadWeight
from cases.bench.logbook.validation import NewMeasurement, validated
from cases.bench.logbook.value_ranges import HUMIDITY_PERCENT, KINDS
from cases.bench.shims.fit_entry import reading_height
from cases.bench.shims.geometry import Geometry
from cases.bench.shims.lengths import MM_PER_INCH
from cases.bench.shims.readings import STEEPEST_DEG, Conditions, Squares
from cases.casefile.quantity import MM_PER_UNIT, parse_angle, parse_length
from cases.page.draft import MOST_TEXT
from cases.page.room import DEFAULT_CASE
from materials.errors import InputError

MOST_READINGS = 12
LengthUnit = Literal["mm", "in"]
LENGTH_UNIT = re.compile(f"(?:{'|'.join(MM_PER_UNIT)})\\s*$", re.IGNORECASE)
"""The end of a text that is a length."""


@dataclass(frozen=True)
class BenchField:
    """A field: key, label, kind of quantity as in the log, unit; signed if it is often below 0."""

    key: str
    label: str
    kind: str
    unit: Literal["mm", "deg", "%", "kg", ""] = "mm"
    signed: bool = False

    def heading(self, length_unit: LengthUnit) -> str:
        """Label with the unit of a bare number."""
        unit = length_unit if self.unit == "mm" else self.unit
        return f"{self.label} [{unit}]" if unit else self.label

    def allowed(self, length_unit: LengthUnit) -> str:
        """The physically possible range in words; empty where the case decides."""
        low, high = HUMIDITY_PERCENT if self.unit == "%" else KINDS.get(self.kind, {}).get(self.unit, (0, 0))
        if not high:
            return ""
        inch = self.unit == "mm" and length_unit == "in"
        ends = [f"{end / MM_PER_INCH if inch else end:.3g}" for end in (low, high)]
        return f"{ends[0]} to {ends[1]} {length_unit if self.unit == 'mm' else self.unit}"


READING = BenchField("reading", "Reading", "reading", signed=True)
SQUARES = (
    BenchField("pocket_square", "Square in the pocket", "pocket_square", signed=True),
    BenchField("heel_square", "Square on the heel", "heel_square", signed=True),
)
HUMIDITY = BenchField("rh_percent", "Relative humidity", "rh_percent", "%")
GAUGE_STEP = BenchField("gauge_step", "Gauge step", "gauge_step")
PLACES = (BenchField("bench", "Bench", "", ""), BenchField("wood_batch", "Wood batch", "", ""))
JIG = (
    BenchField("neck_first", "First support", "place"),
    BenchField("neck_last", "Last support", "place"),
    BenchField("neck_load", "Load", "place"),
    BenchField("neck_dial", "Dial", "place"),
    BenchField("neck_mass", "Mass", "mass", "kg"),
)
"""The neck test's places and mass, which stay from neck to neck."""
MOVED = BenchField("neck_moved", "Neck test", "moved")
BOLTED = BenchField("bolted_kink", "Kink, bolted up", "kink", "deg", signed=True)
BOLTED_GAP = BenchField("bolted_gap", "Tongue gap, bolted up", "tongue_gap", signed=True)
AT_PITCH = (
    BenchField("action_bass", "Action bass", "action_bass"),
    BenchField("action_treble", "Action treble", "action_treble"),
    BenchField("tongue_gap", "Tongue gap", "tongue_gap", signed=True),
    BenchField("relief", "Relief", "relief", signed=True),
)
"""Measured on every guitar at pitch; an action may not be left out."""
MORE_AT_PITCH = (
    BenchField("kink", "Kink at pitch", "kink", "deg", signed=True),
    BenchField("saddle_height", "Saddle above the bridge", "saddle_height"),
)
NEEDED = ("action_bass", "action_treble")
OF_POCKET = frozenset(one.key for one in (READING, *SQUARES, HUMIDITY, GAUGE_STEP, *JIG, MOVED)) | {
    "use_squares"
}
"""Fields on which the pair depends: a change of one clears it."""
OF_GUITAR = (READING, *SQUARES, MOVED, BOLTED, *AT_PITCH, *MORE_AT_PITCH)
"""Fields of one guitar, empty again for the next."""

USES = {"use_squares": "Squares on both seats", "use_more": "Kink at pitch and saddle height"}
"""What a bench may measure besides: key and label of its tick; `on` in the tab's texts."""

Text = Annotated[str, Field(max_length=MOST_TEXT)]


class Typed(BaseModel):
    """What a tab keeps of the bench.

    ``taken`` : serial of the guitar taken up, to which the texts belong; ``asked`` : whether its pair was
    asked for; ``tested`` : when its neck was.
    """

    serial: Text = ""
    case: str | None = DEFAULT_CASE
    taken: Text = ""
    texts: Annotated[dict[Text, Text], Field(max_length=60)] = {}
    asked: bool = False
    tested: Text = ""

    def text(self, field: BenchField) -> str:
        """What a field holds, without spaces around it."""
        return self.texts.get(field.key, "").strip()

    def uses(self, key: str) -> bool:
        """Whether the bench takes one of the measurements of `USES`."""
        return self.texts.get(key) == "on"


def with_point(text: str) -> str:
    """A typed number with a decimal point.

    >>> with_point("1,8mm"), with_point("−0,07")
    ('1.8mm', '-0.07')
    """
    return re.sub(r",(?=\d)", ".", text.replace("−", "-"))


def length_mm(text: str, *, name: str, unit: LengthUnit = "mm") -> float:
    """A typed length [mm]; a bare number is in ``unit``.

    >>> length_mm("1,8", name="reading"), length_mm("0.07", name="reading", unit="in")
    (1.8, 1.778)
    """
    return round(parse_length(with_point(text), name=name, bare_unit=unit), 6)


def separate(text: str) -> tuple[str, ...]:
    """Several values in one field, separated by spaces, semicolons, or commas before a space.

    >>> separate("1,8 1.9; -1.04deg"), separate("1.8, 1.9 mm"), separate("1 5/64in")
    (('1,8', '1.9', '-1.04deg'), ('1.8', '1.9 mm'), ('1 5/64in',))
    """
    return tuple(part for part in re.split(r"\s*(?:[;\s]|,\s)\s*(?=[-+−.,\d])(?!\d+/)", text.strip()) if part)


def number_of(field: BenchField, text: str, *, unit: LengthUnit = "mm") -> float:
    """The value of one field in its unit. Raises `InputError` for a text that is none, or out of range."""
    if field.unit == "deg":
        value = parse_angle(with_point(text), name=field.label, bare_unit="deg")
    elif field.unit == "mm":
        value = length_mm(text, name=field.label, unit=unit)
    else:
        bare = with_point(text).removesuffix(field.unit).strip()
        try:
            value = float(bare)
        except ValueError:
            raise InputError(
                f'{field.label} "{text}": this is not a number; type it as 45 or 4.5 {field.unit}.'
            ) from None
    low, high = KINDS.get(field.kind, {}).get(field.unit, (value, value))
    if not low <= value <= high:
        raise InputError(
            f"{field.label} {text}: {field.allowed(unit)} are allowed; check the decimal point and the unit."
        )
    return value


def optional(typed: Typed, field: BenchField, *, unit: LengthUnit) -> float | None:
    """The value of a field that may be empty."""
    text = typed.text(field)
    return number_of(field, text, unit=unit) if text else None


@dataclass(frozen=True)
class Pocket:
    """A bare pocket as measured: heights [mm], gaps under both squares, conditions."""

    heights: tuple[float, ...]
    squares: Squares
    conditions: Conditions


def pocket_of(typed: Typed, geometry: Geometry, *, unit: LengthUnit) -> Pocket:
    """The pocket in the fields. Raises `InputError` if a value is wrong or the reading is missing."""
    parts = separate(typed.text(READING))
    if not parts or len(parts) > MOST_READINGS:
        raise InputError(
            f"{READING.label}: {len(parts) or 'none'} given; 1 to {MOST_READINGS} readings such as 1.8 or "
            "0.07in are allowed; read the pocket and type the reading."
        )
    step = optional(typed, GAUGE_STEP, unit=unit)
    heights = tuple(
        round(
            reading_height(
                with_point(part), geometry, name=READING.label, gauge_step_mm=step, bare_unit=unit
            ),
            6,
        )
        for part in parts
    )
    squares = Squares()
    if typed.uses("use_squares"):
        squares = Squares(*(optional(typed, one, unit=unit) for one in SQUARES))
    return Pocket(heights, squares, Conditions(optional(typed, HUMIDITY, unit=unit)))


def possible_reading(geometry: Geometry, *, unit: LengthUnit) -> str:
    """Readings that a pocket can give, in words."""
    scale = MM_PER_INCH if unit == "in" else 1.0
    low, high = (geometry.height_of(way * STEEPEST_DEG) / scale for way in (1.0, -1.0))
    return f"{low:.3g} to {high:.3g} {unit}, or the pocket's angle as -1deg"


def neck_test_of(typed: Typed, *, unit: LengthUnit) -> DeadWeight | None:
    """The test of this neck, None if the dial's movement is not given; `InputError` if a part is missing."""
    moved = optional(typed, MOVED, unit=unit)
    if moved is None:
        return None
    values = [optional(typed, one, unit=unit) for one in JIG]
    missing = [one.label for one, value in zip(JIG, values, strict=True) if value is None]
    if missing:
        raise InputError(
            f"Neck test: {', '.join(missing)}: not given; open `This bench` and give places and mass once."
        )
    first, last, load, dial, mass = (float(value or 0.0) for value in values)
    return DeadWeight(first, last, load, dial, mass, moved)


def measurements(
    values: Iterable[tuple[BenchField, str]], *, state: str, rh_percent: float | None, unit: LengthUnit
) -> tuple[NewMeasurement, ...]:
    """Entries for the log from typed values; empty ones are left out. Raises `InputError` if one is wrong."""
    return tuple(
        validated(
            NewMeasurement,
            {"kind": field.kind, "state": state, "unit": field.unit, "rh_percent": rh_percent}
            | {"value": number_of(field, text, unit=unit)},
        )
        for field, text in values
        if text
    )


def bolted(typed: Typed, *, rh_percent: float | None, unit: LengthUnit) -> tuple[NewMeasurement, ...]:
    """Readings of the bolted joint: kinks, or tongue gaps given as lengths. Raises `InputError` as above."""
    parts = separate(typed.text(BOLTED))
    if not parts:
        raise InputError(
            f"{BOLTED.label}: not given; read it and type it as -0.07, or the tongue gap as -0.10mm; or skip "
            "the dry check."
        )
    values = [(BOLTED_GAP if LENGTH_UNIT.search(part) else BOLTED, part) for part in parts]
    return measurements(values, state="bolted", rh_percent=rh_percent, unit=unit)


def at_pitch(typed: Typed, *, rh_percent: float | None, unit: LengthUnit) -> tuple[NewMeasurement, ...]:
    """Measurements at pitch. Raises `InputError` if an action is missing or a value is wrong."""
    more = MORE_AT_PITCH if typed.uses("use_more") else ()
    values = [(one, typed.text(one)) for one in (*AT_PITCH, *more)]
    missing = [one.label for one, text in values if one.key in NEEDED and not text]
    if missing:
        raise InputError(f"{', '.join(missing)}: not given; measure over fret 12 at pitch and type it.")
    return measurements(values, state="strung", rh_percent=rh_percent, unit=unit)

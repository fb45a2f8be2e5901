"""What may be written into the logbook: checked at the door, in words a person at the bench can use."""

import json
import unicodedata
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from difflib import get_close_matches
from types import MappingProxyType
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    JsonValue,
    ValidationError,
    model_validator,
)

from cases.bench.logbook.schema import SERIAL_LENGTH, TEXT_LENGTH
from cases.bench.logbook.store import LogbookError
from cases.bench.logbook.value_ranges import KINDS, STATES_OF, wrong_humidity, wrong_time

EARLIEST = 1900
"""No guitar of the log was fitted before this year."""


def clean_serial(given: object) -> str:
    """Return a serial as it is kept: any printable text up to 64 characters, leading zeros and all.

    Spaces at the two ends (a scanner adds them) are dropped; letters with accents take one form (Unicode
    NFC), so that what looks alike is alike.

    Raises
    ------
    ValueError
        Not text, empty, too long, or with a character that cannot be seen.

    Examples
    --------
    >>> clean_serial(" 00042 ")
    '00042'
    """
    if not isinstance(given, str):
        raise ValueError("the serial is text: put it in quotes, so that leading zeros are kept")
    serial = unicodedata.normalize("NFC", given.strip())
    if not serial:
        raise ValueError("the serial is empty: type or scan it")
    for character in serial:
        if not character.isprintable():
            name = unicodedata.name(character, f"U+{ord(character):04X}")
            raise ValueError(f"the serial holds a character that cannot be printed ({name}): leave it out")
    if len(serial) > SERIAL_LENGTH:
        raise ValueError(f"the serial is {len(serial)} characters long: {SERIAL_LENGTH} are allowed")
    return serial


def _line(given: object) -> object:
    """One line of free text; empty means not given."""
    if not isinstance(given, str):
        return given
    line = unicodedata.normalize("NFC", given.strip())
    for character in line:
        if not character.isprintable():
            name = unicodedata.name(character, f"U+{ord(character):04X}")
            raise ValueError(f"one line of printable text is allowed, without {name}")
    return line or None


def _not_null_character(given: str) -> str:
    if "\0" in given:
        raise ValueError("text without the NUL character is allowed")
    return given


def _in_utc(given: datetime) -> datetime:
    if given.tzinfo is None:
        raise ValueError("the time zone is missing: write for example 2025-05-04T08:30:00Z")
    # a day's grace: clocks of two benches differ, and so do their days
    if given.year < EARLIEST or given > datetime.now(UTC) + timedelta(days=1):
        raise ValueError(f"a moment from {EARLIEST} until now is allowed: check the year")
    return given.astimezone(UTC)


def _until_today(given: date | None) -> date | None:
    if given is not None and not date(EARLIEST, 1, 1) <= given <= datetime.now(UTC).date() + timedelta(
        days=1
    ):
        raise ValueError(f"a day from {EARLIEST} until today is allowed: check the year")
    return given


def _humidity(given: float) -> float:
    if (wrong := wrong_humidity(given)) is not None:
        raise ValueError(wrong)
    return given


def _minutes(given: float) -> float:
    if (wrong := wrong_time(given, unit="minutes")) is not None:
        raise ValueError(wrong)
    return given


def _json_able(given: dict[str, JsonValue]) -> dict[str, JsonValue]:
    try:
        json.dumps(given, allow_nan=False)
    except ValueError:
        raise ValueError("predicted values must be finite numbers; leave out what is not known") from None
    return given


Serial = Annotated[str, BeforeValidator(clean_serial)]
Line = Annotated[
    Annotated[str, Field(max_length=TEXT_LENGTH)] | None, BeforeValidator(_line), Field(default=None)
]
RequiredLine = Annotated[str, BeforeValidator(_line), Field(max_length=TEXT_LENGTH)]
Moment = Annotated[datetime, AfterValidator(_in_utc)]
Angle = Annotated[float, Field(ge=-5.0, le=5.0, allow_inf_nan=False)]


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=False)


class MeasurementEntry(_Entry):
    """One value measured on a guitar, with the state it was in."""

    kind: str
    state: Literal["bare", "bolted", "slack", "strung"]
    value: Annotated[float, Field(allow_inf_nan=False)]
    unit: str
    minutes_since_pitch: Annotated[float, AfterValidator(_minutes)] | None = None
    uncertainty: Annotated[float | None, Field(ge=0.0, allow_inf_nan=False)] = None
    rh_percent: Annotated[float, AfterValidator(_humidity)] | None = None
    temp_c: Annotated[float | None, Field(ge=-40.0, le=60.0, allow_inf_nan=False)] = None

    @model_validator(mode="after")
    def _known(self) -> Self:
        if self.kind not in KINDS:
            near = get_close_matches(self.kind, KINDS, n=1)
            hint = f"did you mean {near[0]!r}? " if near else ""
            raise ValueError(f"kind {self.kind!r} is not known: {hint}allowed are {', '.join(KINDS)}")
        units = KINDS[self.kind]
        if self.unit not in units:
            allowed = " or ".join(units)
            raise ValueError(f"unit {self.unit!r} of {self.kind} is not known: allowed is {allowed}")
        low, high = units[self.unit]
        if not low <= self.value <= high:
            raise ValueError(
                f"{self.kind} of {self.value:g} {self.unit} is outside {low:g} to {high:g} {self.unit}: "
                "check the decimal point and the unit"
            )
        states = STATES_OF.get(self.kind, (self.state,))
        if self.state not in states:
            raise ValueError(
                f"state {self.state!r}: {self.kind} is measured {states[0]} only: "
                f"give the state {states[0]}, or another kind"
            )
        return self


class FitEntry(_Entry):
    """One fitting of a neck: the pair that went in, what was predicted for it, what was measured."""

    serial: Serial
    model: Line
    wood_batch: Line
    built_on: Annotated[date | None, AfterValidator(_until_today)] = None
    attempt: Annotated[int | None, Field(ge=1, le=1000)] = None
    """None means the next one of that guitar."""
    reason: Literal["new", "swap", "return"] = "new"
    case_sha256: Annotated[str | None, Field(pattern=r"^[0-9a-f]{64}$")] = None
    case_text: Annotated[str, AfterValidator(_not_null_character)] | None = None
    strings: Line
    upper_deg: Angle
    lower_deg: Angle
    predicted: Annotated[dict[str, JsonValue], AfterValidator(_json_able)] = Field(default_factory=dict)
    model_version: Line
    calibration_id: Line
    bench: Line
    who: Line
    started_utc: Moment
    measurements: tuple[MeasurementEntry, ...] = ()


Entry = TypeVar("Entry", bound=BaseModel)

_SAID: Mapping[str, str] = MappingProxyType(
    {
        "missing": "it is missing: give it",
        "extra_forbidden": "it is not a column of the logbook: take it out or correct its name",
        "float_parsing": "a number with a decimal point is wanted, for example -0.05",
        "float_type": "a number with a decimal point is wanted, for example -0.05",
        "int_parsing": "a whole number is wanted: give 1, 2, 3 ...",
        "int_type": "a whole number is wanted: give 1, 2, 3 ...",
        "finite_number": "a finite number is wanted: leave it out if it is not known",
        "string_type": "text is wanted: put it in quotes",
        "string_pattern_mismatch": "64 digits 0-9 and a-f are wanted: copy the case's sha256 whole",
        "string_too_long": "up to {max_length} characters are allowed: shorten it",
        "greater_than_equal": "{ge:g} or more is allowed: check the decimal point and the sign",
        "less_than_equal": "{le:g} or less is allowed: check the decimal point and the sign",
        "literal_error": "allowed is {expected}: choose one",
        "datetime_from_date_parsing": "a time is wanted: write for example 2025-05-04T08:30:00Z",
        "datetime_parsing": "a time is wanted: write for example 2025-05-04T08:30:00Z",
        "date_from_datetime_parsing": "a date is wanted: write for example 2025-05-04",
        "date_parsing": "a date is wanted: write for example 2025-05-04",
        "dict_type": 'values by name are wanted: write for example {"action_bass_mm": 2.4}',
        "bool_parsing": "yes or no is wanted: give one of them",
    }
)


def problems_of(error: ValidationError) -> tuple[str, ...]:
    """Turn what the check at the door found into sentences: where, what was given, what is allowed."""
    sentences = []
    for found in error.errors():
        where = ".".join(str(part) for part in found["loc"])
        context = found.get("ctx", {})
        if found["type"] == "value_error":
            said = str(context["error"])
        elif found["type"] in _SAID:
            said = _SAID[found["type"]].format(**context)
        else:
            said = f"{found['msg'][0].lower()}{found['msg'][1:]}: correct it"
        given = found["input"]
        given = given.isoformat() if isinstance(given, date) else given
        if isinstance(given, str | int | float) and len(repr(given)) < 90:
            where = f"{where} {given!r}"
        sentences.append(f"{where}: {said}".removeprefix(": "))
    return tuple(sentences)


def checked(model: type[Entry], values: Mapping[str, Any]) -> Entry:
    """Build an entry from plain values.

    Raises
    ------
    LogbookError
        Some values are not allowed; the message has a sentence for each.
    """
    try:
        return model.model_validate(dict(values))
    except ValidationError as error:
        raise LogbookError("; ".join(problems_of(error)) + ".") from None

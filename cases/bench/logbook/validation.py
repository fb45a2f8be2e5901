"""Validation of everything written into the logbook, with error messages for a person at the bench."""

import json
import unicodedata
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from difflib import get_close_matches
from functools import partial
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
from cases.bench.logbook.value_ranges import KINDS, STATES_OF, humidity_error, time_error

EARLIEST = 1900
"""First year that a date in the log may have."""


def clean_serial(given: object) -> str:
    """Return a serial as the log stores it: up to 64 printable characters, leading zeros kept.

    Spaces at both ends (scanners add them) are dropped; accented letters are normalised (Unicode NFC). Raises
    `ValueError` if it is not text, empty, too long, or has an unprintable character.

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
    if (name := _unprintable(serial)) is not None:
        raise ValueError(f"the serial holds a character that cannot be printed ({name}): leave it out")
    if len(serial) > SERIAL_LENGTH:
        raise ValueError(f"the serial is {len(serial)} characters long: {SERIAL_LENGTH} are allowed")
    return serial


def _unprintable(text: str) -> str | None:
    """Name of the first character that cannot be printed."""
    wrong = next((character for character in text if not character.isprintable()), None)
    return None if wrong is None else unicodedata.name(wrong, f"U+{ord(wrong):04X}")


def _line(given: object) -> object:
    """One line of free text; empty means not given."""
    if not isinstance(given, str):
        return given
    line = unicodedata.normalize("NFC", given.strip())
    if (name := _unprintable(line)) is not None:
        raise ValueError(f"one line of printable text is allowed, without {name}")
    return line or None


def _without_nul(given: str) -> str:
    if "\0" in given:
        raise ValueError("text without the NUL character is allowed")
    return given


def _in_utc(given: datetime) -> datetime:
    if given.tzinfo is None:
        raise ValueError("the time zone is missing: write for example 2025-05-04T08:30:00Z")
    # one day of tolerance: clocks and time zones of two benches differ
    if given.year < EARLIEST or given > datetime.now(UTC) + timedelta(days=1):
        raise ValueError(f"a moment from {EARLIEST} until now is allowed: check the year")
    return given.astimezone(UTC)


def _until_today(given: date | None) -> date | None:
    latest = datetime.now(UTC).date() + timedelta(days=1)
    if given is not None and not date(EARLIEST, 1, 1) <= given <= latest:
        raise ValueError(f"a day from {EARLIEST} until today is allowed: check the year")
    return given


def _valid(find_error: Callable[[float], str | None]) -> AfterValidator:
    def check(given: float) -> float:
        if (error := find_error(given)) is not None:
            raise ValueError(error)
        return given

    return AfterValidator(check)


EARLIER_NAMES: Mapping[str, str] = MappingProxyType({"bolted_kink_deg": "kink_bolted_deg"})
"""Predicted values under a name that the page once wrote -> the name that everything writes."""


def named_alike(predicted: Mapping[str, JsonValue]) -> dict[str, JsonValue]:
    """Predicted values, those of `EARLIER_NAMES` under their present name."""
    return {EARLIER_NAMES.get(name, name): value for name, value in predicted.items()}


def _finite_json(given: dict[str, JsonValue]) -> dict[str, JsonValue]:
    try:
        json.dumps(given, allow_nan=False)
    except ValueError:
        raise ValueError("predicted values must be finite numbers; leave out what is not known") from None
    return named_alike(given)


Serial = Annotated[str, BeforeValidator(clean_serial)]
Line = Annotated[
    Annotated[str, Field(max_length=TEXT_LENGTH)] | None, BeforeValidator(_line), Field(default=None)
]
RequiredLine = Annotated[str, BeforeValidator(_line), Field(max_length=TEXT_LENGTH)]
Moment = Annotated[datetime, AfterValidator(_in_utc)]
Angle = Annotated[float, Field(ge=-5.0, le=5.0, allow_inf_nan=False)]


class _NewRow(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class NewMeasurement(_NewRow):
    """One value measured on a guitar, and the state of the guitar."""

    kind: str
    state: Literal["bare", "bolted", "slack", "strung"]
    value: Annotated[float, Field(allow_inf_nan=False)]
    unit: str
    minutes_since_pitch: Annotated[float, _valid(partial(time_error, unit="minutes"))] | None = None
    uncertainty: Annotated[float | None, Field(ge=0.0, allow_inf_nan=False)] = None
    rh_percent: Annotated[float, _valid(humidity_error)] | None = None
    temp_c: Annotated[float | None, Field(ge=-40.0, le=60.0, allow_inf_nan=False)] = None

    @model_validator(mode="after")
    def _possible(self) -> Self:
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
                f"state {self.state!r}: {self.kind} is measured {' or '.join(states)} only: "
                f"give the state {states[0]}, or another kind"
            )
        return self


class FitColumns(_NewRow):
    """Columns of a fit and its guitar, in the order of a CSV file; shim angles in degrees.

    ``predicted`` : as calculated at the time of the fit.
    """

    serial: Serial
    attempt: Annotated[int | None, Field(ge=1, le=1000)] = None
    """None means the guitar's next attempt."""
    started_utc: Moment
    reason: Literal["new", "swap", "return"] = "new"
    upper_deg: Angle
    lower_deg: Angle
    model: Line
    wood_batch: Line
    built_on: Annotated[date | None, AfterValidator(_until_today)] = None
    strings: Line
    bench: Line
    who: Line
    model_version: Line
    calibration_id: Line
    case_sha256: Annotated[str | None, Field(pattern=r"^[0-9a-f]{64}$")] = None
    predicted: Annotated[dict[str, JsonValue], AfterValidator(_finite_json)] = Field(default_factory=dict)


class NewFit(FitColumns):
    """One fitting of a neck: the pair of shims, the prediction, the measurements."""

    case_text: Annotated[str, AfterValidator(_without_nul)] | None = None
    measurements: tuple[NewMeasurement, ...] = ()


class AmendmentNote(BaseModel):
    """Who corrected a row, when and why."""

    reason: RequiredLine
    who: Line
    at: Moment


Model = TypeVar("Model", bound=BaseModel)

_MESSAGES: Mapping[str, str] = MappingProxyType(
    {
        "missing": "it is missing: give it",
        "extra_forbidden": "it is not a column of the logbook: take it out or correct its name",
        "float": "give a number with a decimal point, for example -0.05",
        "int": "give a whole number: 1, 2, 3 ...",
        "finite_number": "give a finite number, or leave it out if it is not known",
        "string": "give text: put it in quotes",
        "string_pattern_mismatch": "64 digits 0-9 and a-f are allowed: copy the case's whole sha256",
        "string_too_long": "up to {max_length} characters are allowed: shorten it",
        "greater_than_equal": "{ge:g} or more is allowed: check the decimal point and the sign",
        "less_than_equal": "{le:g} or less is allowed: check the decimal point and the sign",
        "literal_error": "allowed is {expected}: choose one",
        "datetime": "give a time, for example 2025-05-04T08:30:00Z",
        "date": "give a date, for example 2025-05-04",
        "dict": 'give values by name, for example {"action_bass_mm": 2.4}',
        "bool": "give yes or no",
    }
)
"""By type of error; all errors `float_parsing`, `float_type` ... share the message of `float`."""


def error_sentences(error: ValidationError) -> tuple[str, ...]:
    """Return one sentence per error: the field, the value given, what is allowed."""
    sentences = []
    for found in error.errors():
        where = ".".join(str(part) for part in found["loc"])
        context, kind = found.get("ctx", {}), found["type"]
        if kind.endswith(("_parsing", "_type")):
            kind = kind.split("_")[0]
        if kind == "value_error":
            sentence = str(context["error"])
        elif kind in _MESSAGES:
            sentence = _MESSAGES[kind].format(**context)
        else:
            sentence = f"{found['msg'][0].lower()}{found['msg'][1:]}: correct it"
        given = found["input"]
        given = given.isoformat() if isinstance(given, date) else given
        if isinstance(given, str | int | float) and len(repr(given)) < 90:
            where = f"{where} {given!r}"
        sentences.append(f"{where}: {sentence}".removeprefix(": "))
    return tuple(sentences)


def validated(model: type[Model], values: Mapping[str, Any]) -> Model:
    """Return a new row made from plain values.

    Raises `LogbookError` with a sentence for each value that is not allowed.
    """
    try:
        return model.model_validate(dict(values))
    except ValidationError as error:
        raise LogbookError("; ".join(error_sentences(error)) + ".") from None

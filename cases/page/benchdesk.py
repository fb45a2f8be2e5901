"""The bench of one tab: pair for a reading, log, measurements, swap, corrections; nothing here draws."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from typing import Any

from cases.bench.logbook import logbook as log
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.validation import NewFit, NewMeasurement, clean_serial, validated
from cases.bench.shims.case_of_guitar import check_case, fit_with_case, fit_with_pocket, squares_of
from cases.bench.shims.choose_pair import PairChoice, PairForecast
from cases.bench.shims.swap import StrungMeasurements, Swap
from cases.casefile.case import Case
from cases.casefile.quantity import parse_length
from cases.casefile.stringing import strings_of
from cases.offset.calibration import Calibration
from cases.page.jobs import FirstPair, first_pair, warm_bench, whole_aim, whole_swap
from cases.page.room import Room
from cases.page.work import Workroom
from materials.errors import InputError

MOST_READINGS = 12
NO_CASE = "case: none is chosen; choose the instrument first."
MEASURED = {
    "action_bass": "Action bass",
    "action_treble": "Action treble",
    "relief": "Relief",
    "tongue_gap": "Tongue gap",
    "saddle": "Saddle above the bridge",
}
"""Measurements at pitch [mm]; a swap needs the first two."""
LOGGED = ("action_bass", "action_treble", "relief", "tongue_gap")
"""Measurements that the logbook stores."""
PREDICTED = ("action_bass_mm", "action_treble_mm", "kink_deg", "tongue_gap_mm", "bolted_kink_deg")


def length_mm(text: str, *, name: str, unit: str = "mm") -> float:
    """A typed length [mm]; a bare number is in ``unit``.

    >>> length_mm("1.8", name="reading"), length_mm("0.07", name="reading", unit="in")
    (1.8, 1.778)
    """
    bare = re.fullmatch(r"\s*[-+]?(\d+\.?\d*|\.\d+)\s*", text)
    return round(parse_length(f"{text.strip()}{unit}" if bare else text, name=name), 6)


def parse_readings(text: str, *, unit: str = "mm") -> tuple[float, ...]:
    """Readings of one pocket [mm], separated by spaces or semicolons. Raises `InputError` if one is wrong.

    >>> parse_readings("1.8mm; 1.9 0.07in")
    (1.8, 1.9, 1.778)
    """
    parts = [part for part in re.split(r"\s*[;\s]\s*(?=[-+.\d])", text.strip()) if part]
    if not parts or len(parts) > MOST_READINGS:
        raise InputError(
            f"reading: {len(parts)} readings; allowed: 1 to {MOST_READINGS} lengths such as 1.8 or 0.07in; "
            "read the pocket and type the reading."
        )
    return tuple(length_mm(part, name="reading", unit=unit) for part in parts)


def parse_measured(
    typed: dict[str, str], *, reading_mm: float | None, unit: str = "mm"
) -> StrungMeasurements:
    """Typed measurements at pitch [mm]. Raises `InputError` if one is wrong or an action is missing."""
    found: dict[str, Any] = {}
    for key, label in MEASURED.items():
        text = typed.get(key, "").strip()
        if text:
            found[key] = length_mm(text, name=label, unit=unit)
    missing = [MEASURED[key] for key in ("action_bass", "action_treble") if key not in found]
    if missing:
        raise InputError(
            f"{', '.join(missing)}: not given; allowed: a length in mm; measure over fret 12 at pitch."
        )
    return StrungMeasurements(**found, reading=reading_mm)


@dataclass
class BenchDesk:
    """State of one tab's bench."""

    room: Room
    benches: Workroom
    case: Case | None = None
    serial: str = ""
    readings: tuple[float, ...] = ()
    first: FirstPair | None = None
    aim: PairChoice | None = None

    @property
    def _learned(self) -> Calibration | None:
        return self.room.settings.calibration

    @property
    def unit(self) -> str:
        """Unit of a bare number: the workshop's."""
        return "in" if self.room.settings.workshop.units == "inch" else "mm"

    @property
    def offered(self) -> Sequence[PairForecast]:
        """Pairs that may be logged, best first."""
        if self.aim is not None:
            return (self.aim.pair, *self.aim.beside)
        return (self.first.pair,) if self.first is not None else ()

    async def choose(self, name: str) -> None:
        """Solve a case. Raises `InputError` if it is refused here, `WorkError` if it cannot be solved."""
        self.case = self.room.open_case(name)
        self.first = self.aim = None
        await self.benches.ask(("warm", self.case.sha256), warm_bench, self.case, self._learned)

    async def pair_for(self, serial: str, reading: str) -> FirstPair:
        """The pair for a reading. Raises `InputError`, `WorkError` with the wrong field."""
        if self.case is None:
            raise InputError(NO_CASE)
        try:
            self.serial = clean_serial(serial)
        except ValueError as error:
            raise InputError(f"serial: {error}.") from None
        self.readings = parse_readings(reading, unit=self.unit)
        self.first = self.aim = None
        key = ("first", f"{self.case.sha256} {self.readings}")
        self.first = await self.benches.ask(key, first_pair, self.case, self._learned, self.readings)
        return self.first

    async def whole(self) -> PairChoice:
        """Neighbours of that pair, chance that it is right, warnings."""
        assert self.case is not None
        key = ("aim", f"{self.case.sha256} {self.readings}")
        self.aim = await self.benches.ask(key, whole_aim, self.case, self._learned, self.readings)
        return self.aim

    def log(self, pair: PairForecast, *, reason: str = "new", instead_on: str | None = None) -> Fit:
        """Log a pair with its prediction, ``instead_on`` a guitar with its reading in the log already."""
        case = self.case
        serial, readings = (self.serial, self.readings) if instead_on is None else (instead_on, ())
        if case is None or not serial:
            raise InputError("There is no pair to log yet; scan the serial and read the pocket first.")
        values: dict[str, Any] = {
            "serial": serial,
            "model": case.name,
            "reason": reason,
            "case_sha256": case.sha256,
            "case_text": case.text,
            "strings": strings_of(case.strings).name,
            "upper_deg": pair.upper_deg,
            "lower_deg": pair.lower_deg,
            "predicted": {name: getattr(pair, name) for name in PREDICTED},
            "model_version": version("neckpreload"),
            "calibration_id": self._learned.id if self._learned else None,
            "started_utc": datetime.now(UTC),
            "measurements": [
                {"kind": "reading", "state": "bare", "value": one, "unit": "mm"} for one in readings
            ],
        }
        entry = validated(NewFit, values)
        return self.room.with_logbook(lambda logbook: log.add_fit(logbook, entry))

    def fits(self, serial: str) -> tuple[Fit, ...]:
        """Every fit of a guitar, latest last."""
        return self.room.with_logbook(lambda logbook: log.fits(logbook, serial=serial))

    def measured(self, serial: str, typed: dict[str, str]) -> Fit:
        """Add measurements at pitch to a guitar's last fit."""
        values = parse_measured(typed, reading_mm=None, unit=self.unit)
        entries = [
            validated(NewMeasurement, {"kind": kind, "state": "strung", "value": value, "unit": "mm"})
            for kind in LOGGED
            if (value := getattr(values, kind)) is not None
        ]
        return self.room.with_logbook(lambda logbook: log.add_measurements(logbook, serial, entries))

    async def swap_for(self, serial: str, typed: dict[str, str]) -> Swap:
        """The pair that corrects the measurements of a logged pair. Raises `InputError`, `WorkError`."""
        if self.case is None:
            raise InputError(NO_CASE)
        found = self.fits(serial)
        if not found:
            raise InputError(f"serial {serial!r}: it is not in the log; log the fitted pair first.")
        last = found[-1]
        named = fit_with_case(found)
        text = self.room.with_logbook(lambda logbook: log.case_text(logbook, named))
        told = check_case(named, text, self.case, workshop=self.room.settings.workshop)
        pocket = fit_with_pocket(found)
        bare = [one.value for one in pocket.measurements if (one.kind, one.unit) == ("reading", "mm")]
        reading = sum(bare) / len(bare) if bare else None
        measured = replace(
            parse_measured(typed, reading_mm=reading, unit=self.unit), squares=squares_of(pocket)
        )
        key = ("swap", f"{self.case.sha256} {last.id} {measured}")
        swap = await self.benches.ask(
            key, whole_swap, self.case, self._learned, (last.upper_deg, last.lower_deg), measured
        )
        return replace(swap, warnings=(told, *swap.warnings)) if told else swap

    def amend(
        self, fit: Fit, field: str, value: str, *, reason: str, measurement_id: int | None = None
    ) -> None:
        """Correct one value of a fit or of one of its measurements; the log keeps the old value."""
        self.room.with_logbook(
            lambda logbook: log.amend(
                logbook, fit.serial, field, value, reason=reason, at=datetime.now(UTC),
                attempt=fit.attempt, measurement_id=measurement_id,
            )
        )  # fmt: skip


def fields_to_amend(fit: Fit) -> dict[str, tuple[str, int | None, str]]:
    """Values of a fit that can be corrected: label to (field, measurement id, current value)."""
    found: dict[str, tuple[str, int | None, str]] = {
        "upper shim [deg]": ("upper_deg", None, f"{fit.upper_deg:.2f}"),
        "lower shim [deg]": ("lower_deg", None, f"{fit.lower_deg:.2f}"),
        "serial": ("serial", None, fit.serial),
        "reason": ("reason", None, fit.reason),
        "wood batch": ("wood_batch", None, fit.wood_batch or ""),
        "the whole fit, struck out": ("struck_out", None, "no"),
    }
    for one in fit.measurements:
        name = f"{one.kind.replace('_', ' ')} ({one.state}) no. {one.id}"
        found[f"{name} [{one.unit}]"] = ("value", one.id, f"{one.value:g}")
        found[f"{name}, struck out"] = ("struck_out", one.id, "no")
    return found

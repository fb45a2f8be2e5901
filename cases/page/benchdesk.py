"""The bench of one tab: reading in, pair out, logged, measured, swapped, corrected; nothing here draws."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from typing import TYPE_CHECKING

from cases.bench.logbook.validation import NewFit, NewMeasurement, clean_serial, validated
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

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit

MOST_READINGS = 12
MEASURED = {
    "action_bass": "Action bass",
    "action_treble": "Action treble",
    "relief": "Relief",
    "tongue_gap": "Tongue gap",
    "saddle": "Saddle over the bridge",
}
"""What is measured at pitch [mm]; the first two are needed for a swap."""
LOGGED = ("action_bass", "action_treble", "relief", "tongue_gap")
"""Those that the logbook has a kind for."""


def length_mm(text: str, *, name: str, unit: str = "mm") -> float:
    """A length as typed under a label that names the unit: a bare number is in it, another unit may be told.

    >>> length_mm("1.8", name="reading"), length_mm("0.07", name="reading", unit="in")
    (1.8, 1.778)
    """
    bare = re.fullmatch(r"\s*[-+]?(\d+\.?\d*|\.\d+)\s*", text)
    return round(parse_length(f"{text.strip()}{unit}" if bare else text, name=name), 6)


def parse_readings(text: str, *, unit: str = "mm") -> tuple[float, ...]:
    """Readings of one pocket [mm], one or several with spaces or semicolons between them.

    Raises
    ------
    InputError
        If one is no length, or there are none.

    Examples
    --------
    >>> parse_readings("1.8mm; 1.9 0.07in")
    (1.8, 1.9, 1.778)
    """
    parts = [part for part in re.split(r"\s*[;\s]\s*(?=[-+.\d])", text.strip()) if part]
    if not parts or len(parts) > MOST_READINGS:
        raise InputError(
            f"reading: {len(parts)} readings; allowed: 1 to {MOST_READINGS} lengths such as 1.8 or 0.07in; "
            "read the pocket and type it."
        )
    return tuple(length_mm(part, name="reading", unit=unit) for part in parts)


def parse_measured(
    typed: dict[str, str], *, reading_mm: float | None, unit: str = "mm"
) -> StrungMeasurements:
    """What was typed after string-up; both actions are needed [mm].

    Raises
    ------
    InputError
        With the field.
    """
    found: dict[str, float] = {}
    for key, label in MEASURED.items():
        text = typed.get(key, "").strip()
        if text:
            found[key] = length_mm(text, name=label, unit=unit)
    missing = [MEASURED[key] for key in ("action_bass", "action_treble") if key not in found]
    if missing:
        raise InputError(
            f"{', '.join(missing)}: not given; allowed: a length in mm; measure over fret 12 at pitch."
        )
    return StrungMeasurements(
        found["action_bass"],
        found["action_treble"],
        relief=found.get("relief"),
        tongue_gap=found.get("tongue_gap"),
        saddle=found.get("saddle"),
        reading=reading_mm,
    )


@dataclass
class BenchDesk:
    """What one tab's bench holds between two clicks."""

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
        """Unit of the house, in which a bare number is read."""
        return "in" if self.room.settings.workshop.units == "inch" else "mm"

    async def choose(self, name: str) -> None:
        """Take a case and have it solved for the bench.

        Raises
        ------
        InputError, WorkError
            If it may not be used here, or cannot be solved.
        """
        self.case = self.room.open_case(name)
        self.first = self.aim = None
        await self.benches.ask(("warm", self.case.sha256), warm_bench, self.case, self._learned)

    async def pair_for(self, serial: str, reading: str) -> FirstPair:
        """The pair for a reading, as soon as it is known.

        Raises
        ------
        InputError, WorkError
            With the field that is wrong.
        """
        if self.case is None:
            raise InputError("case: none is chosen; choose the instrument first.")
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
        """The neighbours of that pair, its chance, every warning."""
        assert self.case is not None
        key = ("aim", f"{self.case.sha256} {self.readings}")
        self.aim = await self.benches.ask(key, whole_aim, self.case, self._learned, self.readings)
        return self.aim

    def log(self, pair: PairForecast, *, reason: str = "new") -> "Fit":
        """Write down which pair went in, with what was predicted for it.

        Raises
        ------
        InputError
            In a class, or if the logbook refuses.
        """
        from cases.bench.logbook.logbook import add_fit

        entry = self._entry(pair, reason=reason, serial=self.serial, readings=self.readings)
        return self.room.with_logbook(lambda logbook: add_fit(logbook, entry))

    def log_swap(self, serial: str, pair: PairForecast) -> "Fit":
        """Write down which pair took the place of another; the reading stays with the first fit."""
        from cases.bench.logbook.logbook import add_fit

        entry = self._entry(pair, reason="swap", serial=serial, readings=())
        return self.room.with_logbook(lambda logbook: add_fit(logbook, entry))

    def _entry(self, pair: PairForecast, *, reason: str, serial: str, readings: tuple[float, ...]) -> NewFit:
        case = self.case
        if case is None or not serial:
            raise InputError("There is no pair to log yet; scan the serial and read the pocket first.")
        bare = [{"kind": "reading", "state": "bare", "value": one, "unit": "mm"} for one in readings]
        values = {
            "serial": serial,
            "model": case.name,
            "reason": reason,
            "case_sha256": case.sha256,
            "case_text": case.text,
            "strings": strings_of(case.strings).name,
            "upper_deg": pair.upper_deg,
            "lower_deg": pair.lower_deg,
            "predicted": {
                "action_bass_mm": pair.action_bass_mm,
                "action_treble_mm": pair.action_treble_mm,
                "kink_deg": pair.kink_deg,
                "tongue_gap_mm": pair.tongue_gap_mm,
                "bolted_kink_deg": pair.bolted_kink_deg,
            },
            "model_version": version("neckpreload"),
            "calibration_id": self._learned.id if self._learned else None,
            "started_utc": datetime.now(UTC),
            "measurements": bare,
        }
        return validated(NewFit, values)

    def fits(self, serial: str) -> "tuple[Fit, ...]":
        """Every fit of a guitar, latest last."""
        from cases.bench.logbook.logbook import fits

        return self.room.with_logbook(lambda logbook: fits(logbook, serial=serial))

    def measured(self, serial: str, typed: dict[str, str]) -> "Fit":
        """Add what was measured at pitch to a guitar's last fit."""
        from cases.bench.logbook.logbook import add_measurements

        values = parse_measured(typed, reading_mm=None, unit=self.unit)
        entries = [
            validated(NewMeasurement, {"kind": kind, "state": "strung", "value": value, "unit": "mm"})
            for kind in LOGGED
            if (value := getattr(values, kind)) is not None
        ]
        return self.room.with_logbook(lambda logbook: add_measurements(logbook, serial, entries))

    async def swap_for(self, serial: str, typed: dict[str, str]) -> Swap:
        """Which pair mends what was measured, starting from the pair that the log says is in.

        Raises
        ------
        InputError, WorkError
            If a value is wrong, the guitar is not in the log, or no case is chosen.
        """
        from cases.bench.learning.calibrate import squares_of
        from cases.bench.logbook.logbook import case_text
        from cases.bench.shims.case_of_guitar import check_case, fit_with_case, fit_with_pocket

        if self.case is None:
            raise InputError("case: none is chosen; choose the instrument first.")
        found = self.fits(serial)
        if not found:
            raise InputError(f"serial {serial!r}: it is not in the log; log the pair that went in first.")
        last = found[-1]
        named = fit_with_case(found)
        text = self.room.with_logbook(lambda logbook: case_text(logbook, named))
        told = check_case(named, text, self.case, workshop=self.room.settings.workshop)
        pocket = fit_with_pocket(found)
        bare = [one.value for one in pocket.measurements if (one.kind, one.unit) == ("reading", "mm")]
        reading = sum(bare) / len(bare) if bare else None
        typed_in = parse_measured(typed, reading_mm=reading, unit=self.unit)
        measured = replace(typed_in, squares=squares_of(pocket))
        key = ("swap", f"{self.case.sha256} {last.id} {measured}")
        swap = await self.benches.ask(
            key, whole_swap, self.case, self._learned, (last.upper_deg, last.lower_deg), measured
        )
        return replace(swap, warnings=(told, *swap.warnings)) if told else swap

    def amend(
        self, fit: "Fit", field: str, value: str, *, reason: str, measurement_id: int | None = None
    ) -> None:
        """Correct one value of a fit, or of a measurement of it; what was written stays in the log."""
        from cases.bench.logbook.logbook import amend

        self.room.with_logbook(
            lambda logbook: amend(
                logbook, fit.serial, field, value, reason=reason, at=datetime.now(UTC),
                attempt=fit.attempt, measurement_id=measurement_id,
            )
        )  # fmt: skip


def fields_to_amend(fit: "Fit") -> dict[str, tuple[str, int | None, str]]:
    """What can be corrected in a fit: label to (field, measurement, value that stands)."""
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


def chosen_of(aim: PairChoice | None, first: FirstPair | None) -> Sequence[PairForecast]:
    """The pairs that may be logged, the best first."""
    if aim is not None:
        return (aim.pair, *aim.beside)
    return (first.pair,) if first is not None else ()

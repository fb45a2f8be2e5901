"""The bench of one tab: the guitar, its pair, the log, the next step of the work; nothing here draws."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, Literal

from cases.bench.logbook import logbook as log
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.validation import NewFit, NewMeasurement, clean_serial, validated
from cases.bench.shims.case_of_guitar import check_case, fit_with_case, latest
from cases.bench.shims.choose_pair import PairChoice, PairForecast, prediction
from cases.bench.shims.dry_check import DryPair
from cases.bench.shims.dry_log import advice, last_advice, strung_before, with_measured
from cases.bench.shims.fit_entry import fit_entry, next_entry
from cases.bench.shims.geometry import geometry_of
from cases.bench.shims.swap import Swap
from cases.casefile.case import Case
from cases.offset.calibration import Calibration, together
from cases.page.bench_typed import (
    HUMIDITY,
    PLACES,
    LengthUnit,
    Pocket,
    Typed,
    at_pitch,
    bolted,
    neck_test_of,
    optional,
    pocket_of,
)
from cases.page.jobs import (
    DryFound,
    FirstPair,
    dry_of,
    first_pair,
    over_the_year,
    swap_of,
    tested_neck,
    warm_bench,
    whole_choice,
)
from cases.page.room import Room
from cases.page.work import CancelledWork, WorkError, Workroom
from cases.studies.season import Season, check_range
from materials.errors import InputError

Step = Literal["scan", "read", "pair", "dry", "change", "string", "done"]
NOT_EXPLAINED = "dry check: not explained by the usual errors"
NO_CASE = "Instrument: none is chosen; choose the instrument first."


@dataclass
class BenchDesk:
    """State of one tab's bench.

    ``serial`` and ``fits`` are those of the guitar taken up, ``pocket`` is what the pair was calculated from,
    ``neck`` is the calibration of this guitar's tested neck; ``again`` is what is to be read once more,
    ``as_it_is`` whether the guitar is strung up without a dry check or against its advice.
    """

    room: Room
    benches: Workroom
    case: Case | None = None
    serial: str = ""
    fits: tuple[Fit, ...] = ()
    pocket: Pocket | None = None
    neck: Calibration | None = None
    first: FirstPair | None = None
    whole: PairChoice | None = None
    dry: DryFound | None = None
    again: Literal["", "pocket", "joint"] = ""
    as_it_is: bool = False
    _turn: int = 0

    @property
    def unit(self) -> LengthUnit:
        """Unit of a bare length: the workshop's."""
        return "in" if self.room.settings.workshop.units == "inch" else "mm"

    @property
    def calibration(self) -> Calibration | None:
        """The shop's calibration, with this guitar's tested neck."""
        return self._with_shop(self.neck)

    def _with_shop(self, neck: Calibration | None) -> Calibration | None:
        return together([one for one in (self.room.settings.calibration, neck) if one is not None])

    @property
    def last(self) -> Fit | None:
        """The guitar's last fit."""
        return self.fits[-1] if self.fits else None

    @property
    def offered(self) -> Sequence[PairForecast]:
        """Pairs that may be logged, best first."""
        if self.whole is not None:
            return (self.whole.pair, *self.whole.beside)
        return (self.first.pair,) if self.first is not None else ()

    @property
    def step(self) -> Step:
        """The next step of the work on this guitar."""
        if not self.serial:
            return "scan"
        if self.first is not None:
            return "pair"
        if self.last is None or self.again == "pocket":
            return "read"
        if None not in (latest(self.last, kind, "strung") for kind in ("action_bass", "action_treble")):
            return "done"
        if self.as_it_is or strung_before(self.fits):
            return "string"
        if not self.bolted or self.again == "joint":
            return "dry"
        advised = last_advice(self.last, "bolted")
        if advised is None:  # the joint is to be inspected first
            return "dry"
        return "string" if advised == (self.last.upper_deg, self.last.lower_deg) else "change"

    @property
    def bolted(self) -> bool:
        """Whether the joint of the last fit was read before the strings went on."""
        return self.last is not None and any(one.state == "bolted" for one in self.last.measurements)

    def clear_pair(self) -> None:
        """Forget the pair: it belongs to another reading; work still under way for it counts no more."""
        self._turn += 1
        self.first = self.whole = self.pocket = None

    def clear_guitar(self) -> None:
        """Forget the guitar and all that belongs to it."""
        self.clear_pair()
        self.serial, self.fits, self.neck = "", (), None
        self._begin_again()

    async def choose(self, name: str) -> None:
        """Solve a case. Raises `InputError` if it is refused here, `WorkError` if it cannot be solved."""
        self.clear_pair()
        self.case = self.room.open_case(name)
        shop = self.room.settings.calibration
        await self._ask("warm", warm_bench, self.case, shop)

    def scan(self, serial: str) -> None:
        """Take up a guitar with its fits. Raises `InputError` for a serial that is none."""
        self.clear_guitar()
        try:
            cleaned = clean_serial(serial)
        except ValueError as error:
            raise InputError(f"Serial: {error}.") from None
        self.fits = self.fits_of(cleaned)
        self.serial = cleaned

    def fits_of(self, serial: str) -> tuple[Fit, ...]:
        """Every fit of a guitar, latest last."""
        return self.room.with_logbook(lambda logbook: log.fits(logbook, serial=serial))

    async def pair_for(self, typed: Typed) -> FirstPair:
        """The pair for the pocket typed. Raises `InputError`, `WorkError` with the wrong field."""
        self.clear_pair()
        case = self._chosen()
        pocket = pocket_of(typed, geometry_of(case), unit=self.unit)
        await self._test_neck(typed)
        found: FirstPair = await self._ask("first", first_pair, case, self.calibration, pocket)
        self.first, self.pocket = found, pocket
        return found

    async def whole_pair(self) -> PairChoice:
        """Neighbours of that pair, chance that it is right, warnings."""
        if self.whole is None:
            workshop = self.room.settings.workshop
            given = (self._chosen(), self.calibration, self.pocket, workshop)
            self.whole = await self._ask("whole", whole_choice, *given)
        return self.whole

    async def _test_neck(self, typed: Typed) -> None:
        """Evaluate the neck's test; without one the neck is the case's."""
        test = neck_test_of(typed, unit=self.unit)
        if test is None:
            self.neck = None
            return
        when = datetime.fromisoformat(typed.tested) if typed.tested else datetime.now(UTC)
        found = await self._ask("neck", tested_neck, self._chosen(), test, self.serial, when)
        self._with_shop(found.calibration)  # refused here if the shop's sets the same parameter
        self.neck = found.calibration

    async def log_pair(self, pair: PairForecast, typed: Typed, *, reason: str) -> str | None:
        """Log a pair for this guitar with its prediction and chance; returns a warning or None."""
        pocket, case = self.pocket, self._chosen()
        if pocket is None:
            raise InputError("There is no pair to log yet; scan the serial and read the pocket first.")
        whole = await self.whole_pair()
        same = [one for one in (whole.pair, *whole.beside) if _angles(one) == _angles(pair)]
        around = {"serial": self.serial, "reason": reason, "model": case.name}
        around |= {one.key: typed.text(one) for one in PLACES if typed.text(one)}
        entry = fit_entry(
            case, _angles(pair), prediction(same[0] if same else pair),
            calibration_id=whole.calibration_id,
            heights=pocket.heights,
            squares=pocket.squares,
            rh_percent=pocket.conditions.rh_percent,
            around=around,
        )  # fmt: skip
        return self._log(entry)

    def log_next(self, pair: PairForecast | DryPair) -> str | None:
        """Log the pair advised, which replaces the last one. Returns a warning or None."""
        assert self.last is not None
        if isinstance(pair, DryPair):
            predicted = self.dry.predicted if self.dry is not None else {}
        else:
            predicted = prediction(pair)
        used = self.calibration.id if self.calibration else None
        return self._log(next_entry(self._chosen(), self.last, _angles(pair), predicted, calibration_id=used))

    def _log(self, entry: NewFit) -> str | None:
        def write(logbook: Any) -> str | None:
            return log.already_fitted_warning(logbook, log.add_fit(logbook, entry))

        warning: str | None = self.room.with_logbook(write)
        self.clear_pair()
        self._begin_again()
        self.read_log()
        return warning

    def _begin_again(self) -> None:
        """Forget what was decided about the last fit."""
        self.dry, self.again, self.as_it_is = None, "", False

    def read_log(self) -> None:
        """Read this guitar's fits again."""
        self.fits = self.fits_of(self.serial)

    def _log_measured(self, entries: Sequence[NewMeasurement]) -> None:
        """Add measurements to the guitar's last fit."""
        self.room.with_logbook(lambda logbook: log.add_measurements(logbook, self.serial, entries))
        self.read_log()

    async def check_dry(self, typed: Typed) -> None:
        """Check the joint by what was read of it, then log reading and advice.

        Raises `InputError`, `WorkError` if the reading is missing or wrong, or nothing can be expected.
        """
        entries = bolted(typed, rh_percent=self._humidity(typed), unit=self.unit)
        found = await self._dry(with_measured(self.fits, entries))
        self._log_measured(entries)
        self._take_dry(found)

    async def dry_again(self) -> None:
        """The dry check of the readings in the log."""
        self._take_dry(await self._dry(self.fits))

    def _take_dry(self, found: DryFound) -> None:
        """Show a dry check and log its advice; after a reading that the usual errors do not explain it has
        none.
        """
        self.dry, self.again = found, ""
        best = found.check.best
        if (
            not found.check.odd
            and self.last is not None
            and last_advice(self.last, "bolted") != _angles(best)
        ):
            self._log_advice(best, "bolted")

    def strike_bolted(self) -> None:
        """Strike out what was read of the bolted joint, so that it can be read again."""
        for one in self.last.measurements if self.last is not None else ():
            if one.state == "bolted":
                self.amend(self.fits[-1], "struck_out", "yes", reason=NOT_EXPLAINED, measurement_id=one.id)
        self.dry = None
        self.read_log()

    async def _dry(self, fits: tuple[Fit, ...]) -> DryFound:
        told = self._told()
        found = await self._ask("dry", dry_of, self._chosen(), self.calibration, fits)
        check = found.check
        return (
            found if told is None else replace(found, check=replace(check, warnings=(told, *check.warnings)))
        )

    def _told(self) -> str | None:
        """Warning about the case in the log; `InputError` if the guitar was fitted on another one."""
        named = fit_with_case(self.fits)
        text = self.room.with_logbook(lambda logbook: log.case_text(logbook, named))
        return check_case(named, text, self._chosen(), workshop=self.room.settings.workshop)

    def log_at_pitch(self, typed: Typed) -> None:
        """Log what was measured at pitch. Raises `InputError` if an action is missing or a value is wrong."""
        self._log_measured(at_pitch(typed, rh_percent=self._humidity(typed), unit=self.unit))

    async def judge(self) -> Swap:
        """What the measurements in the log say: keep the pair, or the pair that corrects it; logs the advice.

        Raises `InputError`, `WorkError` if they cannot be judged.
        """
        told, workshop = self._told(), self.room.settings.workshop
        found: Swap = await self._ask("swap", swap_of, self._chosen(), self.calibration, self.fits, workshop)
        if self.last is not None and last_advice(self.last, "strung") != _angles(found.new):
            self._log_advice(found.new, "strung")
        return replace(found, warnings=(told, *found.warnings)) if told else found

    def _log_advice(self, pair: PairForecast | DryPair, state: str) -> None:
        self._log_measured([validated(NewMeasurement, one) for one in advice(_angles(pair), state)])

    async def year(self, humidity: tuple[float, float]) -> Season:
        """The instrument's year between two relative humidities [%]. Raises `InputError`, `WorkError`."""
        case = self._chosen()
        check_range(case, "--rh", humidity)
        return await self.benches.ask(("year", f"{case.sha256} {humidity}"), over_the_year, case, humidity)

    def _humidity(self, typed: Typed) -> float | None:
        return optional(typed, HUMIDITY, unit=self.unit)

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

    def _chosen(self) -> Case:
        if self.case is None:
            raise InputError(NO_CASE)
        return self.case

    async def _ask(self, name: str, job: Any, case: Case, *given: Any) -> Any:
        """Run a job for the guitar and pocket of now; `CancelledWork` if they changed before it ended."""
        turn = self._turn
        try:
            found = await self.benches.ask((name, f"{case.sha256} {given!r}"), job, case, *given)
        except WorkError:
            if turn == self._turn:
                raise
        if turn != self._turn:
            raise CancelledWork
        return found


def _angles(pair: PairForecast | DryPair) -> tuple[float, float]:
    return pair.upper_deg, pair.lower_deg


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

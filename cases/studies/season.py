"""A year of weather: moisture from the air's humidity, or heat at constant moisture (docs/drift.md)."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import degrees

import numpy as np
from scipy.interpolate import PchipInterpolator

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.offset.build import MM, structure_of
from cases.offset.woods import Woods, woods_of
from cases.studies.aging import (
    SetUp,
    UntouchedReading,
    mean_action_mm,
    set_up,
    strained_questions,
    untouched,
)
from fem.errors import ConvergenceError
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.solve.equilibrium import Bolting
from fem.solve.offset import Question
from fem.time.free_strain import FreeStrain
from fem.time.long_term import Kept, left_alone
from materials.moisture import (
    LONGITUDINAL_SHRINKAGE,
    LONGITUDINAL_SHRINKAGE_BAND,
    equilibrium_moisture,
    swelling,
    temperature_factor_across,
    temperature_factor_along,
    temperature_factor_shear,
)
from materials.orientation import ring_angle
from materials.shim import shim_material
from materials.thermal import EXPANSION_ALONG, expansion_radial, expansion_tangential
from materials.wood import Wood, wood

STEPS = {"humidity": 5, "temperature": 3}
"""Number of weathers solved, lowest to highest."""
MONTHS = tuple(0.25 * quarter for quarter in range(49))
"""Times of a year, coldest or driest at 0 [months]."""
PARTS = ("neck", "board", "block")
STEEL_EXPANSION = 12e-6
ROOM_CELSIUS = 21.0
LOW, HIGH = LONGITUDINAL_SHRINKAGE_BAND
MOVEMENTS = {
    "alike": (LONGITUDINAL_SHRINKAGE, LONGITUDINAL_SHRINKAGE),
    "board moves more": (LOW, HIGH),
    "neck moves more": (HIGH, LOW),
}
"""Shrinkage along the grain, green to dry, of neck and board: no values for single species were found."""


@dataclass(frozen=True)
class WeatherStates:
    """States over one kind of weather, rod and saddle untouched, bolts kept tight; tuples run over ``value``.

    ``rod`` is the rod's tension or couple. ``bolt_low`` and ``bolt_high`` are the tension of the weakest and
    the strongest bolt over that at set-up if the bolts are left alone instead; 0 = loose.
    """

    name: str
    value: tuple[float, ...]
    relief_mm: tuple[float, ...]
    action_mm: tuple[float, ...]
    kink_deg: tuple[float, ...]
    rod: tuple[float, ...]
    bolt_low: tuple[float, ...]
    bolt_high: tuple[float, ...]

    def over_the_year(self, name: str) -> tuple[float, ...]:
        """One reading at `MONTHS`; the weather is a cosine that starts at its lowest."""
        low, high = self.value[0], self.value[-1]
        weather = 0.5 * (low + high) - 0.5 * (high - low) * np.cos(2.0 * np.pi * np.array(MONTHS) / 12.0)
        return tuple(float(v) for v in PchipInterpolator(self.value, getattr(self, name))(weather))


@dataclass(frozen=True)
class Season:
    """A year of weather: ``unit`` of its values, moisture at each (None for heat), and the states."""

    kind: str
    unit: str
    set_up_at: float
    moisture_percent: tuple[float, ...] | None
    courses: tuple[WeatherStates, ...]


RANGES = {
    "--rh": ("humidity", (20.0, 85.0), "20 to 85 %, low:high", "give 30:70"),
    "--temperature": ("temperature", (-10.0, 50.0), "-10 to 50 degrees Celsius, low:high", "give 15:30"),
}
"""Of each option: its quantity, limits, and what its message names as allowed and as remedy."""


def check_range(case: Case, option: str, given: tuple[float, float]) -> None:
    """Validate the range of an option of `RANGES` [%, degC]; `CaseError` if it is none or outside."""
    quantity, (lowest, highest), allowed, remedy = RANGES[option]
    low, high = given
    if not lowest <= low < high <= highest:
        wrong = f"this is no range of {quantity}"
        raise Problem(option, f"{low:g}:{high:g}", wrong, allowed, remedy).error(case.name)


def humid_year(case: Case, *, humidity: tuple[float, float]) -> Season:
    """A year between two relative humidities [%] in a room at 21 degC; set up in the middle.

    Every wood has the equilibrium moisture of the air: no lag, no finish, no closed inside of a body. Raises
    `CaseError` if the range is none, or outside the validity of the equations.
    """
    check_range(case, "--rh", humidity)
    middle = 0.5 * sum(humidity)
    values = np.linspace(*humidity, STEPS["humidity"])
    own = woods_of(case)

    def at(percent: float) -> tuple[Woods, float]:
        moisture = equilibrium_moisture(percent / 100.0, ROOM_CELSIUS)
        return own.changed(lambda one: one.at_moisture(moisture)), moisture

    woods, first = at(middle)
    start = set_up(case, woods=woods)
    thickness = _shim_swelling(case)
    weathers = [at(float(value)) for value in values]
    found: dict[str, list[_State]] = {name: [] for name in MOVEMENTS}
    for moist, moisture in weathers:
        moistures = (first, moisture)
        strains = {
            name: _swollen(case, moist, along=along, moistures=moistures) for name, along in MOVEMENTS.items()
        }
        swollen = swelling(thickness, from_moisture=first, to_moisture=moisture)
        kept = replace(start.kept, shim_swelling=swollen)
        for name, question in strained_questions(start, moist, strains).items():
            found[name].append(_state(start, question, kept))
    states = tuple(_weather_states(case, name, values, one) for name, one in found.items())
    return Season("humidity", "%", middle, tuple(moisture for _, moisture in weathers), states)


def warm_year(case: Case, *, temperature: tuple[float, float]) -> Season:
    """A year between two temperatures [degC] at constant moisture, set up in the middle."""
    check_range(case, "--temperature", temperature)
    middle = 0.5 * sum(temperature)
    values = np.linspace(*temperature, STEPS["temperature"])
    own = woods_of(case)

    def at(celsius: float) -> Woods:
        return own.changed(lambda one: _warmed(one, celsius))

    start, structure = set_up(case, woods=at(middle)), structure_of(case)
    found = []
    for value in values.tolist():
        heat = value - middle
        questions = strained_questions(start, at(value), {"heat": _expanded(case, own, heat)})
        found.append(_state(start, questions["heat"], _heated(start, structure, heat)))
    return Season("temperature", "degC", middle, None, (_weather_states(case, "heat", values, found),))


@dataclass(frozen=True)
class _State:
    """Reading with the bolts kept tight; and tension over that at set-up, bolts left alone, (bolts,)."""

    reading: UntouchedReading
    bolts_left: Array


def _state(start: SetUp, question: Question, kept: Kept) -> _State:
    set_tension = kept.pair.strung.bolts
    tight = Bolting(set_tension, np.zeros_like(set_tension))
    try:
        left = left_alone(question, kept).bolts / set_tension
    except ConvergenceError:
        # with its bolts loose the joint has no equilibrium under the strings
        left = np.zeros_like(set_tension)
    return _State(untouched(start, replace(question, bolting=tight), kept), np.maximum(left, 0.0))


def _weather_states(case: Case, name: str, values: Array, found: list[_State]) -> WeatherStates:
    action, read = mean_action_mm(case), [one.reading for one in found]
    return WeatherStates(
        name=name,
        value=tuple(float(value) for value in values),
        relief_mm=tuple(one.relief / MM for one in read),
        action_mm=tuple(one.action_change / MM + action for one in read),
        kink_deg=tuple(degrees(one.kink) for one in read),
        rod=tuple(one.rod for one in read),
        bolt_low=tuple(float(one.bolts_left.min()) for one in found),
        bolt_high=tuple(float(one.bolts_left.max()) for one in found),
    )


def _in_plane(case: Case, part: str, along: float, radial: float, tangential: float) -> tuple[float, float]:
    """Movement of a part along x and z, from those along its own axes; runout is neglected.

    Through the depth of neck and board it is tangential for standing rings, radial for lying ones.
    """
    if part == "block":
        return {
            "vertical": (tangential, along),
            "lengthwise": (along, tangential),
            "across": (radial, tangential),
        }[case.block.grain]
    table = case.neck if part == "neck" else case.fretboard
    angle = ring_angle(table.ring_orientation)
    return along, float(tangential * np.cos(angle) ** 2 + radial * np.sin(angle) ** 2)


def _free_strain(
    case: Case, woods: Woods, movement: Callable[[str, Wood], tuple[float, float, float]]
) -> FreeStrain:
    """Free strains of neck, board and block from the movement of each along, radially and tangentially."""
    return FreeStrain(
        **{name: _in_plane(case, name, *movement(name, getattr(woods, name))) for name in PARTS}
    )


def _swollen(
    case: Case, woods: Woods, *, along: tuple[float, float], moistures: tuple[float, float]
) -> FreeStrain:
    """Free strains from one moisture to another; ``along`` are the shrinkages of neck and board."""

    def of(total: float) -> float:
        return swelling(total, from_moisture=moistures[0], to_moisture=moistures[1])

    lengthwise = dict(zip(PARTS, (*along, LONGITUDINAL_SHRINKAGE), strict=True))
    return _free_strain(
        case, woods, lambda part, cut: (of(lengthwise[part]), of(cut.shrink_r), of(cut.shrink_t))
    )


def _shim_swelling(case: Case) -> float:
    """Shrinkage through the shims' thickness, green to dry: side grain, rings at random; 0 if not of wood."""
    named = shim_material(case.shims[-1].material).wood
    return 0.5 * (wood(named).shrink_r + wood(named).shrink_t) if named else 0.0


def _warmed(one: Wood, celsius: float) -> Wood:
    return one.scaled(
        along=temperature_factor_along(celsius),
        across=temperature_factor_across(celsius),
        shear=temperature_factor_shear(celsius),
    )


def _expanded(case: Case, woods: Woods, heat: float) -> FreeStrain:
    """Free strains for a rise of temperature [K]."""

    def movement(part: str, cut: Wood) -> tuple[float, float, float]:
        radial, tangential = expansion_radial(cut.density), expansion_tangential(cut.density)
        return EXPANSION_ALONG * heat, radial * heat, tangential * heat

    return _free_strain(case, woods, movement)


def _heated(start: SetUp, structure: Structure, heat: float) -> Kept:
    """The locked state, with steel bolts and a steel rod expanded by heat [K]."""
    block, rod = structure.block, start.case.rod
    through = {"heel": block.stem, "tongue": block.shelf}
    grips = [through[bolt.face] / np.cos(bolt.angle) + 0.5 * bolt.insert_length for bolt in structure.bolts]
    # both members of a two-way rod expand alike, so it does not bend
    one_way = rod.kind == "one-way"
    growth = STEEL_EXPANSION * heat * (rod.end_mm - rod.start_mm) * MM if one_way else 0.0
    return replace(
        start.kept,
        bolt_growth=STEEL_EXPANSION * heat * np.array(grips),
        rod_growth=growth,
    )

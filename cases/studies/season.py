"""A year of weather: moisture by the air's humidity, or heat at constant moisture (docs/drift.md)."""

from dataclasses import dataclass, replace
from math import degrees

import numpy as np
from scipy.interpolate import PchipInterpolator

from cases.casefile.case import Case
from cases.casefile.errors import CaseError, Problem
from cases.offset.build import MM, Woods, woods_of
from cases.studies.aging import (
    Alone,
    SetUp,
    alone,
    changed,
    mean_action_mm,
    scaled,
    set_up,
    strained_questions,
)
from fem.errors import ConvergenceError
from fem.geometry.hardware import Bolt
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
"""Number of weathers solved from the lowest to the highest."""
MONTHS = tuple(0.25 * quarter for quarter in range(49))
"""Times of a year that is coldest or driest at 0, in months."""
STEEL_EXPANSION = 12e-6
ROOM_CELSIUS = 21.0
LOW, HIGH = LONGITUDINAL_SHRINKAGE_BAND
MOVEMENTS = {
    "alike": (LONGITUDINAL_SHRINKAGE, LONGITUDINAL_SHRINKAGE),
    "board moves more": (LOW, HIGH),
    "neck moves more": (HIGH, LOW),
}
"""Shrinkage along the grain, green to dry, of neck and board: no species' own figure was found."""


@dataclass(frozen=True)
class Weathers:
    """States over one kind of weather, rod and saddle left alone, bolts kept at their tension; tuples run
    over ``value``.

    ``rod`` is the rod's tension or couple. ``bolt_low`` and ``bolt_high`` are the weakest and the strongest
    bolt's tension over that at set-up if the bolts are left alone instead; 0 = loose.
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
        """One reading at `MONTHS`, the weather running as a cosine from its lowest and back."""
        low, high = self.value[0], self.value[-1]
        weather = 0.5 * (low + high) - 0.5 * (high - low) * np.cos(2.0 * np.pi * np.array(MONTHS) / 12.0)
        return tuple(float(v) for v in PchipInterpolator(self.value, getattr(self, name))(weather))


@dataclass(frozen=True)
class Season:
    """A year of weather: ``unit`` of its values, moisture at each (None for heat), and the courses."""

    kind: str
    unit: str
    set_up_at: float
    moisture_percent: tuple[float, ...] | None
    courses: tuple[Weathers, ...]


def check_humidity(case: Case, humidity: tuple[float, float]) -> None:
    """Refuse a range of relative humidity [%] that is none, or that the equations do not hold for.

    Raises
    ------
    CaseError
        With what is allowed.
    """
    low, high = humidity
    if not 20.0 <= low < high <= 85.0:
        problem = Problem(
            "--rh", f"{low:g}:{high:g}", "this is no range of humidity", "20 to 85 %, low:high", "give 30:70"
        )
        raise CaseError(case.name, (str(problem),))


def check_temperature(case: Case, temperature: tuple[float, float]) -> None:
    """Refuse a range of room temperature [degC] that is none.

    Raises
    ------
    CaseError
        With what is allowed.
    """
    low, high = temperature
    if not -10.0 <= low < high <= 50.0:
        problem = Problem(
            "--temperature",
            f"{low:g}:{high:g}",
            "this is no range of temperature",
            "-10 to 50 degrees Celsius, low:high",
            "give 15:30",
        )
        raise CaseError(case.name, (str(problem),))


def humid_year(case: Case, *, humidity: tuple[float, float]) -> Season:
    """A year between two relative humidities [%] in a room at 21 degC, the guitar set up in their middle.

    Every wood has the moisture that the air gives it in the end: no lag, no finish, no inside of a body.

    Raises
    ------
    CaseError
        If the range is none, or its air makes wood wetter or drier than the equations hold for.
    """
    check_humidity(case, humidity)
    low, high = humidity
    middle = 0.5 * (low + high)
    values = np.linspace(low, high, STEPS["humidity"])
    own = woods_of(case)

    def at(percent: float) -> tuple[Woods, float]:
        moisture = equilibrium_moisture(percent / 100.0, ROOM_CELSIUS)
        return changed(own, lambda one: one.at_moisture(moisture)), moisture

    woods, first = at(middle)
    start = set_up(case, woods=woods)
    thickness = _shim_swelling(case)
    states = [at(float(value)) for value in values]
    found: dict[str, list[_State]] = {name: [] for name in MOVEMENTS}
    for cut, moisture in states:
        strains = {
            name: _swollen(case, cut, along=along, moistures=(first, moisture))
            for name, along in MOVEMENTS.items()
        }
        swollen = swelling(thickness, from_moisture=first, to_moisture=moisture)
        kept = replace(start.kept, shim_swelling=swollen)
        questions, _ = strained_questions(start, cut, strains)
        for name, question in questions.items():
            found[name].append(_state(start, question, kept))
    courses = tuple(_weathers(case, name, values, states) for name, states in found.items())
    return Season("humidity", "%", middle, tuple(moisture for _, moisture in states), courses)


def warm_year(case: Case, *, temperature: tuple[float, float]) -> Season:
    """A year between two room temperatures [degC] at constant moisture, set up in the middle of them.

    Raises
    ------
    CaseError
        If the range is none.
    """
    check_temperature(case, temperature)
    low, high = temperature
    middle = 0.5 * (low + high)
    values = np.linspace(low, high, STEPS["temperature"])
    own = woods_of(case)
    start = set_up(case, woods=changed(own, lambda one: _warmed(one, middle)))
    found = []
    for value in values:
        celsius = float(value)
        cut = Woods(*(_warmed(one, celsius) for one in (own.neck, own.board, own.block)))
        heat = celsius - middle
        questions, structure = strained_questions(start, cut, {"heat": _grown(case, own, heat)})
        found.append(_state(start, questions["heat"], _heated(start, structure, heat)))
    return Season("temperature", "degC", middle, None, (_weathers(case, "heat", values, found),))


@dataclass(frozen=True)
class _State:
    """Reading with the bolts kept tight, and the bolts' shares when they are left alone, (bolts,)."""

    reading: Alone
    shares: Array


def _state(start: SetUp, question: Question, kept: Kept) -> _State:
    set_tension = kept.pair.strung.bolts
    tight = Bolting(set_tension, np.zeros_like(set_tension))
    try:
        shares = left_alone(question, kept).bolts / set_tension
    except ConvergenceError:
        # with its bolts loose the joint has no state of rest under the strings
        shares = np.zeros_like(set_tension)
    return _State(alone(start, replace(question, bolting=tight), kept), np.maximum(shares, 0.0))


def _weathers(case: Case, name: str, values: Array, found: list[_State]) -> Weathers:
    action, read = mean_action_mm(case), [one.reading for one in found]
    return Weathers(
        name=name,
        value=tuple(float(value) for value in values),
        relief_mm=tuple(one.relief / MM for one in read),
        action_mm=tuple(one.action_change / MM + action for one in read),
        kink_deg=tuple(degrees(one.kink) for one in read),
        rod=tuple(one.rod for one in read),
        bolt_low=tuple(float(one.shares.min()) for one in found),
        bolt_high=tuple(float(one.shares.max()) for one in found),
    )


def _across(ring: str, radial: float, tangential: float) -> float:
    """Movement through a wood's depth by its rings: tangential where they stand, radial where they lie."""
    angle = ring_angle(ring)
    return float(tangential * np.cos(angle) ** 2 + radial * np.sin(angle) ** 2)


def _in_plane(
    case: Case, *, part: str, along: float, radial: float, tangential: float
) -> tuple[float, float]:
    """Movement along x and z of a part from that in its own directions; runout is left out."""
    if part == "block":
        return {
            "vertical": (tangential, along),
            "lengthwise": (along, tangential),
            "across": (radial, tangential),
        }[case.block.grain]
    ring = case.neck.ring_orientation if part == "neck" else case.fretboard.ring_orientation
    return along, _across(ring, radial, tangential)


def _swollen(
    case: Case, woods: Woods, *, along: tuple[float, float], moistures: tuple[float, float]
) -> FreeStrain:
    """Free strains of all parts from one moisture to another; ``along`` are neck's and board's shrinkages."""

    def part(name: str, cut: Wood, lengthwise: float) -> tuple[float, float]:
        displacements = [
            swelling(total, from_moisture=moistures[0], to_moisture=moistures[1])
            for total in (lengthwise, cut.shrink_r, cut.shrink_t)
        ]
        return _in_plane(
            case, part=name, along=displacements[0], radial=displacements[1], tangential=displacements[2]
        )

    return FreeStrain(
        neck=part("neck", woods.neck, along[0]),
        board=part("board", woods.board, along[1]),
        block=part("block", woods.block, LONGITUDINAL_SHRINKAGE),
    )


def _shim_swelling(case: Case) -> float:
    """Shrinkage, green to dry, through the shims' thickness: side grain, rings any way; 0 for no wood."""
    named = shim_material(case.shims[-1].material).wood
    if named is None:
        return 0.0
    cut = wood(named)
    return 0.5 * (cut.shrink_r + cut.shrink_t)


def _warmed(one: Wood, celsius: float) -> Wood:
    return scaled(
        one,
        along=temperature_factor_along(celsius),
        across=temperature_factor_across(celsius),
        shear=temperature_factor_shear(celsius),
    )


def _grown(case: Case, woods: Woods, heat: float) -> FreeStrain:
    """Free strains of all parts for a rise of temperature [K]."""

    def part(name: str, cut: Wood) -> tuple[float, float]:
        return _in_plane(
            case,
            part=name,
            along=EXPANSION_ALONG * heat,
            radial=expansion_radial(cut.density) * heat,
            tangential=expansion_tangential(cut.density) * heat,
        )

    return FreeStrain(part("neck", woods.neck), part("board", woods.board), part("block", woods.block))


def _heated(start: SetUp, structure: Structure, heat: float) -> Kept:
    """What stays, with steel bolts and a steel rod longer by heat."""

    def grip(bolt: Bolt) -> float:
        block = structure.block
        through = block.stem if bolt.face == "heel" else block.shelf
        return through / np.cos(bolt.angle) + 0.5 * bolt.insert_length

    rod = start.case.rod
    # both members of a two-way rod grow alike: the pair does not turn
    one_way = rod.kind == "one-way"
    growth = STEEL_EXPANSION * heat * (rod.end_mm - rod.start_mm) * MM if one_way else 0.0
    return replace(
        start.kept,
        bolt_growth=STEEL_EXPANSION * heat * np.array([grip(bolt) for bolt in structure.bolts]),
        rod_growth=growth,
    )

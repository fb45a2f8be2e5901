"""Uncertainty of each input of a case, and the measurement that would settle it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import hypot, sqrt

from cases.casefile.case import Case
from cases.casefile.schema.shop import Tolerance
from cases.offset.answer import Answer
from cases.offset.scatter import Source, sources

ASSUMED = 0.10
"""Relative standard deviation of a default, or of another instrument's value: an assumption."""
CALLIPER_MM = 0.2
"""Standard deviation of a given length, wood between calliper jaws [mm]: an assumption."""
MOISTURE_PERCENT = 1.0
"""Standard deviation of a given moisture: an assumption."""
GIVEN = 0.05
"""Relative standard deviation of any other given number, such as a measured modulus: an assumption."""
GRAIN_DEG = 1.0
"""Standard deviation of grain read by eye [deg]: an assumption."""

READING_MM: float = Tolerance().reading_mm
"""Standard deviation of a length that is zero by default, as a reading's [mm]."""

CHOSEN = ("targets", "instrument")
"""Tables of chosen values: nothing to measure."""

COUNTED = ("nut_factor", "compliance_um_per_mpa", "material", "young_gpa")
"""Keys whose uncertainty is part of another row: the bolts' torque, the shim layers."""


@dataclass(frozen=True)
class Uncertainty:
    """One standard deviation of an input, in its own unit, and its source."""

    deviation: float
    source: str


@dataclass(frozen=True)
class Measurement:
    """A measurement and how to make it."""

    name: str
    how: str


STRETCH = Measurement("heel stretch", "read the tongue gap bolted up and at pitch, same shims, on one guitar")


@dataclass(frozen=True)
class ToMeasure:
    """A measurement, its effect on the uncertainty of the offset [deg], and the inputs that it settles."""

    name: str
    how: str
    worth_deg: float
    inputs: tuple[str, ...]


SEATS = Measurement("angle between both seats", "lay a straightedge on the bare seats and read both")
STIFFNESS = Measurement("neck stiffness", "hang a known weight on the clamped neck and give neck.e_l_gpa")
BOLTS = Measurement(
    "bolt tension", "check the torque wrench, then the nut factor of your own bolts, as given by their maker"
)
BOARD = Measurement("bare board", "straightedge and feeler gauges along the bare board, joint to last fret")
STRING_PULL = Measurement("strings", "weigh a metre of each string")
BOARD_WOOD = Measurement("fretboard wood", "tap or bend a blank of the batch and give fretboard.e_l_gpa")
SEAT_ROW = "angle between both seats"

SETTLED_BY = {
    "neck wood": STIFFNESS,
    "neck.e_l_gpa": STIFFNESS,
    "fretboard wood": BOARD_WOOD,
    "fretboard wood, across and shear": STRETCH,
    "fretboard.e_l_gpa": BOARD_WOOD,
    "neck wood, across and shear": STRETCH,
    "block wood": STRETCH,
    "block.e_l_gpa": STRETCH,
    "block wood, across and shear": STRETCH,
    "shim layers": STRETCH,
    "bedding": STRETCH,
    "torque of all bolts": BOLTS,
    "joint.friction": STRETCH,
    "string tension": STRING_PULL,
    "fretboard.fallaway_mm": BOARD,
    "fretboard.planed_relief_mm": BOARD,
    SEAT_ROW: SEATS,
}


def measurement(name: str) -> Measurement:
    """The measurement that settles an input, by the name of its row."""
    if name in SETTLED_BY:
        return SETTLED_BY[name]
    if name.startswith("bolts.") and name.endswith(("torque_n_m", "tension_n")):
        return BOLTS
    return Measurement(name, "measure it on the instrument and give it in the case")


def uncertainty_of(case: Case, key: str, value: float) -> Uncertainty | None:
    """Uncertainty of a key's number; None if it is chosen or counted elsewhere.

    A tolerance of the case takes precedence over whether the case gives the number itself.
    """
    table, name = key.split(".")[0], key.split(".")[-1]
    if key.startswith("setup.action_"):
        return Uncertainty(case.tolerance.action_mm, "tolerance.action_mm")
    if key == "joint.friction":
        return Uncertainty(
            0.25 * (case.joint.friction_high - case.joint.friction_low), "a quarter of the friction band"
        )
    if name == "torque_n_m":
        scatter = next(bolt.torque_scatter for bolt in case.bolts if bolt.name == key.split(".")[1])
        return Uncertainty(0.5 * scatter * value, "half of torque_scatter")
    if table in CHOSEN or name in COUNTED:
        return None
    if value == 0.0:
        if name.endswith("_deg"):
            return Uncertainty(GRAIN_DEG, "by eye")
        return Uncertainty(case.tolerance.reading_mm, "tolerance.reading_mm")
    origin = case.origin(key)
    if origin == "copied":
        return Uncertainty(ASSUMED * abs(value), f"copied from {case.copied_from}, not measured: a tenth")
    if origin == "assumed":
        return Uncertainty(ASSUMED * abs(value), "assumed in the case: a tenth")
    if name.endswith("_mm"):
        return Uncertainty(CALLIPER_MM, "calliper")
    if name == "moisture_percent":
        return Uncertainty(MOISTURE_PERCENT, "moisture meter")
    return Uncertainty(GIVEN * abs(value), "given in the case: a twentieth")


def sources_without_key(case: Case) -> tuple[Source, ...]:
    """Sources of scatter without a key of their own: woods, shim layers, strings, the wrench.

    A wood with a measured modulus has that key.
    """
    return tuple(source for source in sources(case) if not source.name.startswith("bolt "))


def seats(case: Case) -> Uncertainty:
    """Uncertainty of the angle between both seats, each cut separately [deg]."""
    return Uncertainty(sqrt(2.0) * case.tolerance.pocket_deg, "tolerance.pocket_deg, two seats")


def ranked(worths: Mapping[str, float]) -> tuple[ToMeasure, ...]:
    """Measurements that settle inputs, largest effect first; ``worths`` is the effect of each input [deg]."""
    groups: dict[str, list[str]] = {}
    for name in sorted(worths, key=lambda name: -worths[name]):
        groups.setdefault(measurement(name).name, []).append(name)
    found = [
        ToMeasure(name, measurement(inputs[0]).how, hypot(*map(worths.__getitem__, inputs)), tuple(inputs))
        for name, inputs in groups.items()
    ]
    return tuple(sorted(found, key=lambda one: -one.worth_deg))


def would_narrow(answer: Answer) -> tuple[ToMeasure, ...]:
    """Measurements that would make an answer surer, by what it holds: scatter, friction, assumed inputs.

    Inputs given in the case are left out, as is the error of the seats; `sensitivity` has them. Empty for an
    answer without the effects of assumed inputs, which are often the largest.
    """
    return ranked(dict(_worths(answer))) if answer.assumed else ()


def _worths(answer: Answer) -> Iterator[tuple[str, float]]:
    """Effect of one standard deviation of each input [deg], by its name."""
    band = answer.pocket.taper_friction_band_deg if answer.pocket else answer.preload_offset_friction_band_deg
    low, high = band or (0.0, 0.0)
    yield "joint.friction", 0.25 * (high - low)
    for share in answer.scatter:
        bolt = share.name.removeprefix("bolt ")
        yield share.name if bolt == share.name else f"bolts.{bolt}.torque_n_m", share.deg
    for one in answer.not_measured:
        table, name = one.key.split(".")[0], one.key.split(".")[-1]
        settled = table in (*CHOSEN, "setup") or name in (*COUNTED, "torque_n_m", "friction")
        if settled or not one.effect_deg or one.step is None:
            continue
        # a step is a tenth of the value, which is also the deviation of a default
        deviation = one.step
        if one.value == 0.0:
            deviation = GRAIN_DEG if name.endswith("_deg") else READING_MM
        yield one.key, abs(one.effect_deg) / one.step * deviation

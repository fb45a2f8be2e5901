"""Limits of the truss rod and of bonded bars: both must lie inside the neck's wood."""

from collections.abc import Iterator

from cases.casefile.defaults import fret_position_mm, heel_start_position_mm, joint_position_mm
from cases.casefile.errors import Problem
from cases.casefile.key_values import Values, total
from cases.casefile.limits.bounds import Check, at_least, at_most
from cases.casefile.limits.neck import shaft_depth_mm

WOOD_UNDER_ROD_MM = 1.5
"""Least wood between the rod's channel and the back [mm]."""


def _has_rod(values: Values) -> bool:
    return values.text("rod.kind") != "none"


def _board_end(values: Values) -> float:
    last = fret_position_mm(values.number("instrument.scale_mm"), values.number("instrument.last_fret"))
    return last + values.number("instrument.overhang_mm")


def _rod_height(values: Values) -> float:
    arm = values.number("rod.arm_mm") if values.text("rod.kind") == "two-way" else 0.0
    return values.number("rod.diameter_mm") + arm


_half_channel = total("rod.slot_depth_mm", times=0.5)


def neck_wood_mm(values: Values, x_mm: float, *, off_centre_mm: float) -> float:
    """Return the depth of neck wood under the glue line, negative where the neck is not that wide [mm].

    `x_mm` is the distance from the nut, `off_centre_mm` that from the centre line [mm].
    """
    nut_width = values.number("neck.width_nut_mm")
    widening = (values.number("neck.width_joint_mm") - nut_width) * x_mm / joint_position_mm(values)
    half = 0.5 * (nut_width + widening)
    if off_centre_mm >= half:
        return -1.0
    exponent = values.number("neck.profile_exponent")
    share = (1.0 - (off_centre_mm / half) ** exponent) ** (1.0 / exponent)
    return float(shaft_depth_mm(values, x_mm) * share)


def _rod_through_back(values: Values) -> Iterator[Problem]:
    if not _has_rod(values):
        return
    start, end = values.number("rod.start_mm"), values.number("rod.end_mm")
    shaft_end = min(end, heel_start_position_mm(values))
    half_width = values.number("rod.slot_width_mm") / 2
    why = f"the channel would come within {WOOD_UNDER_ROD_MM:g} mm of the back or out of it"
    places_of = {"rod.depth_ends_mm": (start, shaft_end), "rod.depth_middle_mm": ((start + end) / 2,)}
    for key, places in places_of.items():
        wood = min(neck_wood_mm(values, min(x, shaft_end), off_centre_mm=half_width) for x in places)
        deepest = round(wood - WOOD_UNDER_ROD_MM - _half_channel(values), 2)
        yield from at_most(key, total(plus=deepest), why)(values)


def _deepest_bar(values: Values) -> float:
    edge = abs(values.number("bars.*.y_mm")) + values.number("bars.*.width_mm") / 2
    wood = neck_wood_mm(values, values.number("bars.*.start_mm"), off_centre_mm=edge)
    return round(wood - values.number("bars.*.height_mm") / 2 - 1, 2)


def _bar_in_channel(values: Values) -> Iterator[Problem]:
    y, half_width = values.number("bars.*.y_mm"), values.number("bars.*.width_mm") / 2
    clear = values.number("rod.slot_width_mm") / 2 + half_width
    if _has_rod(values) and abs(y) < clear:
        wrong = "the bar would lie in the rod's channel"
        allowed = f"at least {clear:.4g} from the centre line"
        yield Problem(values.path("bars.*.y_mm"), f"{y:g}", wrong, allowed, "move it out")


INTO_BOARD = "the channel would cut into the fretboard"

CHECKS: tuple[Check, ...] = (
    at_least("rod.end_mm", total("rod.start_mm", plus=50), "a rod needs a run of 50 mm", when=_has_rod),
    at_most("rod.end_mm", _board_end, "the fretboard ends there", when=_has_rod),
    at_most("rod.diameter_mm", total("rod.slot_width_mm"), "the rod lies in its channel", when=_has_rod),
    at_least("rod.slot_depth_mm", _rod_height, "the rod is {limit} mm high", when=_has_rod),
    at_least("rod.depth_ends_mm", _half_channel, INTO_BOARD, when=_has_rod),
    at_least("rod.depth_middle_mm", _half_channel, INTO_BOARD, when=_has_rod),
    _rod_through_back,
)
BAR_CHECKS: tuple[Check, ...] = (
    at_least("bars.*.depth_mm", total("bars.*.height_mm", times=0.5), "the bar would cut into the fretboard"),
    at_most("bars.*.depth_mm", _deepest_bar, "the bar would come through the back"),
    at_least("bars.*.end_mm", total("bars.*.start_mm", plus=10), "a bar needs a run of 10 mm"),
    _bar_in_channel,
)

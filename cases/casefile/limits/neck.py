"""Limits of neck, fretboard and heel."""

from collections.abc import Iterator
from math import sqrt

from cases.casefile.defaults import fret_position_mm, in_pocket, joint_position_mm
from cases.casefile.errors import Problem
from cases.casefile.key_values import Values, total
from cases.casefile.limits.bounds import Check, at_least, at_most

LEAST_EDGE_MM = 1.0
"""Least thickness of a fretboard at its edge, a choice [mm]."""
LEAST_UNDER_MM = 0.1
"""Least wood under a fret slot at the board's edge, a choice [mm]."""


def shaft_depth_mm(values: Values, x_mm: float) -> float:
    """Return the depth of the shaft under the glue line at a distance from the nut [mm]."""
    scale = values.number("instrument.scale_mm")
    first, tenth = fret_position_mm(scale, 1), fret_position_mm(scale, 10)
    thin, thick = values.number("neck.depth_fret1_mm"), values.number("neck.depth_fret10_mm")
    total_depth = thin + (thick - thin) / (tenth - first) * (x_mm - first)
    return total_depth - values.number("fretboard.thickness_mm")


def _slots(values: Values) -> Iterator[Problem]:
    """The board's curved top leaves least wood at the edges of its wide end."""
    board, radius = values.number("fretboard.thickness_mm"), values.number("fretboard.radius_mm")
    nut, joint = values.number("neck.width_nut_mm"), values.number("neck.width_joint_mm")
    scale, overhang = values.number("instrument.scale_mm"), values.number("instrument.overhang_mm")
    end = fret_position_mm(scale, values.number("instrument.last_fret")) + overhang
    half = 0.5 * (nut + (joint - nut) * end / joint_position_mm(values))
    need = (half**2 + (board - LEAST_EDGE_MM) ** 2) / (2.0 * (board - LEAST_EDGE_MM))
    if radius < max(need, half):
        why = f"the {board:g} mm fretboard is {2.0 * half:.1f} mm wide at its end and keeps 1 mm at the edge"
        yield from at_least("fretboard.radius_mm", lambda _: max(need, half), why)(values)
        return
    edge = board - radius + sqrt(radius**2 - half**2)
    why = f"the fretboard is {edge:.2f} mm thick at the edge of its wide end"
    deepest = min(board - 1.0, edge - LEAST_UNDER_MM)
    yield from at_most("fretboard.slot_depth_mm", lambda _: deepest, why)(values)


def _from_fret_3_to_joint(values: Values) -> float:
    return joint_position_mm(values) - fret_position_mm(values.number("instrument.scale_mm"), 3)


def _heel_height(values: Values) -> Iterator[Problem]:
    if in_pocket(values):
        shaft = shaft_depth_mm(values, joint_position_mm(values))
        limit, why = round(shaft, 3), f"the shaft before it is {shaft:.4g} mm deep under the glue line"
    else:
        shaft = values.number("neck.depth_fret10_mm") - values.number("fretboard.thickness_mm")
        seat = values.number("tongue.depth_mm")
        limit, why = max(
            (shaft + 3, f"the shaft before it is {shaft:.4g} mm deep under the glue line"),
            (seat + 15, f"the tongue takes {seat:g} mm of it"),
        )
    yield from at_least("heel.height_mm", lambda _: limit, why)(values)


BOARD_AND_WOOD = total("fretboard.thickness_mm", plus=5)
DEPTH_HOLDS = "the depth is total and includes the {fretboard.thickness_mm} mm fretboard"

CHECKS: tuple[Check, ...] = (
    at_least(
        "instrument.last_fret",
        total("instrument.body_joint_fret", plus=2),
        "the body joint is at fret {instrument.body_joint_fret} and the tongue needs two frets",
    ),
    at_least("neck.depth_fret1_mm", BOARD_AND_WOOD, DEPTH_HOLDS),
    at_least("neck.depth_fret10_mm", BOARD_AND_WOOD, DEPTH_HOLDS),
    at_least(
        "neck.width_joint_mm",
        total("neck.width_nut_mm"),
        "the neck is not narrower at the joint than at the nut",
    ),
    _slots,
    at_most("heel.start_mm", _from_fret_3_to_joint, "the heel would begin nutward of fret 3"),
    at_most(
        "heel.cap_length_mm",
        total("heel.start_mm", plus=-1),
        "the heel begins {heel.start_mm} mm from the joint",
    ),
    at_most(
        "heel.width_cap_mm", total("heel.width_top_mm"), "a heel is not wider at its cap than at its top"
    ),
    at_most(
        "heel.width_top_mm",
        total("neck.width_joint_mm"),
        "the heel is not wider than the fretboard at the joint",
    ),
    _heel_height,
)

"""Limits of neck, fretboard and heel."""

from collections.abc import Iterator
from math import sqrt

from cases.casefile.defaults import FLAT_POCKET, fret_position_mm
from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.limits.bounds import at_least, at_most

LEAST_EDGE_MM = 1.0
"""Least thickness of a fretboard at its edge, a choice [mm]."""
LEAST_UNDER_MM = 0.1
"""Least wood under a fret slot at the board's edge, a choice [mm]."""


def _last_fret(values: Values) -> Iterator[Problem]:
    joint = values.number("instrument.body_joint_fret")
    yield from at_least(
        values,
        "instrument.last_fret",
        joint + 2,
        because=f"the body joint is at fret {joint:g} and the tongue needs two frets",
    )


def _depth_fret1(values: Values) -> Iterator[Problem]:
    board = values.number("fretboard.thickness_mm")
    yield from at_least(
        values,
        "neck.depth_fret1_mm",
        board + 5,
        because=f"the depth is total and holds the {board:g} mm fretboard",
    )


def _depth_fret10(values: Values) -> Iterator[Problem]:
    board = values.number("fretboard.thickness_mm")
    yield from at_least(
        values,
        "neck.depth_fret10_mm",
        board + 5,
        because=f"the depth is total and holds the {board:g} mm fretboard",
    )


def _widths(values: Values) -> Iterator[Problem]:
    yield from at_least(
        values,
        "neck.width_joint_mm",
        values.number("neck.width_nut_mm"),
        because="the neck is not narrower at the joint than at the nut",
    )


def _slots(values: Values) -> Iterator[Problem]:
    """The board's curved top leaves least wood at the edges of its wide end."""
    board, radius = values.number("fretboard.thickness_mm"), values.number("fretboard.radius_mm")
    nut, joint = values.number("neck.width_nut_mm"), values.number("neck.width_joint_mm")
    scale, overhang = values.number("instrument.scale_mm"), values.number("instrument.overhang_mm")
    last, at = (values.number(f"instrument.{name}") for name in ("last_fret", "body_joint_fret"))
    end = (fret_position_mm(scale, last) + overhang) / fret_position_mm(scale, at)
    half = 0.5 * (nut + (joint - nut) * end)
    need = (half**2 + (board - LEAST_EDGE_MM) ** 2) / (2.0 * (board - LEAST_EDGE_MM))
    if radius < max(need, half):
        because = (
            f"the {board:g} mm fretboard is {2.0 * half:.1f} mm wide at its end and keeps 1 mm at the edge"
        )
        yield from at_least(values, "fretboard.radius_mm", max(need, half), because=because)
        return
    edge = board - radius + sqrt(radius**2 - half**2)
    yield from at_most(
        values,
        "fretboard.slot_depth_mm",
        min(board - 1.0, edge - LEAST_UNDER_MM),
        because=f"the fretboard is {edge:.2f} mm thick at the edge of its wide end",
    )


def _heel_start(values: Values) -> Iterator[Problem]:
    scale = values.number("instrument.scale_mm")
    room = fret_position_mm(scale, values.number("instrument.body_joint_fret")) - fret_position_mm(scale, 3)
    yield from at_most(values, "heel.start_mm", room, because="the heel would begin nutward of fret 3")


def _cap(values: Values) -> Iterator[Problem]:
    start = values.number("heel.start_mm")
    yield from at_most(
        values, "heel.cap_length_mm", start - 1, because=f"the heel begins {start:g} mm from the joint"
    )


def _cap_width(values: Values) -> Iterator[Problem]:
    yield from at_most(
        values,
        "heel.width_cap_mm",
        values.number("heel.width_top_mm"),
        because="a heel is not wider at its cap than at its top",
    )


def _heel_top(values: Values) -> Iterator[Problem]:
    yield from at_most(
        values,
        "heel.width_top_mm",
        values.number("neck.width_joint_mm"),
        because="the heel is not wider than the fretboard at the joint",
    )


def _heel_height(values: Values) -> Iterator[Problem]:
    if values.text("joint.kind") == FLAT_POCKET:
        yield from _pocket_heel(values)
        return
    shaft = values.number("neck.depth_fret10_mm") - values.number("fretboard.thickness_mm")
    seat = values.number("tongue.depth_mm")
    limit, because = max(
        (shaft + 3, f"the shaft before it is {shaft:.4g} mm deep under the glue line"),
        (seat + 15, f"the tongue takes {seat:g} mm of it"),
    )
    yield from at_least(values, "heel.height_mm", limit, because=because)


def _pocket_heel(values: Values) -> Iterator[Problem]:
    scale = values.number("instrument.scale_mm")
    first, tenth, joint = (
        fret_position_mm(scale, fret) for fret in (1, 10, values.number("instrument.body_joint_fret"))
    )
    thin, thick = values.number("neck.depth_fret1_mm"), values.number("neck.depth_fret10_mm")
    shaft = (
        thin + (thick - thin) * (joint - first) / (tenth - first) - values.number("fretboard.thickness_mm")
    )
    yield from at_least(
        values,
        "heel.height_mm",
        round(shaft, 3),
        because=f"the shaft before it comes to {shaft:.4g} mm under the glue line",
    )


CHECKS = (
    _last_fret,
    _depth_fret1,
    _depth_fret10,
    _widths,
    _slots,
    _heel_start,
    _cap,
    _cap_width,
    _heel_top,
    _heel_height,
)

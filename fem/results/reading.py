"""Readings of one state at the frets and at the saddle (docs/theory-readings.md, section 10)."""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array
from fem.solve.equilibrium import State, action_fret
from fem.solve.offset import Question


@dataclass(frozen=True)
class Reading:
    """Readings of one state; angles [rad], lengths [m].

    ``kink`` is without the bow, ``kink_straightedge`` with it, ``kink_relief_part`` their difference;
    ``shaft_rotation`` is positive where it lifts the nut; ``saddle_line`` is the height of the shaft line of
    the crowns at the saddle above the undeformed crowns; ``heights`` are those of the crowns.
    """

    kink: float
    kink_straightedge: float
    kink_relief_part: float
    tongue_gap: float
    relief: float
    shaft_rotation: float
    saddle_line: float
    nut_rise: float
    heights: Array


def read(question: Question, state: State) -> Reading:
    """Read a state."""
    line, rows = question.line, question.flexibility.at
    heights = question.heights(state)
    relief, _ = line.relief(heights)
    kink = line.kink(heights)
    straight = float(line.straightedge_row() @ heights)
    slope = line.shaft_slope(heights)
    shaft = heights[line.shaft] - relief * line.bow()[line.shaft]
    carried = float(shaft.mean() + slope * (question.strings.saddle - line.x[line.shaft].mean()))
    return Reading(
        kink=kink,
        kink_straightedge=straight,
        kink_relief_part=kink - straight,
        tongue_gap=line.tongue_gap(heights),
        relief=relief,
        shaft_rotation=-slope,
        saddle_line=carried,
        nut_rise=float(state.displacements[rows["nut w"]][0]),
        heights=np.asarray(heights),
    )


def pad_gaps(question: Question, state: State, angles: tuple[float, ...]) -> tuple[Array, ...]:
    """Gap between each pad's shim, at ``angles`` in pad order [rad], and the neck at its points [m], in the
    middle of the width.

    Above zero the seat is open there; below, neck and shim are pressed into each other by as much.
    """
    _, law = question.joint(angles)
    gap = state.displacements[question.flexibility.at["opening"]] - law.interference
    points = question.flexibility.points
    ends = np.cumsum([len(one.row_areas) for one in points])
    of_pads = np.split(gap, ends[:-1])
    return tuple(one.of_points(rows)[:, 0] for one, rows in zip(points, of_pads, strict=True))


def string_height(question: Question, state: State, x: float) -> float:
    """Height of the string line above the displaced crown of the fret nearest to x [m]."""
    near, share = action_fret(question.line, question.strings, x)
    nut = question.strings.nut_height + float(state.displacements[question.flexibility.at["nut w"]][0])
    return float((1.0 - share) * nut + share * state.saddle_height - question.heights(state)[near])


def rotation_against_tongue(question: Question, bolted: State, strung: State) -> float:
    """Mean rotation at the heel start against the tongue line, strung minus bolted [rad]; no bow enters."""
    line, rows = question.line, question.flexibility.at
    moved = strung.displacements - bolted.displacements
    tongue = float(line.slope_row(line.tongue) @ moved[rows["crown"]])
    return tongue - float(moved[rows["heel start"]][0])

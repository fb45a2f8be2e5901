"""The two steps on the bench: bolt up, then string up and set rod and saddle
(docs/theory-joint.md, sections 5 to 9).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.geometry.fret_line import FretLine
from fem.geometry.outline import Array
from fem.joint.shim_layer import Layer, Traction, indentation, stick_points
from fem.solve.flexibility import Flexibility, stiffened
from fem.solve.newton import Condition, Problem, solve


@dataclass(frozen=True)
class Strings:
    """The strings at pitch as one resultant.

    ``tension`` [N]; ``nut_height``: the line's height above z = 0 at the nut [m]; ``saddle``: its distance
    from the nut along x [m].
    """

    tension: float
    nut_height: float
    saddle: float


@dataclass(frozen=True)
class Targets:
    """Targets of the strung state.

    The rod gives the ``relief`` [m]; if that is None it has the setting ``rod``. The saddle gives the string
    ``height`` over the displaced board at ``height_x``; if that is None it is ``saddle_height`` high [m].
    """

    relief: float | None
    rod: float
    height: float | None
    saddle_height: float
    height_x: float


@dataclass(frozen=True)
class Bolting:
    """Bolt tensions set on the bench [N] and bolt stiffness [N/m], in row order."""

    bolt_tension: Array
    bolt_stiffness: Array


@dataclass(frozen=True)
class State:
    """One equilibrium.

    ``displacements`` and ``forces`` are those of the flexibility's rows; the forces include loads,
    second-order terms and grounding springs: ``displacements = flexibility.matrix @ forces``. ``bolts`` are
    the bolt tensions [N]. The joint remembers ``stuck_at``, the slip at which the friction of each interface
    point would vanish, and ``crushed``, the depth by which the wood there has been crushed, (points,) [m].
    """

    displacements: Array
    forces: Array
    contact: Traction
    bolts: Array
    rod: float
    saddle_height: float
    steps: int
    stuck_at: Array
    crushed: Array


def action_fret(line: FretLine, strings: Strings, x: float) -> tuple[int, float]:
    """Array position of the fret nearest to x [m], and its share of the way from nut to saddle."""
    near = int(np.argmin(np.abs(line.x - x)))
    return near, float(line.x[near] / strings.saddle)


def body_turn(flexibility: Flexibility) -> Array:
    """Displacement of the rows when neck and block rotate by one radian about the joint corner, nut up, (n,).

    Its product with the row forces is the moment on the body.
    """
    turn = flexibility.rigid[:, 2].copy()
    for between in ("opening", "slip", "bolt", "rod"):
        turn[flexibility.at.get(between, np.zeros(0, dtype=int))] = 0.0
    return turn


def with_body(flexibility: Flexibility, body_stiffness: float | None) -> Flexibility:
    """Flexibility with the block on a rotational spring about the joint corner [N m/rad]; None is rigid."""
    if body_stiffness is None:
        return flexibility
    turn = body_turn(flexibility)
    return replace(flexibility, matrix=flexibility.matrix + np.outer(turn, turn) / body_stiffness)


def _shaft_rows(flexibility: Flexibility, line: FretLine) -> tuple[NDArray[np.int64], Array]:
    """Rows of u_z along the shaft from nut to joint, and their positions [m]."""
    rows = np.concatenate([flexibility.at["nut w"], flexibility.at["crown"][: line.joint]])
    return rows, np.concatenate([[0.0], line.x[: line.joint]])


def second_order_stiffness(
    flexibility: Flexibility, line: FretLine, strings: Strings
) -> tuple[NDArray[np.int64], Array]:
    """Rows and stiffness of the second-order terms: the compressed shaft as a chain of chords, the string
    to a fixed saddle.

    Energy ``- T/2 sum (dw)^2 / dx`` along the shaft and ``+ T/2 w_nut^2 / x_saddle``.
    """
    rows, x = _shaft_rows(flexibility, line)
    step = np.diff(np.eye(len(x)), axis=0)
    stiffness = -strings.tension * step.T @ np.diag(1.0 / np.diff(x)) @ step
    stiffness[0, 0] += strings.tension / strings.saddle
    return rows, stiffness


def bolt_up(flexibility: Flexibility, law: Layer, bolting: Bolting, *, start: State | None = None) -> State:
    """Tighten the bolts on the shims: prescribed tensions, no friction, no strings, rod slack."""
    n, at = flexibility.size, flexibility.at
    problem = Problem(
        c=flexibility.matrix,
        base=np.zeros(n),
        columns=np.zeros((n, 0)),
        conditions=(),
        opening=at["opening"],
        slip=at["slip"],
        bolt=at["bolt"],
        reference=flexibility.reference[np.concatenate([at["opening"], at["slip"]])],
        law=law,
        stuck_at=None,
        locked=bolting.bolt_tension,
        bolt_stiffness=np.zeros_like(bolting.bolt_tension),
    )
    found = solve(
        problem, displacements=np.zeros(n) if start is None else start.displacements, settings=np.zeros(0)
    )
    forces = np.zeros(n)
    forces[problem.active] = found.force
    return State(
        displacements=found.displacements,
        forces=forces,
        contact=found.contact,
        bolts=bolting.bolt_tension,
        rod=0.0,
        saddle_height=0.0,
        steps=found.steps,
        stuck_at=found.displacements[at["slip"]],
        crushed=indentation(law, found.displacements[at["opening"]]),
    )


def string_up(
    flexibility: Flexibility,
    law: Layer,
    bolting: Bolting,
    *,
    bolted: State,
    line: FretLine,
    strings: Strings | None,
    wanted: Targets,
    start: State | None = None,
    rest: Array | None = None,
    after: State | None = None,
) -> State:
    """Lock the bolts, pull the strings to pitch (None leaves them off), set rod and saddle.

    The joint's memory is that of the state ``after``, by default the bolted one; ``rest`` are further row
    forces (n,), such as free strains. The rod may come out negative: callers with a one-way rod then hold it
    at zero.
    """
    n, at = flexibility.size, flexibility.at
    before = after or bolted
    law = replace(law, interference=law.interference - before.crushed)
    find_rod = wanted.relief is not None and "rod" in at
    find_saddle = wanted.height is not None and strings is not None
    load, per_setting, conditions = _loads_and_conditions(at, n, line, strings, wanted)
    if rest is not None:
        load = load + rest
    matrix = flexibility.matrix
    if strings is not None:
        rows, stiffness = second_order_stiffness(flexibility, line, strings)
        matrix = stiffened(flexibility.matrix, rows, stiffness)
    problem = Problem(
        c=matrix,
        base=matrix @ load,
        columns=matrix @ per_setting,
        conditions=conditions,
        opening=at["opening"],
        slip=at["slip"],
        bolt=at["bolt"],
        reference=flexibility.reference[np.concatenate([at["opening"], at["slip"]])],
        law=law,
        stuck_at=before.stuck_at,
        locked=bolting.bolt_tension - bolting.bolt_stiffness * bolted.displacements[at["bolt"]],
        bolt_stiffness=bolting.bolt_stiffness,
    )
    settings = np.zeros(len(conditions))
    if start is not None:
        settings = np.array([start.rod] * find_rod + [start.saddle_height] * find_saddle)
    found = solve(problem, displacements=(start or before).displacements, settings=settings)
    forces = load + per_setting @ found.settings
    forces[problem.active] += found.force
    if strings is not None:
        forces[rows] -= stiffness @ found.displacements[rows]
    return State(
        displacements=found.displacements,
        forces=forces,
        contact=found.contact,
        bolts=problem.locked + problem.bolt_stiffness * found.displacements[problem.bolt],
        rod=float(found.settings[0]) if find_rod else wanted.rod,
        saddle_height=float(found.settings[-1]) if find_saddle else wanted.saddle_height,
        steps=found.steps,
        stuck_at=stick_points(law, found.displacements[at["slip"]], found.contact),
        crushed=before.crushed + indentation(law, found.displacements[at["opening"]]),
    )


def _loads_and_conditions(
    at: dict[str, NDArray[np.int64]], n: int, line: FretLine, strings: Strings | None, wanted: Targets
) -> tuple[Array, Array, tuple[Condition, ...]]:
    """Given row forces (n,), those per unit of each unknown setting (n, settings), and their conditions."""
    find_rod = wanted.relief is not None and "rod" in at
    find_saddle = wanted.height is not None and strings is not None
    count = int(find_rod) + int(find_saddle)
    load, per_setting = np.zeros(n), np.zeros((n, count))
    conditions = []
    if find_rod:
        per_setting[at["rod"], 0] = -1.0
        conditions.append(_relief_condition(at, n, line, wanted, count))
    elif "rod" in at:
        load[at["rod"]] = -wanted.rod
    if strings is not None:
        load += _string_load(at, n, strings)
        per_height = strings.tension / strings.saddle
        if find_saddle:
            per_setting[at["nut w"], -1] = per_height
            conditions.append(_height_condition(at, n, line, strings, wanted, count))
        else:
            load[at["nut w"]] += per_height * wanted.saddle_height
    return load, per_setting, tuple(conditions)


def _string_load(at: dict[str, NDArray[np.int64]], n: int, strings: Strings) -> Array:
    """Row forces of the strings at the nut, on their line to a saddle at z = 0, (n,)."""
    load = np.zeros(n)
    load[at["nut u"]] = strings.tension
    load[at["nut t"]] = -strings.tension * strings.nut_height
    load[at["nut w"]] = -strings.tension * strings.nut_height / strings.saddle
    return load


def _relief_condition(
    at: dict[str, NDArray[np.int64]], n: int, line: FretLine, wanted: Targets, count: int
) -> Condition:
    """Relief by the rod; its frets may change during the search."""

    def row(displacements: Array) -> tuple[Array, float]:
        here = line.relief_row(line.heights(displacements[at["crown"]]))
        whole = np.zeros(n)
        whole[at["crown"]] = here
        return whole, float(here @ line.planed)

    return Condition(row, np.zeros(count), wanted.relief or 0.0)


def _height_condition(
    at: dict[str, NDArray[np.int64]], n: int, line: FretLine, strings: Strings, wanted: Targets, count: int
) -> Condition:
    """String height by the saddle, on the line from displaced nut to saddle, over the displaced board."""
    near, share = action_fret(line, strings, wanted.height_x)
    row = np.zeros(n)
    row[at["nut w"]] = 1.0 - share
    row[at["crown"][near]] -= 1.0
    by_setting = np.zeros(count)
    by_setting[-1] = share
    value = float(wanted.height or 0.0) - strings.nut_height * (1.0 - share)
    return Condition(lambda displacements: (row, float(line.planed[near]) * -1.0), by_setting, value)

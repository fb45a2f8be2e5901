"""Thousands of necks at once: their flexibilities, layers and string loads as stacked arrays.

One neck's condensed system is too small to keep a machine busy; a hundred of them solved together are not.
The laws are those of `fem.interface`, `fem.equilibrium` and `fem.profile`; tests hold both together.
"""

from dataclasses import dataclass, fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from fem.equilibrium import _geometric, body_turn
from fem.interface import THINNEST
from fem.matrix_fit import MatrixFit
from fem.moduli import block_ratios, neck_ratios
from fem.neck import Question
from fem.outline import Array
from fem.reduced import ReducedModel

Index = NDArray[np.int64]
Some = slice | Index | NDArray[np.bool_]
Stacked = TypeVar("Stacked")


def taken(stacked: Stacked, which: Some) -> Stacked:
    """Some rows of a dataclass of arrays with one row a neck; a field may be another such dataclass."""
    parts: dict[str, Any] = {}
    for one in fields(stacked):  # type: ignore[arg-type]
        value = getattr(stacked, one.name)
        parts[one.name] = taken(value, which) if is_dataclass(value) else value[which]
    return type(stacked)(**parts)


@dataclass(frozen=True)
class Necks:
    """What differs from neck to neck, one row each.

    Attributes
    ----------
    multiples : (k, 8) moduli, see `fem.moduli.NAMES`.
    friction, layer : (k, pads) Coulomb coefficient, and stiffness of the layers as a multiple.
    bolt_tension : (k, bolts) [N].
    tension : (k,) of all strings together [N].
    angles : (k, pads) of the shims in pad order, errors of shim and seat included [rad].
    """

    multiples: Array
    friction: Array
    layer: Array
    bolt_tension: Array
    tension: Array
    angles: Array

    def __len__(self) -> int:
        return len(self.tension)


@dataclass(frozen=True)
class Bench:
    """What all necks share, laid out for the batch.

    Rows are bolts, openings, slips, crowns, nut (u, w, t) and the rod's, in this order; the flexibility has
    no others here, and the block's has the first three kinds alone. ``upper`` is the angle from which the
    answer of a single shim counts [rad].
    """

    question: Question
    neck: MatrixFit
    block: MatrixFit
    bars: bool
    upper: float
    rigid: Array
    at: dict[str, Index]
    s: Array
    area: Array
    pad: Index
    chain: Index
    string_stiffness: Array
    turn: Array | None

    @property
    def points(self) -> int:
        """Number of interface points."""
        return len(self.s)

    @property
    def bolts(self) -> int:
        """Number of bolts."""
        return len(self.at["bolt"])

    @property
    def faces(self) -> slice:
        """Rows of openings and slips."""
        return slice(self.bolts, self.bolts + 2 * self.points)


def bench(reduced: ReducedModel, question: Question) -> Bench:
    """Lay out the reduced model of a question for the batch."""
    old = question.flexibility.at
    kept: list[Index] = []
    at: dict[str, Index] = {}
    kinds = ("bolt", "opening", "slip", "crown", "nut u", "nut w", "nut t", "rod")
    for kind in kinds:
        if kind in old:
            at[kind] = np.arange(len(old[kind])) + sum(len(rows) for rows in kept)
            kept.append(old[kind])
    rows = np.concatenate(kept)
    chain = np.concatenate([at["nut w"], at["crown"][: question.line.joint]])
    _, stiffness = _geometric(question.flexibility, question.line, question.strings)
    points = question.flexibility.points
    turn = None
    if question.body_stiffness is not None:
        turn = body_turn(question.flexibility)[rows] / np.sqrt(question.body_stiffness)
    return Bench(
        question=question,
        neck=reduced.neck.rows(rows),
        block=reduced.block.rows(rows[: len(at["bolt"]) + 2 * len(at["slip"])]),
        bars=reduced.bars,
        upper=reduced.model.upper,
        rigid=reduced.layout.rigid[rows],
        at=at,
        s=np.concatenate([one.s for one in points]),
        area=np.concatenate([one.area for one in points]),
        pad=np.repeat(np.arange(len(points)), [len(one.s) for one in points]),
        chain=chain,
        string_stiffness=stiffness / question.strings.tension,
        turn=turn,
    )


def flexibilities(on: Bench, necks: Necks) -> Array:
    """Sum of neck's and block's held flexibilities, the body's turn included, (k, rows, rows)."""
    scale = necks.multiples[:, [0, 5], None, None]
    whole = on.neck(neck_ratios(necks.multiples, bars=on.bars)) / scale[:, 0]
    touched = on.block.size
    whole[:, :touched, :touched] += on.block(block_ratios(necks.multiples)) / scale[:, 1]
    if on.turn is not None:
        whole += np.outer(on.turn, on.turn)
    return whole


@dataclass(frozen=True)
class Layers:
    """`fem.interface.Layer` of many necks, (k, points): interference [m], give of the layer across and along
    its plane [m/N], friction; ``lift`` and the other two the derivatives of the first three by the angle of
    the shim searched for;
    which necks have a shim too thin at its edge.
    """

    interference: Array
    give: Array
    slide: Array
    friction: Array
    lift: Array
    give_by_lower: Array
    slide_by_lower: Array
    too_thin: NDArray[np.bool_]


def layers(on: Bench, necks: Necks, angles: Array) -> Layers:
    """Layers at shim angles (k, pads) [rad]."""
    question = on.question
    pads = question.pads
    sign = np.array([0.0 if pad.middle == 0.0 else (1.0 if pad.face == "heel" else -1.0) for pad in pads])
    varied = sign * (np.arange(len(pads)) == question.varied)
    rise, lower = (angles * sign)[:, on.pad], varied[on.pad]

    def each(name: str) -> Array:
        return np.array([getattr(pad, name) for pad in pads])[on.pad]

    arm = on.s - 0.5 * (each("start") + each("end"))
    thickness = each("middle") + rise * arm
    stiffer = on.area * necks.layer[:, on.pad]
    young, shear, surface = each("young"), each("shear"), each("compliance")
    return Layers(
        interference=each("lift") + rise * (on.s - each("pivot")),
        give=(thickness / young + surface) / stiffer,
        slide=(thickness / shear + surface) / stiffer,
        friction=necks.friction[:, on.pad],
        lift=np.broadcast_to(lower * (on.s - each("pivot")), rise.shape),
        give_by_lower=lower * arm / young / stiffer,
        slide_by_lower=lower * arm / shear / stiffer,
        too_thin=np.any((thickness < THINNEST) & (sign[on.pad] != 0.0), axis=1),
    )


@dataclass(frozen=True)
class Strung:
    """The linear part of the strung state: rows by unknowns, second-order terms eliminated.

    Unknowns, in this order: bolt forces on the rows, three rigid movements, rod setting, saddle height,
    opening forces, slip forces.

    Attributes
    ----------
    rows : (k, rows, unknowns) movement of every row.
    loaded : (k, rows) movement under the strings alone.
    balance : (k, 3, unknowns) balance of the neck, and ``pull`` (k, 3) what it must equal.
    gaps : (k, joint, unknowns) gaps under the straightedge, ``gap_loaded`` (k, joint) by the strings alone.
    """

    rows: Array
    loaded: Array
    balance: Array
    pull: Array
    gaps: Array
    gap_loaded: Array


def strung(on: Bench, flexibility: Array, tension: Array) -> Strung:
    """Strings at pitch on flexibilities (k, rows, rows), tensions (k,) [N]."""
    at, strings, line = on.at, on.question.strings, on.question.line
    count = len(tension)
    chain = on.chain
    stiffness = tension[:, None, None] * on.string_stiffness
    both = np.concatenate(
        [flexibility[:, chain], np.broadcast_to(on.rigid[chain], (count, len(chain), 3))], axis=2
    )
    push = np.linalg.solve(
        np.eye(len(chain)) + stiffness @ flexibility[:, chain][:, :, chain], stiffness @ both
    )
    moved = flexibility[:, :, chain] @ -push
    moved[:, :, :-3] += flexibility
    moved[:, :, -3:] += on.rigid
    n, b = len(on.rigid), on.bolts
    nut_u, nut_w, nut_t = (at[f"nut {name}"][0] for name in "uwt")
    per_height = tension / strings.saddle
    rows = np.empty((count, n, b + 5 + 2 * on.points))
    rows[:, :, :b] = moved[:, :, :b]
    rows[:, :, b : b + 3] = moved[:, :, -3:]
    rows[:, :, b + 3] = -moved[:, :, at["rod"][0]] if "rod" in at else 0.0
    rows[:, :, b + 4] = per_height[:, None] * moved[:, :, nut_w]
    rows[:, :, b + 5 :] = moved[:, :, on.faces]
    load = np.stack([tension, -per_height * strings.nut_height, -tension * strings.nut_height], axis=1)
    nut = np.array([nut_u, nut_w, nut_t])
    rigid = moved[:, :, -3:]
    balance = np.empty((count, 3, rows.shape[2]))
    balance[:, :, :b] = rigid[:, :b].transpose(0, 2, 1)
    balance[:, :, b : b + 3] = -(on.rigid[chain].T @ push[:, :, -3:])
    balance[:, :, b + 3] = -rigid[:, at["rod"][0]] if "rod" in at else 0.0
    balance[:, :, b + 4] = per_height[:, None] * rigid[:, nut_w]
    balance[:, :, b + 5 :] = rigid[:, on.faces].transpose(0, 2, 1)
    loaded = np.matmul(moved[:, :, nut], load[:, :, None])[:, :, 0]
    under = line.gap_rows()
    return Strung(
        rows=rows,
        loaded=loaded,
        balance=balance,
        pull=-np.einsum("kij,ki->kj", rigid[:, nut], load),
        gaps=under @ rows[:, at["crown"]],
        gap_loaded=(loaded[:, at["crown"]] + line.planed) @ under.T,
    )

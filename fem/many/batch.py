"""Thousands of necks at once: their flexibilities, layers and string loads as stacked arrays.

One neck's condensed system is too small to keep a processor busy; many solved together are not. Tests compare
the batch with the ordinary solver neck by neck.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.joint.shim_layer import THINNEST, compliances, taper_rates
from fem.many.matrix_fit import Shares, unfolded
from fem.many.moduli import block_ratios, neck_ratios
from fem.many.reduced_model import ReducedModel
from fem.solve.equilibrium import body_turn, second_order_stiffness
from fem.solve.offset import Question

Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
Some = slice | Index | Mask
Stacked = TypeVar("Stacked")


def taken(stacked: Stacked, which: Some) -> Stacked:
    """Some rows of a dataclass of arrays with one row a neck; a field may be another such dataclass."""
    parts: dict[str, Any] = {}
    for one in fields(stacked):  # type: ignore[arg-type]
        value = getattr(stacked, one.name)
        parts[one.name] = taken(value, which) if is_dataclass(value) else value[which]
    return type(stacked)(**parts)


def joined(parts: Sequence[Stacked], *, axis: int = 0) -> Stacked:
    """Dataclasses of arrays as one, their arrays concatenated."""
    names = [one.name for one in fields(parts[0])]  # type: ignore[arg-type]
    return type(parts[0])(
        **{name: np.concatenate([getattr(part, name) for part in parts], axis=axis) for name in names}
    )


def times(matrices: Array, *vectors: Array) -> list[Array]:
    """Products of stacked matrices (k, n, m) with vectors (k, m), each (k, n): faster than as columns."""
    return [np.matmul(matrices, one[:, :, None])[:, :, 0] for one in vectors]


@dataclass(frozen=True)
class Necks:
    """Parameters that differ from neck to neck, one row each.

    ``multiples`` (k, 8) are the moduli, see `fem.many.moduli.NAMES`; ``friction`` (k, pads) the Coulomb
    coefficient, ``layer`` (k, pads) a factor on the layers' stiffness, ``bedding`` (k, pads) a further one on
    that of their surfaces; ``bolt_tension`` is (k, bolts),
    ``tension`` (k,) that of all strings together [N]; ``angles`` (k, pads) are shim angles, errors of shim
    and seat included [rad].
    """

    multiples: Array
    friction: Array
    layer: Array
    bedding: Array
    bolt_tension: Array
    tension: Array
    angles: Array

    def __len__(self) -> int:
        return len(self.tension)


@dataclass(frozen=True)
class Bench:
    """Data common to all necks, laid out for the batch.

    Rows are bolts, openings, slips, crowns, nut (w, u, t) and rod, in this order; the block's flexibility has
    only the first three kinds. ``triangles`` (shares, entries) holds the upper triangles of both fits and of
    what all necks share, the body's rotation and the layers under their pressure, see `flexibilities`.
    ``upper`` is the zero of a single shim's offset [rad].
    """

    question: Question
    neck: Shares
    block: Shares
    triangles: Array
    bars: bool
    upper: float
    rigid: Array
    at: dict[str, Index]
    chain: Index
    string_stiffness: Array

    @property
    def points(self) -> int:
        """Number of interface points."""
        return len(self.at["opening"])

    @property
    def bolts(self) -> int:
        """Number of bolts."""
        return len(self.at["bolt"])

    @property
    def faces(self) -> slice:
        """Rows of openings and slips."""
        return slice(self.bolts, self.bolts + 2 * self.points)

    @property
    def read(self) -> slice:
        """Rows of openings, slips, crowns and the nut's lift."""
        return slice(self.bolts, int(self.at["nut w"][0]) + 1)


def bench(reduced: ReducedModel, question: Question) -> Bench:
    """Lay out the reduced model of a question for the batch."""
    old = question.flexibility.at
    kept: list[Index] = []
    at: dict[str, Index] = {}
    for kind in ("bolt", "opening", "slip", "crown", "nut w", "nut u", "nut t", "rod"):
        if kind in old:
            at[kind] = np.arange(len(old[kind])) + sum(len(rows) for rows in kept)
            kept.append(old[kind])
    rows = np.concatenate(kept)
    chain = np.concatenate([at["nut w"], at["crown"][: question.line.joint]])
    _, stiffness = second_order_stiffness(question.flexibility, question.line, question.strings)
    turn = np.zeros(len(rows))
    if question.body_stiffness is not None:
        turn = body_turn(question.flexibility)[rows] / np.sqrt(question.body_stiffness)
    touched = rows[: len(at["bolt"]) + 2 * len(at["slip"])]
    same = np.outer(turn, turn) + reduced.layout.layers[np.ix_(rows, rows)]
    mixed = [
        reduced.neck.triangles(rows, size=len(rows)),
        reduced.block.triangles(touched, size=len(rows)),
        same[np.triu_indices(len(rows))][None],
    ]
    return Bench(
        question=question,
        neck=reduced.neck.shares,
        block=reduced.block.shares,
        triangles=np.concatenate(mixed),
        bars=reduced.validity.bars,
        upper=reduced.model.upper,
        rigid=reduced.layout.rigid[rows],
        at=at,
        chain=chain,
        string_stiffness=stiffness / question.strings.tension,
    )


@dataclass(frozen=True)
class Workspace:
    """Memory for a batch's two large arrays: allocating it for every batch would take a tenth of the run."""

    flexibility: Array
    strung: Array


def workspace(on: Bench, count: int) -> Workspace:
    """Workspace for batches of ``count`` necks."""
    n, unknowns = len(on.rigid), on.faces.stop + 5
    return Workspace(np.empty((count, n, n)), np.empty((count, on.read.stop + 5, unknowns + 1)))


def flexibilities(on: Bench, necks: Necks, within: Workspace) -> Array:
    """Flexibilities of held neck and block plus the body's rotation, (k, rows, rows)."""
    one = np.ones((len(necks), 1))
    neck = on.neck(neck_ratios(necks.multiples, bars=on.bars))
    block = on.block(block_ratios(necks.multiples))
    share = [
        np.concatenate([neck, one], axis=1) / necks.multiples[:, :1],
        np.concatenate([block, one], axis=1) / necks.multiples[:, 5:6],
        one,
    ]
    upper = np.concatenate(share, axis=1) @ on.triangles
    return unfolded(upper, len(on.rigid), out=within.flexibility[: len(necks)])


@dataclass(frozen=True)
class Layers:
    """`fem.joint.shim_layer.Layer` of many necks with compliances [m/N] instead of stiffnesses, all
    (k, points). ``lift`` is the derivative of the interference by the unknown shim angle, ``by_lower`` are
    those of the compliances; ``too_thin`` marks points with too thin a shim.
    """

    interference: Array
    normal_compliance: Array
    tangential_compliance: Array
    friction: Array
    lift: Array
    normal_compliance_by_lower: Array
    tangential_compliance_by_lower: Array
    too_thin: Mask


def layers(on: Bench, necks: Necks, angles: Array) -> Layers:
    """Layers at shim angles (k, pads) [rad]."""
    question = on.question
    of_pads = []
    for number, (pad, at) in enumerate(zip(question.pads, question.flexibility.points, strict=True)):
        mine = slice(number, number + 1)
        reach, rise = taper_rates(pad, at.s)
        thickness = pad.middle + angles[:, mine] * rise
        area = at.area * necks.layer[:, mine]
        surfaces = pad.compliance * (1.0 / necks.bedding[:, mine] - 1.0)
        normal, tangential = (one + surfaces for one in compliances(pad, thickness))
        varied = float(number == question.varied)
        of_pads.append(
            Layers(
                interference=pad.lift + angles[:, mine] * reach,
                normal_compliance=normal / area,
                tangential_compliance=tangential / area,
                friction=np.broadcast_to(necks.friction[:, mine], thickness.shape),
                lift=np.broadcast_to(varied * reach, thickness.shape),
                normal_compliance_by_lower=varied * rise / pad.young / area,
                tangential_compliance_by_lower=varied * rise / pad.shear / area,
                too_thin=(thickness < THINNEST) & (pad.middle > 0.0),
            )
        )
    return joined(of_pads, axis=1)


def strung(on: Bench, flexibility: Array, tension: Array, within: Workspace) -> Array:
    """Linear part of the state strung with tensions (k,) [N] on flexibilities (k, rows, rows), second-order
    terms eliminated; (k, rows, unknowns + 1).

    Unknowns, in this order: bolt forces, three rigid displacements, rod setting, saddle height, opening
    forces, slip forces; the last column is the effect of the strings alone. The rows match them: displacement
    of the bolts, equilibrium of the neck, zero for rod and saddle, displacement of openings and slips; then
    crowns and nut.
    """
    at, strings, b, chain = on.at, on.question.strings, on.bolts, on.chain
    head = on.bolts + 5
    nut_u, nut_w, nut_t = (at[f"nut {name}"][0] for name in "uwt")
    per_height = (tension / strings.saddle)[:, None]

    def by_unknown(source: Array, rigid: Array | float, out: Array) -> None:
        """Columns of the unknowns from those of the rows' forces, (k or 1, any, rows)."""
        out[:, :, :b], out[:, :, b : b + 3] = source[:, :, :b], rigid
        out[:, :, b + 3] = -source[:, :, at["rod"][0]] if "rod" in at else 0.0
        lift = per_height * source[:, :, nut_w]
        out[:, :, b + 4], out[:, :, head:-1] = lift, source[:, :, on.faces]
        pull = source[:, :, nut_u] - strings.nut_height * source[:, :, nut_t]
        out[:, :, -1] = tension[:, None] * pull - strings.nut_height * lift

    rows = within.strung[: len(tension)]
    rows[:, b + 3 : head] = 0.0
    by_unknown(flexibility[:, :b], on.rigid[:b], rows[:, :b])
    by_unknown(on.rigid.T[None], 0.0, rows[:, b : b + 3])
    by_unknown(flexibility[:, on.read], on.rigid[on.read], rows[:, head:])
    stiffness = tension[:, None, None] * on.string_stiffness
    inner = np.eye(len(chain)) + stiffness @ flexibility[:, chain[:, None], chain]
    # a small inverse and a product take less time than a solve with a hundred right sides
    push = (np.linalg.inv(inner) @ stiffness) @ rows[:, chain + 5]
    moved = flexibility[:, : on.read.stop, chain] @ push
    rows[:, :b] -= moved[:, :b]
    rows[:, b : b + 3] -= on.rigid[chain].T @ push
    rows[:, head:] -= moved[:, b:]
    return rows

"""The joint strung up, for many necks at once: the same law and the same kind of search as
`fem.batch_bolted`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.batch import Bench, Layers, Strung, taken
from fem.batch_bolted import (
    DONE_SHARE,
    SETTLED,
    STEPS,
    BoltedStates,
    Mask,
    gathered,
    picked,
    way,
)
from fem.outline import Array
from fem.profile import extremes


@dataclass(frozen=True)
class StrungStates:
    """Strings at pitch: all unknowns (k, unknowns), crowns (k, frets) [m], their derivatives by the lower
    angle; the frets between which the relief stands (k, 2), see `fem.profile.extremes`, and which settled.
    """

    unknowns: Array
    by_lower: Array
    crowns: Array
    crowns_by_lower: Array
    nut: Array
    nut_by_lower: Array
    frets: NDArray[np.int64]
    slack: Mask
    slipping: Mask
    settled: Mask


@dataclass(frozen=True)
class Aim:
    """What the strung state must meet: relief by the rod, and either the string height at the action fret
    (None) or the saddle's height as it is, (k,) [m].
    """

    saddle: Array | None


@dataclass(frozen=True)
class Guess:
    """Where the search begins: unknowns, slipping points, frets of the relief; of one neck or many."""

    unknowns: Array
    slipping: Mask
    frets: NDArray[np.int64]
    slack: Mask


def string_up(
    on: Bench, linear: Strung, law: Layers, tension: Array, *, bolted: BoltedStates, aim: Aim, guess: Guess
) -> StrungStates:
    """Lock the bolts, pull the strings to pitch, set rod and saddle.

    ``tension`` (k, bolts) is that of the bolted state [N].
    """
    k, m = len(tension), on.points
    unknowns = np.broadcast_to(guess.unknowns, (k, on.bolts + 5 + 2 * m)).copy()
    push = slice(on.bolts + 5, on.bolts + 5 + m)
    whole = _Batch(
        number=np.arange(k),
        linear=linear,
        law=law,
        unknowns=unknowns,
        by_lower=np.zeros_like(unknowns),
        closed=unknowns[:, push] > 0.0,
        slipping=np.broadcast_to(guess.slipping, (k, m)) & (unknowns[:, push] > 0.0),
        sign=np.where(unknowns[:, push.stop :] > 0.0, -1.0, 1.0),
        frets=np.broadcast_to(guess.frets, (k, 2)).copy(),
        slack=np.broadcast_to(guess.slack, (k,)) | ("rod" not in on.at),
        settled=np.zeros(k, dtype=bool),
        squeeze=np.zeros((k, m)),
        trial=np.zeros((k, m)),
        **_square(on, linear, law, tension, bolted, aim),
    )
    kept = {name: getattr(whole, name).copy() for name in _KEPT}
    batch = whole
    for step in range(STEPS):
        _step(on, batch, step)
        last = step == STEPS - 1 or bool(batch.settled.all())
        if last or batch.settled.mean() > DONE_SHARE:
            for name, values in kept.items():
                values[batch.number] = getattr(batch, name)
            if last:
                break
            batch = taken(batch, ~batch.settled)
    return _states(on, linear, kept)


_KEPT = ("unknowns", "by_lower", "closed", "slipping", "frets", "slack", "settled")


def _states(on: Bench, linear: Strung, kept: dict[str, NDArray[Any]]) -> StrungStates:
    read = np.concatenate([on.at["crown"], on.at["nut w"]])
    rows = linear.rows[:, read]
    moves = np.matmul(rows, kept["unknowns"][:, :, None])[:, :, 0] + linear.loaded[:, read]
    rates = np.matmul(rows, kept["by_lower"][:, :, None])[:, :, 0]
    return StrungStates(
        unknowns=kept["unknowns"],
        by_lower=kept["by_lower"],
        crowns=moves[:, :-1],
        crowns_by_lower=rates[:, :-1],
        nut=moves[:, -1],
        nut_by_lower=rates[:, -1],
        frets=kept["frets"],
        slack=kept["slack"],
        slipping=kept["slipping"],
        settled=kept["settled"] & np.any(kept["closed"], axis=1),
    )


@dataclass
class _Batch:
    """The necks still in the search; arrays with one row a neck.

    ``system`` (k, unknowns, unknowns) is the square system without the contact set, its rows in the order of
    the unknowns, ``right`` and ``rate`` its right side and that side's derivative by the lower angle.
    """

    number: NDArray[np.int64]
    linear: Strung
    law: Layers
    unknowns: Array
    by_lower: Array
    closed: Mask
    slipping: Mask
    sign: Array
    frets: NDArray[np.int64]
    slack: Mask
    settled: Mask
    squeeze: Array
    trial: Array
    system: Array
    diagonal: Array
    right: Array
    rate: Array


def _square(
    on: Bench, linear: Strung, law: Layers, tension: Array, bolted: BoltedStates, aim: Aim
) -> dict[str, Array]:
    """System, diagonal, right side and rate of `_Batch`."""
    at, line, wanted, strings = on.at, on.question.line, on.question.wanted, on.question.strings
    k, size = len(tension), linear.rows.shape[2]
    b, m = on.bolts, on.points
    head, drag = b + 5, b + 5 + m
    system = np.empty((k, size, size))
    system[:, :b] = linear.rows[:, :b]
    system[:, b : b + 3] = linear.balance
    system[:, b + 3 : head] = 0.0
    system[:, head:] = linear.rows[:, on.faces]
    stiffness = on.question.hardware.bolt_stiffness
    diagonal, right, rate = np.zeros((3, k, size))
    diagonal[:, :b] = 1.0 / stiffness
    diagonal[:, head:drag], diagonal[:, drag:] = law.give, law.slide
    right[:, :b] = bolted.elongation - tension / stiffness - linear.loaded[:, :b]
    right[:, b : b + 3] = linear.pull
    right[:, head:drag], right[:, drag:] = law.interference, bolted.slip
    right[:, head:] -= linear.loaded[:, on.faces]
    rate[:, :b], rate[:, head:drag] = bolted.elongation_by_lower, law.lift
    rate[:, drag:] = bolted.slip_by_lower
    near = int(np.argmin(np.abs(line.x - wanted.height_x)))
    share = line.x[near] / strings.saddle
    if aim.saddle is None:
        nut_w, crown = at["nut w"][0], at["crown"][near]
        system[:, b + 4] = (1.0 - share) * linear.rows[:, nut_w] - linear.rows[:, crown]
        system[:, b + 4, b + 4] += share
        fixed = (1.0 - share) * linear.loaded[:, nut_w] - linear.loaded[:, crown]
        height = (wanted.height or 0.0) - strings.nut_height * (1.0 - share) + line.planed[near]
        right[:, b + 4] = height - fixed
    else:
        system[:, b + 4, b + 4] = 1.0
        right[:, b + 4] = aim.saddle
    return {"system": system, "diagonal": diagonal, "right": right, "rate": rate}


def _step(on: Bench, batch: _Batch, step: int) -> None:
    """Solve for the present sets and take the sets that the outcome names."""
    m, b, law = on.points, on.bolts, batch.law
    k, head, drag = len(batch.number), b + 5, b + 5 + m
    each = np.arange(k)[:, None]
    row = batch.linear.gaps[each, batch.frets].sum(axis=1)
    loaded = batch.linear.gap_loaded[each, batch.frets].sum(axis=1)
    batch.right[:, b + 3] = (on.question.wanted.relief or 0.0) - loaded
    row[batch.slack] = 0.0
    row[batch.slack, b + 3] = 1.0
    batch.right[batch.slack, b + 3] = 0.0
    always = np.ones((k, head), dtype=bool)
    active = np.concatenate([always, batch.closed, batch.closed & ~batch.slipping], axis=1)
    place, real = gathered(active)
    # a slipping point's drag is a share of its own pressure: its column joins that of the pressure
    drag_by_push = np.zeros((k, drag + m))
    drag_by_push[:, head:drag] = np.where(batch.slipping, -batch.sign * law.friction, 0.0)
    partner = np.where((place >= head) & (place < drag), place + m, 0)
    share = drag_by_push[each, place]
    system = picked(batch.system, place, place)
    system += picked(batch.system, place, partner) * share[:, None, :]
    system[:, b + 3] = row[each, place] + row[each, partner] * share
    system *= real[:, :, None] & real[:, None, :]
    corner = np.arange(place.shape[1])
    system[:, corner, corner] += np.where(real, batch.diagonal[each, place], 1.0)
    rate = batch.rate.copy()
    rate[:, head:drag] -= law.give_by_lower * batch.unknowns[:, head:drag]
    rate[:, drag:] -= law.slide_by_lower * batch.unknowns[:, drag:]
    found = np.linalg.solve(
        system, np.stack([batch.right[each, place], rate[each, place]], axis=2) * real[:, :, None]
    )
    for column, target in ((0, batch.unknowns), (1, batch.by_lower)):
        target[:] = 0.0
        np.put_along_axis(target, place, found[:, :, column] * real, axis=1)
        slid = drag_by_push[:, head:drag] * target[:, head:drag]
        target[:, drag:] = np.where(batch.slipping, slid, target[:, drag:])
    _judge(on, batch, step)


def _judge(on: Bench, batch: _Batch, step: int) -> None:
    """The next sets, and which necks have settled."""
    m, b, law, unknowns = on.points, on.bolts, batch.law, batch.unknowns
    head, drag = b + 5, b + 5 + m
    moved = np.matmul(batch.system[:, head:], unknowns[:, :, None])[:, :, 0]
    squeeze = batch.right[:, head:drag] - moved[:, :m]
    pressure = np.maximum(squeeze, 0.0) / law.give
    trial = (moved[:, m:] - batch.right[:, drag:]) / law.slide
    cap = law.friction * pressure
    misfit = np.maximum(
        np.abs(pressure - unknowns[:, head:drag]) * law.give,
        np.abs(np.clip(trial, -cap, cap) + unknowns[:, drag:]) * law.slide,
    )
    gaps = np.matmul(batch.linear.gaps, unknowns[:, :, None])[:, :, 0] + batch.linear.gap_loaded
    frets = extremes(gaps)
    settled = (misfit.max(axis=1) < SETTLED) & (np.all(frets == batch.frets, axis=1) | batch.slack)
    batch.frets = frets
    if on.question.one_way:
        pushing = settled & (unknowns[:, b + 3] < 0.0) & ~batch.slack
        batch.slack = batch.slack | pushing
        settled &= ~pushing
    batch.settled = settled
    part = way(step)
    batch.squeeze += part * (squeeze - batch.squeeze)
    batch.trial += part * (trial - batch.trial)
    batch.closed = batch.squeeze > 0.0
    batch.slipping = batch.closed & (np.abs(batch.trial) * law.give > law.friction * batch.squeeze)
    batch.sign = np.where(batch.trial < 0.0, -1.0, 1.0)

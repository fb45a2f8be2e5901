"""The joint strung up, for many necks at once: bolts locked, strings at pitch, rod and saddle set."""

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.geometry.fret_line import extremes
from fem.geometry.outline import Array
from fem.many.batch import Bench, Index, Layers, Mask, times
from fem.many.bolted import BoltedStates
from fem.many.search import RIGID, SETTLED, gathered, search
from fem.solve.equilibrium import action_fret


@dataclass(frozen=True)
class Guess:
    """Start of the search, for one neck or many: force of each point if its layer could pull and shear force
    if it could not slip, (points,) or (k, points) [N]; frets of the relief, (2,) or (k, 2), see
    `fem.geometry.fret_line.extremes`; whether the rod is slack.
    """

    carried: Array
    trial: Array
    frets: Index
    slack: Mask


@dataclass(frozen=True)
class StrungStates:
    """Strings at pitch: start of a further search, unknowns (k, unknowns), crowns (k, frets) and the nut's
    lift (k,) [m], with derivatives by the lower angle; and which necks settled.
    """

    at: Guess
    carried_by_lower: Array
    trial_by_lower: Array
    unknowns: Array
    by_lower: Array
    crowns: Array
    crowns_by_lower: Array
    nut: Array
    nut_by_lower: Array
    settled: Mask

    def ahead(self, by: Array) -> Guess:
        """Linear prediction after changes of the lower angle (k,) [rad]."""
        at, by = self.at, by[:, None]
        return Guess(
            at.carried + by * self.carried_by_lower,
            at.trial + by * self.trial_by_lower,
            at.frets,
            at.slack,
        )


@dataclass
class _StrungBatch:
    """See `fem.many.search.Batch`.

    ``rows`` are those of `fem.many.batch.strung`; each step sets the rows of rod and saddle. ``diagonal``
    (k, unknowns) is the compliance of bolts and layers, ``right`` and ``rate`` (k, unknowns) the right side
    and its derivative by the lower angle.
    """

    number: Index
    rows: Array
    law: Layers
    diagonal: Array
    right: Array
    rate: Array
    unknowns: Array
    by_lower: Array
    squeeze: Array
    trial: Array
    frets: Index
    slack: Mask
    settled: Mask


def string_up_necks(
    on: Bench,
    linear: Array,
    law: Layers,
    tension: Array,
    *,
    bolted: BoltedStates,
    saddle: Array | None,
    guess: Guess,
) -> StrungStates:
    """Lock the bolts, pull the strings to pitch, set rod and saddle.

    ``linear`` comes from `fem.many.batch.strung`; ``tension`` (k, bolts) is that of the bolted state [N];
    ``saddle`` (k,) is the saddle height [m], None where the string height at the action fret sets it.
    """
    k, m, head = len(tension), on.points, on.bolts + 5
    carried, trial = (np.broadcast_to(one, (k, m)) for one in (guess.carried, guess.trial))
    unknowns = np.zeros((k, head + 2 * m))
    unknowns[:, head : head + m] = np.maximum(carried, 0.0)
    cap = law.friction * unknowns[:, head : head + m]
    unknowns[:, head + m :] = -np.clip(trial, -cap, cap)
    diagonal, right, rate = _linear_system(on, linear, law, tension, bolted, saddle)
    whole = _StrungBatch(
        number=np.arange(k),
        rows=linear,
        law=law,
        diagonal=diagonal,
        right=right,
        rate=rate,
        unknowns=unknowns,
        by_lower=np.zeros_like(unknowns),
        squeeze=carried * law.normal_compliance,
        trial=trial.copy(),
        frets=np.broadcast_to(guess.frets, (k, 2)).copy(),
        slack=np.broadcast_to(guess.slack, (k,)) | ("rod" not in on.at),
        settled=np.zeros(k, dtype=bool),
    )
    step = partial(_string_step, on, saddle)
    kept = search(whole, step, kept=("unknowns", "by_lower", "frets", "slack", "settled"))
    return _strung_states(on, whole, kept)


def _linear_system(
    on: Bench, linear: Array, law: Layers, tension: Array, bolted: BoltedStates, saddle: Array | None
) -> tuple[Array, Array, Array]:
    """Diagonal, right side and rate of `_StrungBatch`."""
    line, wanted, strings = on.question.line, on.question.wanted, on.question.strings
    b, head, shear_force = on.bolts, on.bolts + 5, on.bolts + 5 + on.points
    diagonal, right, rate = np.zeros((3, len(tension), shear_force + on.points))
    stiffness = on.question.bolting.bolt_stiffness
    diagonal[:, :b] = 1.0 / stiffness
    diagonal[:, head:shear_force] = law.normal_compliance
    diagonal[:, shear_force:] = law.tangential_compliance
    right[:, :b] = bolted.elongation - tension / stiffness
    right[:, b + 3] = wanted.relief or 0.0
    right[:, head:shear_force], right[:, shear_force:] = law.interference, bolted.slip
    rate[:, :b], rate[:, head:shear_force] = bolted.elongation_by_lower, law.lift
    rate[:, shear_force:] = bolted.slip_by_lower
    if saddle is None:
        near, share = action_fret(line, strings, wanted.height_x)
        right[:, b + 4] = (wanted.height or 0.0) - strings.nut_height * (1.0 - share) + line.planed[near]
    else:
        right[:, b + 4] = saddle
    right -= linear[:, : shear_force + on.points, -1]
    return diagonal, right, rate


def _settings(on: Bench, batch: _StrungBatch, saddle: Array | None) -> Array:
    """Rows of rod and saddle, (k, 2, unknowns + 1)."""
    line, b, crown = on.question.line, on.bolts, on.bolts + 5 + 2 * on.points
    rows = np.zeros((len(batch.number), 2, batch.rows.shape[2]))
    crowns, nut = batch.rows[:, crown:-1], batch.rows[:, -1]
    under = line.gap_rows[batch.frets].sum(axis=1)
    rows[:, 0] = (under[:, None] @ crowns)[:, 0]
    rows[:, 0, -1] += under @ line.planed
    rows[batch.slack, 0] = 0.0
    rows[batch.slack, 0, b + 3] = 1.0
    rows[batch.slack, 0, -1] = on.question.wanted.relief or 0.0
    if saddle is None:
        near, share = action_fret(line, on.question.strings, on.question.wanted.height_x)
        rows[:, 1] = (1.0 - share) * nut - crowns[:, near]
        rows[:, 1, b + 4] += share
    else:
        rows[:, 1, b + 4] = 1.0
    return rows


def _string_step(on: Bench, saddle: Array | None, batch: _StrungBatch, damping: float) -> None:
    """Solve for the closed and slipping points and update them."""
    law, head, shear_force = batch.law, on.bolts + 5, on.bolts + 5 + on.points
    closed = batch.squeeze > 0.0
    slipping = closed & (np.abs(batch.trial) * law.normal_compliance > law.friction * batch.squeeze)
    # a slipping point's shear force is proportional to its pressure: the two columns become one
    share = np.where(slipping, np.where(batch.trial < 0.0, law.friction, -law.friction), 0.0)
    place, padding = gathered(closed & ~slipping)
    each, always, pressed = np.arange(len(place))[:, None], slice(shear_force), slice(head, shear_force)

    def columns(rows: Array, out: Array) -> None:
        """Columns of the unknowns that are solved for: no shear forces of points that do not stick."""
        out[:, :, always] = rows[:, :, always]
        sheared = rows[:, :, shear_force:-1]
        out[:, :, pressed] += sheared * share[:, None]
        out[:, :, shear_force:] = np.take_along_axis(sheared, place[:, None], axis=2)

    settings = _settings(on, batch, saddle)
    system = np.empty((len(place), shear_force + place.shape[1], shear_force + place.shape[1]))
    columns(batch.rows[:, always], system[:, always])
    columns(batch.rows[each, shear_force + place], system[:, shear_force:])
    columns(settings, system[:, head - 2 : head])
    corner = np.arange(shear_force)
    system[:, corner, corner] += batch.diagonal[:, always]
    system[:, pressed, pressed][:, corner[: on.points], corner[: on.points]] += np.where(closed, 0.0, RIGID)
    corner = np.arange(place.shape[1])
    system[:, shear_force + corner, shear_force + corner] += (
        batch.diagonal[each, shear_force + place] + padding
    )
    # the forces of the previous step in the rate: exact once they repeat
    thicker = np.concatenate([law.normal_compliance_by_lower, law.tangential_compliance_by_lower], axis=1)
    right = np.stack([batch.right, batch.rate], axis=2)
    right[:, head:, 1] -= thicker * batch.unknowns[:, head:]
    right[:, head - 2 : head, 0] -= settings[:, :, -1]
    found = np.linalg.solve(
        system, np.concatenate([right[:, always], right[each, shear_force + place]], axis=1)
    )
    found[:, pressed] *= closed[:, :, None]
    for column, target in ((0, batch.unknowns), (1, batch.by_lower)):
        target[:, always] = found[:, always, column]
        target[:, shear_force:] = share * target[:, pressed]
        stuck = np.where(padding > 0.0, target[each, shear_force + place], found[:, shear_force:, column])
        target[each, shear_force + place] = stuck
    _judge(on, batch, damping, slipping=slipping)


def _judge(on: Bench, batch: _StrungBatch, damping: float, *, slipping: Mask) -> None:
    """Update the sets, and tell which necks have settled."""
    m, b, law, unknowns = on.points, on.bolts, batch.law, batch.unknowns
    head, shear_force, crown = b + 5, b + 5 + m, b + 5 + 2 * m
    wanted = on.question.wanted.relief or 0.0
    (moved,) = times(batch.rows[:, head:-1, :-1], unknowns)
    squeeze = batch.right[:, head:shear_force] - moved[:, :m]
    pressure = np.maximum(squeeze, 0.0) / law.normal_compliance
    trial = (moved[:, m : 2 * m] - batch.right[:, shear_force:]) / law.tangential_compliance
    cap = law.friction * pressure
    misfit = np.maximum(
        np.abs(pressure - unknowns[:, head:shear_force]) * law.normal_compliance,
        np.abs(np.clip(trial, -cap, cap) + unknowns[:, shear_force:]) * law.tangential_compliance,
    )
    heights = moved[:, 2 * m :] + batch.rows[:, crown:-1, -1] + on.question.line.planed
    gaps = heights @ on.question.line.gap_rows.T
    frets = extremes(gaps)
    settled = (misfit.max(axis=1) < SETTLED) & (np.all(frets == batch.frets, axis=1) | batch.slack)
    batch.frets = frets
    if on.question.one_way and "rod" in on.at:
        # a rod that would have to push is slack; a slack one that leaves too much relief is not
        relief = np.take_along_axis(gaps, frets, axis=1).sum(axis=1)
        wrong = np.where(batch.slack, relief > wanted + SETTLED, unknowns[:, b + 3] < 0.0)
        batch.slack = batch.slack ^ (settled & wrong)
        settled &= ~wrong
    batch.settled = settled
    batch.squeeze += damping * (squeeze - batch.squeeze)
    # a point whose slip reverses sticks in between
    turned = slipping & (trial * batch.trial < 0.0)
    batch.trial += damping * (np.where(turned, 0.0, trial) - batch.trial)


def _strung_states(on: Bench, whole: _StrungBatch, kept: dict[str, NDArray[Any]]) -> StrungStates:
    m, head, law = on.points, on.bolts + 5, whole.law
    shear_force, crown = head + m, head + 2 * m
    unknowns, by_lower = kept["unknowns"], kept["by_lower"]
    displacements, rates = times(whole.rows[:, head:, :-1], unknowns, by_lower)
    read = displacements[:, 2 * m :] + whole.rows[:, crown:, -1]
    carried = (whole.right[:, head:shear_force] - displacements[:, :m]) / law.normal_compliance
    trial = (displacements[:, m : 2 * m] - whole.right[:, shear_force:]) / law.tangential_compliance
    lift = whole.rate[:, head:shear_force] - rates[:, :m] - law.normal_compliance_by_lower * carried
    slid = rates[:, m : 2 * m] - whole.rate[:, shear_force:] - law.tangential_compliance_by_lower * trial
    return StrungStates(
        at=Guess(carried, trial, kept["frets"], kept["slack"]),
        carried_by_lower=lift / law.normal_compliance,
        trial_by_lower=slid / law.tangential_compliance,
        unknowns=unknowns,
        by_lower=by_lower,
        crowns=read[:, :-1],
        crowns_by_lower=rates[:, 2 * m : -1],
        nut=read[:, -1],
        nut_by_lower=rates[:, -1],
        settled=kept["settled"] & np.any(unknowns[:, head:shear_force] > 0.0, axis=1),
    )

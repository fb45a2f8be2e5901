"""Parts of the answer read from a solved case: strings, rod, states, budget, profile, checks."""

from dataclasses import asdict, replace
from math import degrees
from typing import Any

import numpy as np

from cases.casefile.stringing import strings_of
from cases.offset.answer import (
    BudgetAnswer,
    CheckAnswer,
    GainAnswer,
    GapAnswer,
    ProfileAnswer,
    ReliefAnswer,
    RodAnswer,
    StateAnswer,
    StringsAnswer,
)
from cases.offset.build import MM, StringLine, resultant, rod_stiffness, string_weights
from cases.offset.joint_history import STATES
from cases.offset.solve import Solved
from fem.results.budget import CAUSES, flex_budget, kink_row, nut_row
from fem.results.checks import StringPull, check
from fem.results.reading import Reading, pad_gaps, read, rotation_against_tongue, string_height
from fem.solve.equilibrium import State
from fem.solve.offset import Gains, Question, find_offset, gains, other_state, pair, slackened

RELIEF_STEP = 2e-5
"""Change of the relief target by which its effect is measured [m]."""


def state_fields(solved: Solved) -> dict[str, Any]:
    """Fields of the answer read from its states: relief, rod, stretch, gains, readings, profile."""
    question, pair_found = solved.question, solved.pair
    bolted, strung = pair_found.bolted, pair_found.strung
    readings = {
        "bolted": read(question, bolted),
        "slack": read(question, slackened(question, pair_found)),
        "strung": read(question, strung),
    }
    rod_slack = other_state(question, pair_found, strings=True, rod=0.0)
    loose = read(question, rod_slack)
    offsets, stretches = friction_bands(solved)
    kink_per_relief, offset_per_relief = per_relief(solved)
    turned = readings["strung"].shaft_rotation - readings["bolted"].shaft_rotation
    return {
        "strings": strings_answer(solved),
        "relief": ReliefAnswer(
            loose.relief / MM, readings["strung"].relief / MM, solved.case.targets.relief_mm
        ),
        "rod": rod_answer(solved, rod_slack),
        "heel_stretch_deg": degrees(readings["strung"].kink - readings["bolted"].kink),
        "heel_stretch_rod_slack_deg": degrees(loose.kink - readings["bolted"].kink),
        "heel_stretch_friction_band_deg": stretches,
        "preload_offset_friction_band_deg": offsets,
        "heel_rotation_deg": degrees(rotation_against_tongue(question, bolted, strung)),
        "gain": gain_answer(gains(question, pair_found)),
        "kink_per_relief_deg_mm": kink_per_relief,
        "offset_per_relief_deg_mm": offset_per_relief,
        "string_rotation_deg": degrees(turned),
        "saddle_height_mm": strung.saddle_height / MM,
        "action_mm": action(solved),
        "states": {name: _state(reading, STATES[name]) for name, reading in readings.items()},
        "fret_profile": ProfileAnswer(
            fret=tuple(range(1, len(question.line.x) + 1)),
            x_mm=tuple((question.line.x / MM).tolist()),
            z_bolted_mm=tuple((readings["bolted"].heights / MM).tolist()),
            z_strung_mm=tuple((readings["strung"].heights / MM).tolist()),
        ),
        "gaps": gap_answers(solved),
    }


def gap_answers(solved: Solved) -> tuple[GapAnswer, ...]:
    """Gap along each seat in both states."""
    question, at = solved.question, solved.pair
    bolted, strung = (pad_gaps(question, state, at.angles) for state in (at.bolted, at.strung))
    return tuple(
        GapAnswer(pad.name, *(tuple((one / MM).tolist()) for one in (points.s, off, on)))
        for pad, points, off, on in zip(
            question.pads, question.flexibility.points, bolted, strung, strict=True
        )
    )


def gain_answer(gain: Gains) -> GainAnswer:
    """Gains of both shims; empty for one shim, whose gains are in the pocket's answer."""
    return GainAnswer(*gain.pitch, *gain.kink) if len(gain.pitch) > 1 else GainAnswer(*[None] * 4)


def proof_fields(solved: Solved) -> dict[str, Any]:
    """Flex budget and checks of the answer."""
    question, at = solved.question, solved.pair
    nut = flex_budget(question, solved.fields, at, nut_row(question))
    kink = flex_budget(question, solved.fields, at, kink_row(question, at))
    closure = max(abs(b.contributions.sum() - b.total) / max(abs(b.total), 1e-12) for b in (nut, kink))
    checks = check(
        question,
        at,
        solved.fields,
        outline=solved.structure.outline,
        strings=string_pulls(solved.lines, question, at.strung),
        bolts=solved.structure.bolts,
    )
    return {
        "budget": BudgetAnswer(
            nut_rise_mm=nut.total / MM,
            heel_stretch_deg=degrees(kink.total),
            nut_rise_shares_mm={name: share / MM for name, share in nut.by_part.items()},
            heel_stretch_shares_deg={name: degrees(share) for name, share in kink.by_part.items()},
            nut_rise_by_cause_mm=_by_cause(nut.contributions / MM),
            heel_stretch_by_cause_deg=_by_cause(np.degrees(kink.contributions)),
        ),
        "checks": CheckAnswer(
            **asdict(checks), budget_closure=float(closure), mesh_error_deg=degrees(solved.mesh_error)
        ),
    }


def _by_cause(contributions: np.ndarray) -> dict[str, float]:
    return dict(zip(CAUSES, contributions.sum(axis=0).tolist(), strict=True))


def strings_answer(solved: Solved) -> StringsAnswer:
    """Strings with their tensions, 1st to last."""
    strings = [line.tension for line in solved.lines]
    return StringsAnswer(
        set=strings_of(solved.case.strings).name,
        gauges=tuple(_gauge(one.string.gauge_in, one.string.kind) for one in strings),
        notes=tuple(one.note for one in strings),
        courses=tuple(one.course for one in strings),
        tension_n=tuple(one.tension_n for one in strings),
        total_tension_n=sum(one.tension_n for one in strings),
    )


def _gauge(inches: float, kind: str) -> str:
    digits = f"{inches:.4f}".lstrip("0")
    # gauges are usual in thousandths; a fourth digit only where it is not zero
    return (digits[:-1] if digits.endswith("0") else digits) + ("w" if "wound" in kind else "")


def rod_answer(solved: Solved, slack: State) -> RodAnswer:
    """Rod setting as tension or couple, its torque with the friction band, and turns from ``slack`` at pitch.

    Turns are the rod's stretch plus the approach of its anchors, over the thread's pitch; approximate.
    """
    table, setting = solved.case.rod, solved.pair.strung.rod
    if table.kind == "none":
        return RodAnswer("none", None, None, None, None, None, None)
    lever = table.arm_mm * MM if table.kind == "two-way" else 1.0
    tension = setting / lever
    torque = table.nut_factor * abs(tension) * table.thread_diameter_mm * MM
    scatter = table.nut_factor_scatter
    rows = solved.question.flexibility.at["rod"]
    closed = -float((solved.pair.strung.displacements - slack.displacements)[rows][0])
    turned = setting / rod_stiffness(solved.case) + closed if setting else 0.0
    return RodAnswer(
        kind=table.kind,
        tension_n=tension,
        couple_n_m=setting if table.kind == "two-way" else None,
        torque_n_m=torque,
        torque_band_n_m=(torque * (1.0 - scatter), torque * (1.0 + scatter)),
        limit_torque_n_m=table.limit_torque_n_m,
        turns=turned * lever / (table.thread_pitch_mm * MM),
    )


def friction_bands(solved: Solved) -> tuple[tuple[float, float], tuple[float, float]]:
    """Offset and heel stretch at both ends of the friction band [deg]."""
    joint = solved.case.joint
    offsets, stretches = [], []
    for friction in (joint.friction_low, joint.friction_high):
        question = replace(solved.question, friction=(friction,) * len(solved.question.friction))
        at = pair(question, solved.pair.angles, start=solved.pair)
        varied, transfer = solved.pair.angles[question.varied], solved.offset.transfer
        found = find_offset(question, upper=solved.upper, start=at, lower=varied, transfer=transfer)
        offsets.append(degrees(found.offset))
        stretches.append(degrees(question.kink(at.strung) - question.kink(at.bolted)))
    return (min(offsets), max(offsets)), (min(stretches), max(stretches))


def per_relief(solved: Solved) -> tuple[float, float]:
    """Change of the strung kink, and of the offset, per mm of relief [deg/mm]."""
    question = solved.question
    if question.wanted.relief is None or solved.pair.strung.rod == 0.0:
        return 0.0, 0.0
    wanted = replace(question.wanted, relief=question.wanted.relief + RELIEF_STEP)
    there = pair(replace(question, wanted=wanted), solved.pair.angles, start=solved.pair)
    kink = degrees(question.kink(there.strung) - question.kink(solved.pair.strung)) / (RELIEF_STEP / MM)
    return kink, -kink / solved.offset.transfer


def string_pulls(lines: tuple[StringLine, ...], question: Question, strung: State) -> tuple[StringPull, ...]:
    """Tension and heights of every string; its height at the saddle follows from its own nut and action."""
    ratio = float(question.wanted.height_x) / question.strings.saddle
    weight = string_weights(lines)
    nut = np.array([line.nut_height for line in lines])
    action = np.array([line.action_height for line in lines])
    lift = ((action - weight @ action) - (1.0 - ratio) * (nut - weight @ nut)) / ratio
    return tuple(
        StringPull(line.tension.tension_n, line.nut_height, float(strung.saddle_height + up))
        for line, up in zip(lines, lift, strict=True)
    )


def action(solved: Solved) -> float:
    """Action at pitch over fret 12, mean of the strings weighted by tension [mm].

    It is the wanted action plus the height of the string line over the one that would give it.
    """
    lines, setup = solved.lines, solved.case.setup
    _, wanted_height = resultant(lines, solved.case)
    height = string_height(solved.question, solved.pair.strung, float(solved.question.line.x[11]))
    bass = np.array([line.bass for line in lines])
    wanted = setup.action_treble_mm + (setup.action_bass_mm - setup.action_treble_mm) * bass
    return float(string_weights(lines) @ wanted) + (height - wanted_height) / MM


def _state(reading: Reading, history: str) -> StateAnswer:
    return StateAnswer(
        kink_deg=degrees(reading.kink),
        kink_straightedge_deg=degrees(reading.kink_straightedge),
        kink_relief_part_deg=degrees(reading.kink_relief_part),
        tongue_gap_mm=reading.tongue_gap / MM,
        relief_mm=reading.relief / MM,
        shaft_rotation_deg=degrees(reading.shaft_rotation),
        saddle_line_mm=reading.saddle_line / MM,
        history=history,
    )

"""What each assumed number is worth: the offset's change when it is a tenth larger, on the coarse mesh, to
first order.
"""

from dataclasses import fields, is_dataclass, replace
from math import degrees
from typing import Any

import numpy as np

from cases.casefile.case import Case
from cases.offset.answer import Assumed
from cases.offset.build import question_of
from cases.offset.calibration import structure_laid
from cases.offset.solve import COARSE, Solved, with_measured_body
from fem.geometry.structure import Structure
from fem.solve.condensation import Flexibility, condense
from fem.solve.offset import Question, pair
from fem.solve.updated_flexibility import updated_flexibility
from materials.errors import NeckpreloadError

TENTH = 0.1

SHOP_ONLY = ("tolerance", "scatter", "stock", "bridge")
"""Tables that say how a shop works or aims the neck: they do not enter the offset, but for the bridge's
compensation.
"""

INERT = {
    "rod": (
        "limit_torque_n_m",
        "nut_factor",
        "nut_factor_scatter",
        "diameter_mm",
        "thread_diameter_mm",
        "thread_pitch_mm",
        "young_gpa",
    ),
    "bolts": ("torque_scatter",),
    "joint": ("friction_low", "friction_high"),
}
"""Keys that are only reported against."""

CONDENSED = {
    "shims": ("thickness_mm", "compliance_um_per_mpa", "material"),
    "bolts": ("nut_factor", "torque_n_m", "tension_n", "young_gpa", "diameter_mm"),
    "joint": ("friction",),
    "setup": ("nut_height_bass_mm", "nut_height_treble_mm", "action_bass_mm", "action_treble_mm"),
    "targets": ("relief_mm", "kink_deg", "tongue_gap_mm"),
    "bridge": ("compensation_mm",),
    "body": ("stiffness_n_m_per_rad",),
}
"""Keys that act at the condensed level: the coarse flexibility serves as it is."""

AIMING = (
    "bridge.bridge_height_mm",
    "bridge.saddle_projection_mm",
    "bridge.top_dome_mm",
    "bridge.top_to_board_mm",
)
"""Keys of the bridge that set the pitch which a flat pocket's taper must give."""

BEYOND_SHAFT = ("tongue", "block", "shims")
"""Tables that leave the shaft's sections alone."""


def assumed_effects(solved: Solved) -> tuple[Assumed, ...]:
    """Every assumed key with its effect, largest first; keys without a number come last."""
    case = solved.case
    found = []
    for key, value, source in case.assumed():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        effect, step = None, None
        if number:
            step = step_of(float(value))  # type: ignore[arg-type]
            aims = case.joint.kind == "flat-pocket" and key in AIMING
            effect = 0.0 if is_inert(key) and not aims else offset_change(solved, key, float(value))  # type: ignore[arg-type]
        shown = list(value) if isinstance(value, tuple) else value
        found.append(Assumed(key, shown, source, effect, step))
    return tuple(sorted(found, key=lambda one: (one.effect_deg is None, -abs(one.effect_deg or 0.0))))


def is_inert(key: str) -> bool:
    """Whether a key cannot change the offset."""
    table, name = key.split(".")[0], key.split(".")[-1]
    if name in CONDENSED.get(table, ()):
        return False
    return table in SHOP_ONLY or name in INERT.get(table, ())


def step_of(value: float) -> float:
    """By how much a number is made larger: a tenth of its size, or 0.1 where it is zero."""
    return TENTH * (abs(value) or 1.0)


def offset_change(solved: Solved, key: str, value: float) -> float | None:
    """Change of the offset when one number is larger by its step [deg].

    If the instrument does not allow a tenth more, a tenth less is taken with its sign turned; None if
    neither is allowed.
    """
    for sign in (1.0, -1.0):
        step = sign * step_of(value)
        try:
            return sign * degrees(_moved(solved, solved.case.with_values({key: value + step}), key))
        except NeckpreloadError:
            continue
    return None


def _moved(solved: Solved, changed: Case, key: str) -> float:
    """First-order change of the offset for a changed case, on the coarse mesh [rad]."""
    at = solved.rough_pair
    base = _on_solved_body(solved, solved.case, question_of(solved.case, solved.rough, solved.structure))
    structure = structure_laid(changed, solved.calibration)
    flexibility = rough_flexibility(solved, structure, key)
    there = _on_solved_body(solved, changed, question_of(changed, flexibility, structure))
    same_rows = flexibility.size == solved.rough.size
    state = pair(there, at.angles, start=at if same_rows else None).strung
    return -(there.misfit(state) - base.misfit(at.strung)) / solved.offset.transfer


def _on_solved_body(solved: Solved, case: Case, question: Question) -> Question:
    """A question of the coarse mesh with the body of the solved case: a measured drop gives another stiffness
    for another neck, as many times the solved one as the coarse mesh says.
    """
    if case.body.straightedge_drop_mm is None:
        return question
    own = question_of(solved.case, solved.rough, solved.structure)
    before = with_measured_body(solved.case, own).body_stiffness
    after = with_measured_body(case, question).body_stiffness
    here = solved.question.body_stiffness
    if here is None or before is None or after is None:
        return question
    return replace(question, body_stiffness=here * after / before)


def rough_flexibility(solved: Solved, structure: Structure, key: str) -> Flexibility:
    """Coarse flexibility of a changed case, condensed anew only where its bodies are others."""
    rough, before = solved.rough, solved.structure
    if same(structure, before):
        return rough
    if same(replace(structure, pads=before.pads, bolts=before.bolts), before):
        return updated_flexibility(structure, rough, solved.rough_fields)
    reuse = solved.rough_fields.bodies if key.split(".")[0] in BEYOND_SHAFT else None
    return condense(structure, COARSE, reuse=reuse, energies=False)[0]


def same(one: Any, other: Any) -> bool:
    """Whether two frozen dataclasses hold the same values, arrays and all."""
    if is_dataclass(one) and type(one) is type(other):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(np.array_equal(one, other))

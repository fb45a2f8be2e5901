"""Effect of each assumed number: change of the offset when it is a tenth larger, coarse mesh, first order."""

from dataclasses import fields, replace
from math import degrees
from typing import Any

import numpy as np

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.offset.answer import Assumed, CopiedAnswer
from cases.offset.build import question_of
from cases.offset.calibration import structure_laid
from cases.offset.solve import COARSE, MeshSolution, Solved, with_measured_body
from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.solve.condensation import condense
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question, pair
from fem.solve.other_block import with_other_block
from fem.solve.updated_flexibility import updated_flexibility
from materials.errors import NeckpreloadError

TENTH = 0.1

SHOP_ONLY = ("tolerance", "scatter", "stock", "bridge")
"""Tables without effect on the offset, except for the bridge's compensation."""

INERT = {
    "rod": (
        *("limit_torque_n_m", "nut_factor", "nut_factor_scatter", "young_gpa"),
        *("diameter_mm", "thread_diameter_mm", "thread_pitch_mm"),
    ),
    "bolts": ("torque_scatter",),
    "joint": ("friction_low", "friction_high"),
}
"""Keys that enter the report only."""

CONDENSED = {
    "shims": ("thickness_mm", "compliance_um_per_mpa", "material"),
    "bolts": ("nut_factor", "torque_n_m", "tension_n", "young_gpa", "diameter_mm"),
    "joint": ("friction",),
    "setup": ("nut_height_bass_mm", "nut_height_treble_mm", "action_bass_mm", "action_treble_mm"),
    "targets": ("relief_mm", "kink_deg", "tongue_gap_mm"),
    "bridge": ("compensation_mm",),
    "body": ("stiffness_n_m_per_rad",),
}
"""Keys that leave the flexibility unchanged."""

AIMING = tuple(
    f"bridge.{name}_mm" for name in ("bridge_height", "saddle_projection", "top_dome", "top_to_board")
)
"""Keys of the bridge that set the neck angle which the taper of a flat pocket must give."""

BEYOND_SHAFT = ("tongue", "block", "shims")
"""Tables that leave the shaft's sections unchanged."""


def assumed_effects(solved: Solved) -> tuple[Assumed, ...]:
    """Every assumed key with its effect, largest first; keys without a number last."""
    found = [
        Assumed(key, _shown(value), source, *_effect(solved, key, value))
        for key, value, source in solved.case.assumed()
    ]
    return tuple(sorted(found, key=_by_effect))


def copied_effects(solved: Solved) -> tuple[CopiedAnswer, ...]:
    """Every key copied from another case with its effect, largest first; keys without a number last."""
    found = [
        CopiedAnswer(key, _shown(value), *_effect(solved, key, value))
        for key, value in solved.case.copied.items()
    ]
    return tuple(sorted(found, key=_by_effect))


def _by_effect(one: Assumed | CopiedAnswer) -> tuple[bool, float]:
    return one.effect_deg is None, -abs(one.effect_deg or 0.0)


def _shown(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


def _effect(solved: Solved, key: str, value: object) -> tuple[float | None, float | None]:
    """Change of the offset for one step of a key, and the step; None without a number that can have one."""
    field = table_models(Case)[key.partition(".")[0]].model_fields[key.rpartition(".")[2]]
    if field.annotation is int or isinstance(value, bool) or not isinstance(value, int | float):
        return None, None
    aims = solved.case.joint.kind == "flat-pocket" and key in AIMING
    inert = is_inert(key) and not aims
    return 0.0 if inert else offset_change(solved, key, float(value)), step_of(value)


def is_inert(key: str) -> bool:
    """Whether a key cannot change the offset."""
    table, name = key.split(".")[0], key.split(".")[-1]
    if name in CONDENSED.get(table, ()):
        return False
    return table in SHOP_ONLY or name in INERT.get(table, ())


def step_of(value: float) -> float:
    """Step of a number: a tenth of its size, 0.1 where it is zero."""
    return TENTH * (abs(value) or 1.0)


def offset_change(solved: Solved, key: str, value: float) -> float | None:
    """Change of the offset when one number is larger by its step [deg].

    If the case's limits forbid the step up, minus the change for the step down; None if they forbid both.
    """
    for sign in (1.0, -1.0):
        try:
            changed = solved.case.with_values({key: value + sign * step_of(value)})
            return sign * degrees(_changed_offset(solved, changed, key))
        except NeckpreloadError:
            continue
    return None


def _changed_offset(solved: Solved, changed: Case, key: str) -> float:
    """First-order change of the offset for a changed case, on the coarse mesh [rad]."""
    coarse = solved.coarse
    before = _on_solved_body(solved, solved.case, _coarse_question(solved))
    structure = structure_laid(changed, solved.calibration)
    flexibility = changed_flexibility(solved.structure, coarse, structure, key=key)
    after = _on_solved_body(solved, changed, question_of(changed, flexibility, structure))
    same_rows = flexibility.size == coarse.flexibility.size
    state = pair(after, coarse.pair.angles, start=coarse.pair if same_rows else None).strung
    return -(after.misfit(state) - before.misfit(coarse.pair.strung)) / solved.offset.transfer


def _coarse_question(solved: Solved) -> Question:
    return question_of(solved.case, solved.coarse.flexibility, solved.structure)


def _on_solved_body(solved: Solved, case: Case, question: Question) -> Question:
    """A question on the coarse mesh with the solved case's body.

    A measured drop gives each neck another body stiffness: the solved one is scaled by the ratio that the
    coarse mesh gives.
    """
    if case.body.straightedge_drop_mm is None:
        return question
    before = with_measured_body(solved.case, _coarse_question(solved)).body_stiffness
    after = with_measured_body(case, question).body_stiffness
    here = solved.question.body_stiffness
    if here is None or before is None or after is None:
        return question
    return replace(question, body_stiffness=here * after / before)


def changed_flexibility(
    before: Structure, solution: MeshSolution, structure: Structure, *, key: str, size: MeshSize = COARSE
) -> Flexibility:
    """Flexibility of a structure with one ``key`` changed, condensed again only if its bodies changed, on a
    mesh of ``size``.
    """
    if same(structure, before):
        return solution.flexibility
    if same(replace(structure, pads=before.pads, bolts=before.bolts), before):
        return updated_flexibility(structure, solution.flexibility, solution.fields)
    if same(replace(structure, block=before.block, block_wood=before.block_wood), before):
        found = with_other_block(structure, solution.fields, size)
        if found is not None:
            return found
    reuse = solution.fields.bodies if key.split(".")[0] in BEYOND_SHAFT else None
    return condense(structure, size, reuse=reuse)[0]


def same(one: Any, other: Any) -> bool:
    """Whether two frozen dataclasses have equal values, arrays included."""
    if one is other:
        return True
    if isinstance(one, np.ndarray):
        return bool(np.array_equal(one, other))
    try:
        return bool(one == other)
    except ValueError:  # somewhere in them are arrays
        if isinstance(one, tuple):
            return len(one) == len(other) and all(map(same, one, other))
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))

"""What each assumed number is worth: the offset's change when it is a tenth larger, on the coarse mesh, to
first order.
"""

from math import degrees

from cases.answer import Assumed
from cases.build import question_of, structure_of
from cases.case import Case
from cases.mechanics import COARSE, Solved
from fem.flexibility import condense
from fem.neck import Question, pair
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


BEYOND_SHAFT = ("tongue", "block", "shims", "bolts")
"""Tables that leave the shaft's sections alone."""


def assumed_effects(solved: Solved) -> tuple[Assumed, ...]:
    """Every assumed key with its effect, largest first; keys without a number come last."""
    case = solved.case
    found = []
    for key, value, source in case.assumed():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        effect = None
        if number:
            effect = 0.0 if is_inert(key) else offset_change(solved, key, float(value))  # type: ignore[arg-type]
        found.append(Assumed(key, list(value) if isinstance(value, tuple) else value, source, effect))
    return tuple(sorted(found, key=lambda one: (one.effect_deg is None, -abs(one.effect_deg or 0.0))))


def is_inert(key: str) -> bool:
    """Whether a key cannot change the offset."""
    table, name = key.split(".")[0], key.split(".")[-1]
    if name in CONDENSED.get(table, ()):
        return False
    return table in SHOP_ONLY or name in INERT.get(table, ())


def offset_change(solved: Solved, key: str, value: float) -> float | None:
    """Change of the offset when one number is a tenth larger (0.1 when it is zero) [deg].

    If the instrument does not allow a tenth more, a tenth less is taken with its sign turned; None if
    neither is allowed.
    """
    for sign in (1.0, -1.0):
        step = sign * TENTH * (abs(value) or 1.0)
        try:
            return sign * degrees(_moved(solved, solved.case.with_values({key: value + step}), key))
        except NeckpreloadError:
            continue
    return None


def _moved(solved: Solved, changed: Case, key: str) -> float:
    """First-order change of the offset for a changed case, on the coarse mesh [rad]."""
    base = _question(solved, solved.case, key, again=False)
    at = solved.rough_pair
    table, name = key.split(".")[0], key.split(".")[-1]
    again = name not in CONDENSED.get(table, ())
    there = _question(solved, changed, key, again=again)
    state = pair(there, at.angles, start=None if again else at).strung
    return -(there.misfit(state) - base.misfit(at.strung)) / solved.offset.transfer


def _question(solved: Solved, case: Case, key: str, *, again: bool) -> Question:
    structure = structure_of(case)
    shaft = solved.fields.bodies.shaft if key.split(".")[0] in BEYOND_SHAFT else None
    flexibility = condense(structure, COARSE, shaft=shaft)[0] if again else solved.rough
    return question_of(case, flexibility, structure)

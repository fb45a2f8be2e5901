"""What the wood under a bolt's washer bears, for years and at all."""

from collections.abc import Iterable

from cases.casefile.case import Case
from cases.casefile.errors import CaseError, Problem
from cases.offset.woods import wood_of
from fem.geometry.hardware import Bolt
from fem.joint.bolt import washer_area

LONG_TERM_PART = 0.5
"""Part of the proportional limit across the grain allowed under a washer for years: common practice, no
source.
"""
CRUSHED = 4.0
"""Multiple of the tension allowed for years at which a bolt is refused: twice the proportional limit, where
the washer sinks in and a linear model says nothing. A choice.
"""


def lasting_tension(case: Case, bolt: Bolt) -> float:
    """Largest tension whose pressure under the washer the block's wood withstands for years [N]."""
    return wood_of(case, case.block).compression_across * LONG_TERM_PART * washer_area(bolt)


def refuse_crushing(case: Case, bolts: Iterable[Bolt]) -> None:
    """Refuse a case with a bolt that crushes the wood under its washer: `CaseError`."""
    problems = []
    for table, bolt in zip(case.bolts, bolts, strict=True):
        most = CRUSHED * lasting_tension(case, bolt)
        if bolt.tension <= most:
            continue
        key, given, unit = "tension_n", table.tension_n, "N"
        if table.torque_n_m is not None:
            key, given, unit = "torque_n_m", table.torque_n_m, "N m"
            most *= table.nut_factor * bolt.diameter
        wrong = (
            f"too large: it crushes the {case.block.wood} under its {table.washer_diameter_mm:g} mm washer"
        )
        allowed = f"at most {most:.3g} {unit}, and for years {most / CRUSHED:.3g} {unit}"
        remedy = "correct it, or use a wider washer; do not tighten a bolt so far"
        problems.append(Problem(f"bolts.{table.name}.{key}", f"{given:g}", wrong, allowed, remedy))
    if problems:
        raise CaseError(case.name, problems)

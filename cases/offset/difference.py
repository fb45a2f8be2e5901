"""Uncertainty of the difference between the offsets of two cases: what both share cancels."""

from dataclasses import dataclass
from math import sqrt

from cases.casefile.case import Case
from cases.casefile.stringing import strings_of
from cases.offset.answer import Answer
from cases.offset.preload import preload
from cases.offset.scatter import NINETY, sources


@dataclass(frozen=True)
class Solution:
    """A case and its answer."""

    case: Case
    answer: Answer

    @property
    def effects(self) -> dict[str, float]:
        """Effect of one standard deviation more of each source on the offset [deg]."""
        return {one.name: one.per_deviation_deg for one in self.answer.scatter}


def solution(case: Case) -> Solution:
    """Solve a case for comparison with others. Raises as `preload`."""
    return Solution(case, preload(case, effects=False))


def shared_sources(one: Case, other: Case) -> frozenset[str]:
    """Names of the sources of scatter that two cases share, if both are the same guitar.

    Woods, shim layers and bolts if they are the same pieces, tightened in the same way with the same tool;
    strings if it is the same set. The wrench is the same.
    """
    parts = {"neck wood": "neck", "fretboard wood": "fretboard", "block wood": "block"}
    same = [
        name
        for name, table in parts.items()
        if all(one.value(f"{table}.{key}") == other.value(f"{table}.{key}") for key in ("wood", "e_l_gpa"))
    ]
    found = [*same, "torque of all bolts"]
    found += [f"bolt {bolt.name}" for bolt in one.bolts if bolt in other.bolts]
    if [shim.material for shim in one.shims] == [shim.material for shim in other.shims]:
        found += ["shim layers", "bedding"]
    if strings_of(one.strings).courses == strings_of(other.strings).courses:
        found.append("string tension")
    names = {source.name for case in (one, other) for source in sources(case)}
    return frozenset(name for name in names if any(_part_of(name, whole) for whole in found))


def _part_of(name: str, whole: str) -> bool:
    """Whether a source is ``whole`` or one of its parts, as "neck wood, across and shear"."""
    return name == whole or name.startswith((f"{whole},", f"{whole}:"))


def change_band(first: Solution, other: Solution, *, same_guitar: bool) -> tuple[float, float]:
    """Band of the offset of ``other`` minus that of ``first`` in 90 % of guitars [deg].

    A source that both share counts with the difference of its two effects, any other with both effects. The
    differences at the least and at the most friction, the same for both, widen the band.

    Parameters
    ----------
    same_guitar : whether both are one guitar; otherwise nothing is shared but the friction.
    """
    shared = shared_sources(first.case, other.case) if same_guitar else frozenset()
    variance = 0.0
    for name in first.effects.keys() | other.effects.keys():
        here, there = first.effects.get(name, 0.0), other.effects.get(name, 0.0)
        variance += (there - here) ** 2 if name in shared else there**2 + here**2
    half = NINETY * sqrt(variance)
    ends = zip(
        first.answer.preload_offset_friction_band_deg or (),
        other.answer.preload_offset_friction_band_deg or (),
        strict=True,
    )
    changes = [other.answer.offset_deg - first.answer.offset_deg, *(there - here for here, there in ends)]
    return min(changes) - half, max(changes) + half

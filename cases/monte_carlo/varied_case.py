"""A case whose moduli, and whatever acts on the condensed system, can be changed without meshing it anew."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from math import log, radians

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.casefile.errors import CaseError, Problem
from cases.offset.build import block_plate, question_of, structure_of, wood_plate, wood_of
from cases.offset.solve import aimed_upper, with_measured_body
from fem.geometry.structure import Structure
from fem.solve.condensation import Flexibility
from fem.solve.offset import Question
from materials.orientation import ring_angle
from materials.wood import Wood

Array = NDArray[np.float64]

ACTING = ("young", "shear", "middle", "compliance", "name")
"""What of a pad acts on the condensed system alone."""


@dataclass(frozen=True)
class VariedCase:
    """A case as `fem.many.reduced_model.Model` sees it; ``base`` is the one it was built on."""

    case: Case
    base: Case

    @property
    def upper(self) -> float:
        """The upper shim angle at which the question is asked [rad]."""
        return aimed_upper(self.case)

    def structure(self, multiples: Array) -> Structure:
        """The base case with its moduli multiplied, see `fem.many.moduli.NAMES`."""
        base = self.base
        neck = scaled(wood_of(base.neck), *multiples[:3])
        board = scaled(wood_of(base.fretboard), multiples[3], multiples[4], multiples[4])
        block = scaled(wood_of(base.block), *multiples[5:])
        whole = structure_of(base)
        return replace(
            whole,
            neck=wood_plate(
                neck, ring=ring_angle(base.neck.ring_orientation), runout=radians(base.neck.grain_runout_deg)
            ),
            board=wood_plate(board, ring=ring_angle(base.fretboard.ring_orientation)),
            stem=block_plate(block, grain=base.block.grain),
        )

    def question(self, flexibility: Flexibility) -> Question:
        """The question of the case on another flexibility."""
        asked = question_of(self.case, flexibility, structure_of(self.case))
        return with_measured_body(self.case, asked)

    def with_values(self, values: Mapping[str, object]) -> "tuple[VariedCase, Array]":
        """The case with some keys set, and the multiples of its moduli, (8,).

        Raises
        ------
        CaseError
            If a key does not exist, a value is not allowed, or the shape would change.
        """
        changed = self.case.with_values(dict(values))
        if shape(structure_of(changed)) != shape(structure_of(self.base)):
            raise _not_covered(self.base, values)
        multiples = np.concatenate(
            [
                _multiples(wood_of(self.base.neck), wood_of(changed.neck)),
                _multiples(wood_of(self.base.fretboard), wood_of(changed.fretboard), together=True),
                _multiples(wood_of(self.base.block), wood_of(changed.block)),
            ]
        )
        if not np.all(np.isfinite(multiples)):
            raise _not_covered(self.base, values)
        return VariedCase(changed, self.base), multiples


def scaled(wood: Wood, along: float, across: float, shear: float) -> Wood:
    """A wood with its moduli along, across and in shear multiplied; Poisson's ratios stay."""
    return replace(
        wood,
        e_l=wood.e_l * along,
        e_r=wood.e_r * across,
        e_t=wood.e_t * across,
        g_lr=wood.g_lr * shear,
        g_lt=wood.g_lt * shear,
        g_rt=wood.g_rt * shear,
    )


def _multiples(base: Wood, other: Wood, *, together: bool = False) -> list[float]:
    """Moduli of a wood over those of another; nan where its directions do not go together."""
    along = other.e_l / base.e_l
    across = [other.e_r / base.e_r, other.e_t / base.e_t]
    shear = [other.g_lr / base.g_lr, other.g_lt / base.g_lt, other.g_rt / base.g_rt]
    groups = [across + shear] if together else [across, shear]
    same = all(abs(log(one / group[0])) < 1e-9 for group in groups for one in group)
    same = same and (base.nu_lr, base.nu_lt, base.nu_rt) == (other.nu_lr, other.nu_lt, other.nu_rt)
    return [along, *(group[0] for group in groups)] if same else [float("nan")] * (1 + len(groups))


def shape(structure: Structure) -> str:
    """Everything of an instrument that its mesh and rows hang on, as text; exact, since equal cases give
    equal numbers.
    """
    parts = {one.name: getattr(structure, one.name) for one in fields(structure)}
    for wood in ("neck", "board", "stem"):
        parts.pop(wood)
    parts["pads"] = tuple(
        tuple(getattr(pad, one.name) for one in fields(pad) if one.name not in ACTING)
        for pad in structure.pads
    )
    parts["bolts"] = tuple(
        replace(bolt, tension=0.0, young=0.0, diameter=bolt.diameter) for bolt in structure.bolts
    )
    parts["frets"] = tuple(structure.frets)
    return repr(parts)


def _not_covered(case: Case, values: Mapping[str, object]) -> CaseError:
    problem = Problem(
        ", ".join(values),
        "",
        "this changes the shape or takes a wood whose moduli keep other proportions, "
        "which a reduced model does not cover",
        "moduli along the grain, bolt tensions, friction, shim material, strings, set-up, targets",
        "solve the changed case by itself",
    )
    return CaseError(case.name, (str(problem),))

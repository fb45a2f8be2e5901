"""A case with changed moduli, loads and settings on the mesh of its base case."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from math import log

import numpy as np

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.offset.build import question_of, structure_of
from cases.offset.solve import aimed_upper, with_measured_body
from cases.offset.woods import Woods, woods_of
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question
from materials.wood import Wood

ACTING = ("young", "shear", "middle", "compliance", "name")
"""Fields of a pad that leave the flexibility unchanged."""


@dataclass(frozen=True)
class VariedCase:
    """A case as a `fem.many.reduced_model.Model`; the reduced model was built on ``base``."""

    case: Case
    base: Case

    @property
    def upper(self) -> float:
        """Upper shim angle [rad]."""
        return aimed_upper(self.case)

    def structure(self, multiples: Array) -> Structure:
        """Structure of the base case with its moduli multiplied, in the order of `fem.many.moduli.NAMES`."""
        own = woods_of(self.base)
        e_neck, neck_across, neck_shear, e_board, board_rest, *block = multiples
        woods = Woods(
            neck=own.neck.scaled(along=e_neck, across=neck_across, shear=neck_shear),
            board=own.board.scaled(along=e_board, across=board_rest, shear=board_rest),
            block=own.block.scaled(along=block[0], across=block[1], shear=block[2]),
        )
        return structure_of(self.base, woods=woods)

    def question(self, flexibility: Flexibility) -> Question:
        """Question of the case on another flexibility."""
        asked = question_of(self.case, flexibility, structure_of(self.case))
        return with_measured_body(self.case, asked)

    def with_values(self, values: Mapping[str, object]) -> "tuple[VariedCase, Array]":
        """The case with some keys set, and its moduli over the base's, (8,). Raises `CaseError` if a key does
        not exist, a value is not allowed, or the shape would change.
        """
        changed = self.case.with_values(dict(values))
        own, other = woods_of(self.base), woods_of(changed)
        multiples = np.array(
            _multiples(own.neck, other.neck)
            + _multiples(own.board, other.board, together=True)
            + _multiples(own.block, other.block)
        )
        same_shape = shape(structure_of(changed)) == shape(structure_of(self.base))
        if not (same_shape and np.all(np.isfinite(multiples))):
            wrong = "this changes the shape, or needs a wood with other ratios of moduli, "
            wrong += "which a reduced model does not cover"
            allowed = (
                "moduli along the grain, bolt tensions, friction, shim material, strings, set-up, targets"
            )
            remedy = "solve the changed case in full"
            raise Problem(", ".join(values), "", wrong, allowed, remedy).error(self.base.name)
        return VariedCase(changed, self.base), multiples


def _multiples(base: Wood, other: Wood, *, together: bool = False) -> list[float]:
    """Moduli of a wood over the base's; nan if those of one group differ in their ratios.

    Groups are across and shear, or both ``together``.
    """
    along = other.e_l / base.e_l
    across = [other.e_r / base.e_r, other.e_t / base.e_t]
    shear = [other.g_lr / base.g_lr, other.g_lt / base.g_lt, other.g_rt / base.g_rt]
    groups = [across + shear] if together else [across, shear]
    same = all(abs(log(one / group[0])) < 1e-9 for group in groups for one in group)
    same = same and (base.nu_lr, base.nu_lt, base.nu_rt) == (other.nu_lr, other.nu_lt, other.nu_rt)
    return [along, *(group[0] for group in groups)] if same else [float("nan")] * (1 + len(groups))


def shape(structure: Structure) -> str:
    """Everything that determines mesh and rows, as text; exact, since equal cases give equal numbers."""
    parts = {one.name: getattr(structure, one.name) for one in fields(structure)}
    for wood in ("neck", "board", "block_wood"):
        parts.pop(wood)
    parts["pads"] = tuple(
        tuple(getattr(pad, one.name) for one in fields(pad) if one.name not in ACTING)
        for pad in structure.pads
    )
    parts["bolts"] = tuple(replace(bolt, tension=0.0, young=0.0) for bolt in structure.bolts)
    parts["frets"] = tuple(structure.frets)
    return repr(parts)

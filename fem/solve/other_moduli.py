"""The condensed flexibility for other moduli, without a new condensation (docs/theory-joint.md, section 9).

A Galerkin step: the displacements of the changed instrument are sought among those that the condensation
found for unit row forces, neck and block each by themselves. It is exact where all of the neck, all of the
block or both scale, right to first order in every ratio of moduli, and always a little too stiff.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from fem.geometry.outline import Array

LEAST = 1e-11
"""Smallest stiffness of a displacement pattern that counts, as a part of the largest: below is rounding."""


@dataclass(frozen=True)
class OtherModuli:
    """Stiffness in the coordinates of the known displacement patterns, neck first.

    Attributes
    ----------
    rows : (n, patterns) displacement of the rows per pattern.
    springs : (patterns, patterns) stiffness of the grounding springs; they do not change.
    parts : part of each modulus, by name, with the first of its patterns.
    """

    rows: Array
    springs: Array
    parts: dict[str, tuple[int, Array]]

    def flexibility(self, multiples: Mapping[str, float]) -> Array:
        """The grounded flexibility (n, n) with moduli multiplied; those not named stay."""
        stiffness = self.springs.copy()
        for name, (first, part) in self.parts.items():
            here = slice(first, first + len(part))
            stiffness[here, here] += multiples.get(name, 1.0) * part
        # half a solution: rows (L L^T)^-1 rows^T is a product of one matrix with itself
        half = solve_triangular(cholesky(stiffness, lower=True), self.rows.T, lower=True)
        return np.asarray(half.T @ half)


def other_moduli(
    matrix: Array, of_block: Array, reference: Array, modulus: Mapping[str, Array], *, block: tuple[str, ...]
) -> OtherModuli:
    """Prepare from a flexibility's fields; ``block`` names the moduli of the block."""
    rows: list[Array] = []
    parts: dict[str, tuple[int, Array]] = {}
    for ours, moved in ((False, matrix - of_block), (True, of_block)):
        own = {name: one for name, one in modulus.items() if (name in block) is ours}
        basis = _basis(sum(own.values(), moved.T @ (reference[:, None] * moved)), np.diag(matrix))
        first = sum(one.shape[1] for one in rows)
        parts |= {name: (first, basis.T @ one @ basis) for name, one in own.items()}
        rows.append(moved @ basis)
    whole = np.hstack(rows)
    return OtherModuli(whole, whole.T @ (reference[:, None] * whole), parts)


def _basis(stiffness: Array, energy: Array) -> Array:
    """Combinations of patterns (n, k) with stiffness one each; patterns that repeat others are left out, and
    those with none of the row force's ``energy`` (n,), such as the rod's in the block.
    """
    moving = np.diag(stiffness) > LEAST * energy
    size = np.sqrt(np.where(moving, np.diag(stiffness), np.inf))
    values, vectors = np.linalg.eigh(stiffness / np.outer(size, size))
    kept = values > LEAST * values[-1]
    return np.asarray(vectors[:, kept] / np.sqrt(values[kept]) / size[:, None])

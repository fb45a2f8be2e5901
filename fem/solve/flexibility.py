"""The condensed instrument: a dense flexibility between the few loaded or read rows."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.joint.shim_layer import PadPoints
from fem.solve.assembly import OF_BLOCK
from fem.solve.other_moduli import OtherModuli, other_moduli


@dataclass(frozen=True)
class Flexibility:
    """Displacements of the rows per unit row force, with the interface points grounded by reference springs.

    Attributes
    ----------
    matrix : (n, n) symmetric array [m/N and mixed].
    at : row numbers by kind, see `fem.solve.assembly.Rows`.
    reference : (n,) stiffness of the grounding springs [N/m], zero except at openings and slips.
    points : interface points of each pad.
    rigid : (n, 3) displacement of the rows when neck and beam move rigidly by a unit of x, z or rotation
      about the joint corner (positive lifts the nut).
    of_block : (n, n) part of the block's own displacements in ``matrix``.
    budget, modulus : (n, n) arrays X^T K_part X: twice the strain energy of each part is a^T B a for row
      forces a; ``modulus`` is by the names of `fem.solve.assembly.MODULUS`.
    reactions : (3, n) force x, z and moment about the joint corner on the held edges per unit row force.
    """

    matrix: Array
    at: dict[str, NDArray[np.int64]]
    reference: Array
    points: tuple[PadPoints, ...]
    rigid: Array
    of_block: Array
    budget: dict[str, Array]
    modulus: dict[str, Array]
    reactions: Array

    @property
    def size(self) -> int:
        """Number of rows."""
        return len(self.reference)

    def with_moduli(self, multiples: Mapping[str, float]) -> "Flexibility":
        """The flexibility with moduli multiplied, by the names of ``modulus``, see `fem.solve.other_moduli`.

        The grounding springs are unchanged; every use of the flexibility removes them exactly.
        """
        return replace(self, matrix=self._other_moduli.flexibility(multiples))

    @cached_property
    def _other_moduli(self) -> OtherModuli:
        return other_moduli(self.matrix, self.of_block, self.reference, self.modulus, block=OF_BLOCK)


def stiffened(c: Array, rows: NDArray[np.int64], stiffness: Array) -> Array:
    """Flexibility when ``stiffness`` (k, k) acts on some rows as well: ``C - C (1 + K C)^-1 K C``."""
    inner = np.linalg.solve(np.eye(len(rows)) + stiffness @ c[np.ix_(rows, rows)], stiffness @ c[rows])
    return np.asarray(c - c[:, rows] @ inner)

"""The condensed instrument: a dense flexibility between the few loaded or read rows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.errors import ModelError
from fem.geometry.outline import Array
from fem.joint.shim_layer import PadPoints
from fem.solve.other_moduli import OtherModuli


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
    reactions : (3, n) force x, z and moment about the joint corner on the held edges per unit row force.
    moduli : what gives the flexibility for other moduli, or a function that works it out when first asked;
      None if the flexibility is not that of one condensation.
    """

    matrix: Array
    at: dict[str, NDArray[np.int64]]
    reference: Array
    points: tuple[PadPoints, ...]
    rigid: Array
    reactions: Array
    moduli: OtherModuli | Callable[[], OtherModuli] | None = None

    @property
    def size(self) -> int:
        """Number of rows."""
        return len(self.reference)

    def with_moduli(self, multiples: Mapping[str, float]) -> "Flexibility":
        """The flexibility with moduli multiplied, by the names of `fem.solve.assembly.MODULUS`, see
        `fem.solve.other_moduli`.

        The grounding springs are unchanged; every use of the flexibility removes them exactly. Raises
        `ModelError` if the flexibility is not that of one condensation.
        """
        found = self.on_its_own().moduli
        if not isinstance(found, OtherModuli):
            raise ModelError("A flexibility that is not that of one condensation has no other moduli.")
        return replace(self, matrix=found.flexibility(multiples))

    def on_its_own(self) -> "Flexibility":
        """The flexibility with ``moduli`` worked out: without the fields, it can go to another process."""
        return replace(self, moduli=self.moduli()) if callable(self.moduli) else self


def stiffened(c: Array, rows: NDArray[np.int64], stiffness: Array) -> Array:
    """Flexibility when ``stiffness`` (k, k) acts on some rows as well: ``C - C (1 + K C)^-1 K C``."""
    inner = np.linalg.solve(np.eye(len(rows)) + stiffness @ c[np.ix_(rows, rows)], stiffness @ c[rows])
    return np.asarray(c - c[:, rows] @ inner)

"""From the rows of a condensed instrument back to its bodies: displacements everywhere, energies by part."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp

from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.solve import assembly
from fem.solve.assembly import Bodies, Piece
from fem.solve.flexibility import Flexibility
from fem.solve.held_block import held_block
from fem.solve.other_moduli import OtherModuli, other_moduli
from fem.solve.widening import LOCAL_MODULUS, Widening


@dataclass(frozen=True)
class Fields:
    """Matrices that lead from row forces back to displacements everywhere.

    ``whole`` is the condensed flexibility that the searches use.
    """

    structure: Structure
    bodies: Bodies
    pieces: dict[str, Piece]
    """Stiffness of each piece of the flex budget."""
    all_rows: sp.csr_matrix
    """The plates' rows over all unknowns, (plates, size)."""
    transformation: sp.csr_matrix
    response: Array
    """Free unknowns per unit row force on the plates, (free, plates)."""
    stiffness: sp.csr_matrix
    """Stiffness over all unknowns, without grounding springs."""
    rows: sp.csr_matrix
    """The plates' rows over the free unknowns, (plates, free)."""
    solve: Callable[[Array], Array]
    """Free unknowns under further loads on the grounded structure."""
    plates: Flexibility
    """The flexibility with one contact point across a pad and without local compliance."""
    widening: Widening
    whole: Flexibility

    def displacement(self, forces: Array) -> Array:
        """Displacement of all unknowns under row forces, grounding included [m]; order as `Bodies.size`."""
        return np.asarray(self.transformation @ (self.response @ (self.widening.plates @ forces)))

    def energies(self, forces: Array, others: Array) -> dict[str, Array]:
        """Work of one set of row forces (n,) on the strains of others (n, k) in each part of the flex budget
        (k,) [J]; for equal forces it is twice the strain energy.
        """
        ours, theirs = self.displacement(forces), self.displacement(others)
        found = {}
        for share, names in assembly.BUDGET.items():
            found[share] = np.zeros(others.shape[1])
            for piece in (self.pieces[name] for name in names if name in self.pieces):
                here = slice(piece.first, piece.first + piece.matrix.shape[0])
                found[share] += ours[here] @ (piece.matrix @ theirs[here])
        carried = self.widening.carried
        for share, part in self.widening.local.items():
            found[share] += (carried @ forces) @ part @ (carried @ others)
        return found

    @cached_property
    def block_alone(self) -> Array:
        """Flexibility of the held block by itself between the plates' openings, slips and bolts."""
        joint = np.concatenate([self.plates.at[kind] for kind in ("opening", "slip", "bolt")])
        first = self.bodies.line.size + 2 * self.bodies.neck.size
        return held_block(self.structure, self.bodies.block, self.all_rows[joint, first:])

    @cached_property
    def other_moduli(self) -> OtherModuli:
        """What gives the flexibility for other moduli."""
        everywhere = self.transformation @ self.response
        modulus = self._by_modulus(everywhere)
        first = self.bodies.line.size + 2 * self.bodies.neck.size
        of_block = self.all_rows[:, first:] @ everywhere[first:]
        widening, whole = self.widening, self.whole
        modulus = {name: widening.plates.T @ one @ widening.plates for name, one in modulus.items()}
        of_block = widening.spread @ of_block @ widening.plates
        joint = np.concatenate([whole.at[kind] for kind in ("opening", "slip", "bolt")])
        of_block[joint] += widening.local["block"] @ widening.carried
        for part, name in LOCAL_MODULUS.items():
            modulus[name] += widening.carried.T @ widening.local[part] @ widening.carried
        return other_moduli(whole.matrix, of_block, whole.reference, modulus, block=assembly.OF_BLOCK)

    def _by_modulus(self, everywhere: Array) -> dict[str, Array]:
        """``X^T K_part X`` by modulus from the displacements X of all unknowns per unit row force."""
        pieces = self.pieces | assembly.along_pieces(self.structure, self.bodies)
        energy = {}
        for name in {name for terms in assembly.MODULUS.values() for name, _ in terms} & pieces.keys():
            piece = pieces[name]
            touched = np.flatnonzero(np.diff(piece.matrix.indptr))
            local = everywhere[piece.first : piece.first + piece.matrix.shape[0]]
            product = local[touched].T @ (piece.matrix[touched] @ local)
            energy[name] = 0.5 * (product + product.T)
        return {
            name: sum(factor * energy[one] for one, factor in terms if one in energy)
            for name, terms in assembly.MODULUS.items()
            if any(one in energy for one, _ in terms)
        }

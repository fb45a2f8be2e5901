"""The block by itself, held on its glued edges."""

import numpy as np
import scipy.sparse as sp

from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.members import tie
from fem.members.plate import Plate
from fem.solve import assembly
from fem.solve.factorisation import factored


def held_block(structure: Structure, block: Plate, rows: sp.csr_matrix) -> Array:
    """Flexibility (n, n) of the block on its held edges between rows (n, 2 block.size) over its unknowns."""
    held = tie.held_nodes(block, structure.outline, structure.block, structure.held)
    keep = np.setdiff1d(np.arange(2 * block.size), np.concatenate([held, held + block.size]))
    stiffness = sp.csc_matrix(assembly.block_stiffness(structure, block)[keep][:, keep])
    load = rows[:, keep].T.toarray()
    displacements = load.T @ factored(stiffness)(load)
    return np.asarray(0.5 * (displacements + displacements.T))

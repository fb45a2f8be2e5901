"""The unit of the benchmarks: one assembly, factorisation and set of right-hand sides of the default mesh.

Nothing that solves the neck once takes less. A ratio to this *floor*, both measured in one run on one thread,
hardly depends on the machine or on what else runs there.
"""

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy.sparse as sp

from cases import load
from cases.offset.build import structure_of
from cases.offset.solve import FINE
from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.solve import assembly
from fem.solve.condensation import grounding
from fem.solve.factorisation import factored

NAME = "fourteen-mahogany"
Picked = Callable[[list[float]], float]


def seconds(function: Callable[[], object], *, rounds: int = 5, pick: Picked = statistics.median) -> float:
    """Processor time of a call [s]; ``pick`` chooses among the rounds."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        function()
        taken.append(time.process_time() - start)
    return pick(taken)


@dataclass(frozen=True)
class System:
    """The equations of an instrument on one mesh, as its condensation solves them."""

    structure: Structure
    body: assembly.Bodies

    @cached_property
    def rows(self) -> assembly.Rows:
        return assembly.reading_rows(self.structure, self.body)

    @cached_property
    def link(self) -> sp.csr_matrix:
        return assembly.link(self.structure, self.body)

    @cached_property
    def right(self) -> sp.csr_matrix:
        """Right-hand sides: a unit force on each row, (rows, free)."""
        return sp.csr_matrix(self.rows.matrix @ self.link)

    def whole(self) -> sp.csr_matrix:
        """The stiffness over all unknowns, assembled from the mesh alone."""
        # a copy of a plate has no strains yet
        body = replace(self.body, neck=replace(self.body.neck), block=replace(self.body.block))
        return assembly.whole_stiffness(body, assembly.stiffness_pieces(self.structure, body))

    @cached_property
    def grounded(self) -> sp.csc_matrix:
        """The matrix that is factorised."""
        springs = np.zeros(self.right.shape[0])
        for kind in ("opening", "slip"):
            springs[self.rows.at[kind]] = grounding(self.structure, self.rows.points)
        on_rows = self.right.T @ sp.diags(springs) @ self.right
        return sp.csc_matrix(self.link.T @ self.whole() @ self.link + on_rows)


def system(size: MeshSize, *, name: str = NAME) -> System:
    """The equations of an instrument of the library on a mesh."""
    structure = structure_of(load(name))
    return System(structure, assembly.bodies(structure, size))


def floor() -> float:
    """Processor time of the floor [s]."""
    one = system(FINE)
    solve, right = factored(one.grounded), one.right.T.toarray()
    return seconds(one.whole) + seconds(lambda: factored(one.grounded)) + seconds(lambda: solve(right))

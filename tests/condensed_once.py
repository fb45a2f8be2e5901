"""An instrument that many tests solve is condensed once for all of them."""

import functools
import pickle
from collections import OrderedDict

from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.solve import condensation
from fem.solve.assembly import Bodies
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility

KEPT = 16
"""Results kept at a time; each holds a factored matrix."""


def condense_once() -> None:
    """Put a cache by value before `fem.solve.condensation.condense`; call it before others import that name.

    Its `cache_clear` serves the deliberate breakages, which empty every cache of the project.
    """
    plain = condensation.condense
    kept: OrderedDict[bytes, tuple[Flexibility, Fields]] = OrderedDict()

    @functools.wraps(plain)
    def condense(
        structure: Structure, size: MeshSize, *, reuse: Bodies | None = None
    ) -> tuple[Flexibility, Fields]:
        key = pickle.dumps((structure, size))
        if key not in kept:
            kept[key] = plain(structure, size, reuse=reuse)
        kept.move_to_end(key)
        while len(kept) > KEPT:
            kept.popitem(last=False)
        return kept[key]

    condense.cache_clear = kept.clear  # type: ignore[attr-defined]
    condensation.condense = condense

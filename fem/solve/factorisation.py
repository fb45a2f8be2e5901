"""A sparse symmetric stiffness, factorised once for many columns."""

from collections.abc import Callable

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from fem.errors import ModelError
from fem.geometry.outline import Array

LEAST_PIVOT = 1e-10
"""Smallest pivot as a fraction of its diagonal entry: instruments of the library leave more than 1e-3, a body
that can move freely leaves rounding."""
SOLVED_AT_ONCE = 24
"""Columns of a right-hand side solved at once."""


def factored(grounded: sp.csc_matrix) -> Callable[[Array], Array]:
    """Solver for several columns at once with a symmetric stiffness (n, n); raises `ModelError` if a body can
    move freely.
    """
    unsupported = ModelError(
        "The model is not supported: a body can move freely. "
        "Hold at least one edge of the block and keep both pads."
    )
    options = {"SymmetricMode": True}
    try:
        factor = splu(grounded, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
    except RuntimeError as singular:
        raise unsupported from singular
    # in a free motion the pivot is only rounding: tiny or negative beside its diagonal entry
    pivots = factor.U.diagonal()[factor.perm_c] / grounded.diagonal()
    if not np.all(pivots > LEAST_PIVOT):
        raise unsupported

    def solve(rows: Array) -> Array:
        # a few columns at a time stay in the processor's cache: all at once take half as long again
        blocks = np.array_split(rows, max(1, rows.shape[1] // SOLVED_AT_ONCE), axis=1)
        response = np.hstack([factor.solve(block) for block in blocks])
        if not np.all(np.isfinite(response)):
            raise unsupported
        return response

    return solve

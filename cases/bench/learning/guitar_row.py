"""What a log says about one guitar, as residuals of a model with parameters to be learned."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Row:
    """What a log says about one guitar, for `calibrate.learned_of` and `follow`.

    ``residuals``, ``errors`` : (n,) saddle, misfit and bolted kink of the last pair, then the bolted kink of
    each pair that was changed before the strings went on; ``slopes`` : (n, 4) their change per learned
    parameter; ``scatter`` : (n, n) their covariance about a model with the true parameters.
    ``tested`` : (n,) what a test of this neck has already told of the residuals, zeros without one.
    """

    residuals: Array
    slopes: Array
    scatter: Array
    errors: Array
    tested: Array

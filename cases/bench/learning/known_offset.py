"""Calibration from an offset that a shop knows from experience."""

from datetime import datetime
from math import hypot, sqrt

import numpy as np

from cases.bench.shims.strung_neck import Bench
from cases.offset.calibration import KINK_BIAS, Calibration, calibration_of
from materials.errors import InputError

LARGEST_DEG = 0.5


def known_offset(bench: Bench, offset_deg: float, *, guitars: int, created: datetime) -> Calibration:
    """Calibration that gives the case of a bench the known offset.

    Error of an offset known on n guitars: scatter of one guitar over the square root of n, and rounding to
    the step of the stock. Raises `InputError` if offset or number of guitars are impossible.

    ``bench`` : the case without a calibration.
    """
    if abs(offset_deg) > LARGEST_DEG:
        raise InputError(
            f"A known offset of {offset_deg:g} deg is not allowed; -0.5 to 0.5 deg is. Give lower minus "
            "upper shim."
        )
    if guitars < 1:
        raise InputError(f"--guitars {guitars} is not allowed; give 1 or more.")
    upper, lower = bench.reference_deg
    # half of the difference on each shim keeps both thin edges away from their limit
    middle = 0.5 * (upper + lower)
    at = bench.strung(middle - 0.5 * offset_deg, middle + 0.5 * offset_deg)
    case, stock = bench.given, np.array(bench.case.stock.angles_deg())
    step = float(np.diff(stock).min()) if stock.size > 1 else 0.0
    of_one = sqrt(sum(float(effect.slope[1]) ** 2 for effect in bench.effects(upper, lower)))
    transfer = float(bench.gains(upper, lower)[1, 1])
    return calibration_of(
        "known",
        created=created,
        rows=[f"{offset_deg:.2f} deg, known on {guitars} guitars"],
        parameters=[KINK_BIAS],
        mean=[-at.misfit_deg],
        covariance=np.array([[hypot(of_one / sqrt(guitars), transfer * step / sqrt(12.0)) ** 2]]),
        valid_for={"case": case.name, "case_sha256": case.sha256},
        notes=["a known offset fixes the sum of bias, stretch and transfer; written as a kink bias"],
    )

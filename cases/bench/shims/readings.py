"""Readings at the bench: several averaged, the odd one pointed out, squares turned into an angle, and how far
off the whole may be.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, degrees, hypot, sqrt

import numpy as np

from cases.bench.logbook.value_ranges import humidity_error, time_error
from cases.bench.shims.geometry import Geometry
from cases.casefile.schema import Tolerance
from materials.errors import InputError

ODD = 3.5
"""Modified z-score beyond which a reading is pointed out: Iglewicz & Hoaglin, How to Detect and Handle
Outliers (1993), as in the NIST/SEMATECH e-Handbook 1.3.5.17 (from memory)."""
NORMAL_MAD = 0.6745
"""Median absolute deviation of a standard normal distribution."""
FEELER_MM = 0.015
"""Error of a gap felt under a square, one standard deviation [mm]: an assumption, no source."""
RH_PERCENT = (40.0, 55.0)
"""Relative humidity in which a reading is taken at its usual error [%]."""
SETTLED_HOURS = 12.0
"""Hours after pitch or a rod turn from which a reading counts as settled [h]: common practice, no source."""
UNSETTLED_MM = 0.10
"""What a reading may be off besides, at the saddle, for air outside those limits, and for one taken too soon;
one standard deviation each [mm]: an assumption, no source."""
STEEPEST_DEG = 4.0
"""A pocket further from the top's plane than this is a slip of the pen [deg]."""


@dataclass(frozen=True)
class Reading:
    """Average of the readings [mm], its standard deviation [mm], and what stood out.

    ``odd`` is the number of a reading (from 1) that lies far from the others; ``without`` is the average
    without it [mm].
    """

    mm: float
    error_mm: float
    count: int
    odd: int | None
    without: float | None


def average(readings: Sequence[float], tolerance: Tolerance) -> Reading:
    """Average readings of one pocket [mm]; an odd one is pointed out and stays in the average.

    Raises
    ------
    InputError
        Without a reading.
    """
    values = np.asarray(readings, dtype=float)
    if values.size == 0:
        raise InputError("No reading was given; read the pocket and give --reading 1.8mm.")
    mean = float(values.mean())
    scatter = float(values.std(ddof=1)) if values.size > 2 else 0.0
    error = max(tolerance.reading_mm, scatter) / sqrt(values.size)
    odd, without = None, None
    if values.size >= 3:
        away = values - np.median(values)
        # readings that agree better than the gauge is good for must not make the next one an outlier
        scale = max(float(np.median(np.abs(away))) / NORMAL_MAD, tolerance.reading_mm)
        worst = int(np.argmax(np.abs(away)))
        if abs(away[worst]) / scale > ODD:
            odd, without = worst + 1, float(np.delete(values, worst).mean())
    return Reading(mean, error, int(values.size), odd, without)


def check_pocket(height_mm: float, geometry: Geometry) -> None:
    """Refuse a reading that no pocket gives.

    Raises
    ------
    InputError
        If the pocket would be steeper than `STEEPEST_DEG`.
    """
    low, high = geometry.height_of(STEEPEST_DEG), geometry.height_of(-STEEPEST_DEG)
    if not low <= height_mm <= high:
        raise InputError(
            f"A reading of {height_mm:.2f} mm is a pocket of {geometry.angle_of(height_mm):.1f} deg; "
            f"{low:.1f} to {high:.1f} mm at the fretboard's underside are allowed. Check the unit, the sign "
            "and the gauge's step (--gauge-step 0mm for a plain rod on the bare seat)."
        )


@dataclass(frozen=True)
class Squares:
    """Gaps under a square at the cap end, None where none was laid on [mm]; positive = open there.

    ``pocket`` lies on the tongue's seat and against the block, ``heel`` on the tongue's underside and against
    the heel face.
    """

    pocket: float | None = None
    heel: float | None = None

    def correction_deg(self, geometry: Geometry) -> float:
        """What the lower shim must be thicker by at the cap [deg]."""
        gap = (self.pocket or 0.0) + (self.heel or 0.0)
        return degrees(atan(gap / geometry.heel_face))

    def error_deg(self, geometry: Geometry, tolerance: Tolerance) -> float:
        """What is not known of the two faces, one standard deviation [deg]: the feeler's error where a square
        was laid on, that of a cut seat where not.
        """
        felt = degrees(FEELER_MM / geometry.heel_face)
        each = [tolerance.pocket_deg if gap is None else felt for gap in (self.pocket, self.heel)]
        return hypot(*each)


@dataclass(frozen=True)
class Conditions:
    """Air and time of a reading, None where not told."""

    rh_percent: float | None = None
    hours: float | None = None

    def __post_init__(self) -> None:
        """Refuse air and time that there are none of.

        Raises
        ------
        InputError
            With what is allowed.
        """
        wrong = None if self.rh_percent is None else humidity_error(self.rh_percent)
        if wrong is not None:
            raise InputError(f"--rh-percent {self.rh_percent:g}: {wrong}.")
        wrong = None if self.hours is None else time_error(self.hours, unit="hours")
        if wrong is not None:
            raise InputError(f"--hours {self.hours:g}: {wrong}.")

    def widened(self, error_mm: float) -> float:
        """The reading's error with what air and time add [mm]."""
        extra = UNSETTLED_MM * sqrt(len(self.warnings()))
        return hypot(error_mm, extra)

    def warnings(self) -> tuple[str, ...]:
        """A sentence for each condition that is not met."""
        found = []
        low, high = RH_PERCENT
        if self.rh_percent is not None and not low <= self.rh_percent <= high:
            found.append(
                f"Read at {self.rh_percent:.0f} % relative humidity, outside {low:.0f} to {high:.0f} %: "
                "the top stands higher in wet air and lower in dry. The band is wider; read again when the "
                "guitar has rested in settled air."
            )
        if self.hours is not None and self.hours < SETTLED_HOURS:
            found.append(
                f"Read {self.hours:.1f} h after pitch or a rod turn, less than {SETTLED_HOURS:.0f} h: neck "
                "and joint still settle. The band is wider; read again the next day."
            )
        return tuple(found)


NO_SQUARES, UNTOLD = Squares(), Conditions()

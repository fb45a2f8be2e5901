"""Readings at the bench: their mean, outliers and error, and the gaps under squares."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, degrees, hypot, sqrt

import numpy as np

from cases.bench.logbook.value_ranges import humidity_error, time_error
from cases.bench.shims.geometry import Geometry
from cases.casefile.schema.shop import Tolerance
from materials.errors import InputError

ODD = 3.5
"""Modified z-score beyond which a reading is an outlier: Iglewicz and Hoaglin [iglewicz1993], as in
the NIST/SEMATECH e-Handbook [nist2012] 1.3.5.17 (from memory)."""
NORMAL_MAD = 0.6745
"""Median absolute deviation of a standard normal distribution."""
FEELER_MM = 0.015
"""Error of a gap measured with feelers, one standard deviation [mm]: an assumption, no source."""
RH_PERCENT = (40.0, 55.0)
"""Relative humidity within which a reading has its usual error [%]."""
SETTLED_HOURS = 12.0
"""Time after pitch or a rod turn for neck and joint to settle [h]: common practice, no source."""
UNSETTLED_MM = 0.10
"""Additional error of a reading at other humidity, and of one taken too soon, at the saddle, one standard
deviation each [mm]: an assumption, no source."""
STEEPEST_DEG = 4.0
"""Steepest pocket relative to the top's plane; beyond it the reading is probably a typing error [deg]."""


@dataclass(frozen=True)
class Reading:
    """Mean of the readings and its standard deviation [mm].

    ``odd`` : number (from 1) of an outlier; ``without`` : mean without it [mm].
    """

    mm: float
    error_mm: float
    count: int
    odd: int | None
    without: float | None


def average(readings: Sequence[float], tolerance: Tolerance) -> Reading:
    """Return the mean reading of one pocket [mm]; an outlier is reported but stays in the mean.

    Raises `InputError` without a reading.
    """
    values = np.asarray(readings, dtype=float)
    if values.size == 0:
        raise InputError(
            "No reading was given; read the bare pocket (docs/what-to-measure.md says how) and give it, as "
            "--reading 1.8mm."
        )
    mean = float(values.mean())
    scatter = float(values.std(ddof=1)) if values.size > 2 else 0.0
    error = max(tolerance.reading_mm, scatter) / sqrt(values.size)
    odd, without = None, None
    if values.size >= 3:
        away = values - np.median(values)
        # readings that agree better than the gauge's error must not turn the next one into an outlier
        scale = max(float(np.median(np.abs(away))) / NORMAL_MAD, tolerance.reading_mm)
        worst = int(np.argmax(np.abs(away)))
        if abs(away[worst]) / scale > ODD:
            odd, without = worst + 1, float(np.delete(values, worst).mean())
    return Reading(mean, error, int(values.size), odd, without)


def check_pocket(height_mm: float, geometry: Geometry) -> None:
    """Refuse a reading that no pocket gives.

    Raises `InputError` if the pocket would be steeper than `STEEPEST_DEG`.
    """
    low, high = geometry.height_of(STEEPEST_DEG), geometry.height_of(-STEEPEST_DEG)
    if not low <= height_mm <= high:
        raise InputError(
            f"A reading of {height_mm:.2f} mm means a pocket of {geometry.angle_of(height_mm):.1f} deg; "
            f"{low:.1f} to {high:.1f} mm at the fretboard's underside are allowed. Check the unit, the sign "
            "and the gauge's step (--gauge-step 0mm for a plain rod on the bare seat)."
        )


@dataclass(frozen=True)
class Squares:
    """Gaps under a square at the cap end [mm], positive = open there; None if not measured.

    ``pocket`` : square on the tongue's seat and the block; ``heel`` : on the tongue's underside and the heel
    face.
    """

    pocket: float | None = None
    heel: float | None = None

    def correction_deg(self, geometry: Geometry) -> float:
        """Additional angle of the lower shim to fill both gaps [deg]."""
        gap = (self.pocket or 0.0) + (self.heel or 0.0)
        return degrees(atan(gap / geometry.heel_face))

    def error_deg(self, geometry: Geometry, tolerance: Tolerance) -> float:
        """Angular error of both faces, one standard deviation [deg]: of the feeler where a square was used,
        otherwise of a cut seat.
        """
        feeler = degrees(FEELER_MM / geometry.heel_face)
        return hypot(*(tolerance.pocket_deg if gap is None else feeler for gap in (self.pocket, self.heel)))


@dataclass(frozen=True)
class Conditions:
    """Relative humidity [%] and time since pitch [h] of a reading, None where not recorded."""

    rh_percent: float | None = None
    hours: float | None = None

    def __post_init__(self) -> None:
        """Raise `InputError` for impossible values."""
        if self.rh_percent is not None and (error := humidity_error(self.rh_percent)):
            raise InputError(f"--rh-percent {self.rh_percent:g}: {error}.")
        if self.hours is not None and (error := time_error(self.hours, unit="hours")):
            raise InputError(f"--hours {self.hours:g}: {error}.")

    def widened(self, error_mm: float) -> float:
        """Error of a reading, increased for humidity and time [mm]."""
        extra = UNSETTLED_MM * sqrt(len(self.warnings()))
        return hypot(error_mm, extra)

    def warnings(self) -> tuple[str, ...]:
        """One sentence for each condition that is not met."""
        found = []
        low, high = RH_PERCENT
        if self.rh_percent is not None and not low <= self.rh_percent <= high:
            found.append(
                f"Read at {self.rh_percent:.0f} % relative humidity, outside {low:.0f} to {high:.0f} %: "
                "the top rises in humid air and sinks in dry air. The error is increased; read again when "
                "the guitar has rested at normal humidity."
            )
        if self.hours is not None and self.hours < SETTLED_HOURS:
            found.append(
                f"Read {self.hours:.1f} h after pitch or a rod turn, less than {SETTLED_HOURS:.0f} h: neck "
                "and joint are still settling. The error is increased; read again the next day."
            )
        return tuple(found)


NO_SQUARES, NOT_RECORDED = Squares(), Conditions()

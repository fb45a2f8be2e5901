"""Density and modulus of a blank, weighed, and tapped or loaded.

Tap: first bending mode of a free beam, without shear ``E = rho A (2 pi f)^2 L^4 / (k^4 I)`` with ``k^2 =
22.373`` (textbooks on vibration, from memory). Load: simply supported beam, load and dial in the middle, ``E
= F s^3 / (48 I d)``. Both are corrected for shear with the wood table's ratio E/G: the tap by Timoshenko beam
elements with rotary inertia, the load in closed form, ``1 + (E / k G) (h / s)^2``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from math import hypot, pi, sqrt
from pathlib import Path

import numpy as np
import scipy.linalg
from skfem import BilinearForm

from cases.bench.logbook.csv_table import read_lines
from cases.casefile.plausible import check_wood, far_from_table
from cases.offset.calibration import Calibration, calibration_of
from fem.members.beam import beam, shear, stretch_and_bend
from materials.counted import counted
from materials.errors import InputError
from materials.wood import Wood, wood

FREE_FREE = 22.373
"""Square of the first root of cos k cosh k = 1 [1]."""
SHEAR_FACTOR = 5.0 / 6.0
GRAVITY = 9.80665
NORMAL_95 = 1.96
LENGTH_ERROR, SECTION_ERROR, MASS_ERROR = 0.5, 0.1, 1.0
"""Errors of length [mm], width and thickness [mm], mass [g], one standard deviation: assumptions, no source.
"""
TAP_ERROR, DIAL_ERROR = 0.005, 0.01
"""Errors of the tap frequency, relative, and of the dial [mm]: assumptions, no source."""

TABLE = "the wood table"
WEIGHED = "mass, length, width and thickness"
TAPPED = "the tap (first bending frequency of the free blank), thickness and length"
LOADED = "span, load, dial and thickness"
"""Measurements to check if density or modulus are implausible."""


@dataclass(frozen=True)
class Blank:
    """Measurements of a blank: sizes, mass, and either tap frequency, or span, load and dial reading."""

    name: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    mass_g: float
    tap_hz: float | None = None
    span_mm: float | None = None
    load_kg: float | None = None
    dial_mm: float | None = None


@dataclass(frozen=True)
class BlankResult:
    """Density [kg/m3] and modulus along the grain [GPa] with standard deviations.

    ``shear_factor`` : modulus with shear and rotary inertia over that without.
    """

    name: str
    density: float
    density_error: float
    e_l: float
    e_l_error: float
    shear_factor: float

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the modulus [GPa]."""
        return self.e_l - NORMAL_95 * self.e_l_error, self.e_l + NORMAL_95 * self.e_l_error


@dataclass(frozen=True)
class Batch:
    """Mean and relative scatter of a batch, in GPa and kg/m3; ``count`` is 0 for the wood table.

    ``e_cov`` is without measuring error.
    """

    count: int
    e_l: float
    e_cov: float
    density: float
    density_cov: float

    def holds(self, e_l: float) -> bool:
        """Whether a modulus is within the batch's 95 % interval."""
        return abs(e_l / self.e_l - 1.0) <= NORMAL_95 * self.e_cov


def check_blank(blank: Blank) -> None:
    """Raise `InputError` for sizes that no neck blank has."""
    limits = {
        "length_mm": (100.0, 3000.0),
        "width_mm": (10.0, 500.0),
        "thickness_mm": (2.0, 150.0),
        "mass_g": (10.0, 50000.0),
        "tap_hz": (5.0, 5000.0),
        "span_mm": (50.0, 3000.0),
        "load_kg": (0.05, 200.0),
        "dial_mm": (0.02, 50.0),
    }
    for key, (low, high) in limits.items():
        value = getattr(blank, key)
        if value is not None and not low <= value <= high:
            raise InputError(
                f"{blank.name}: {key} = {value:g} is not allowed; {low:g} to {high:g} is. Check the unit."
            )
    loaded = (blank.span_mm, blank.load_kg, blank.dial_mm)
    if (blank.tap_hz is None) == (None in loaded) or (blank.tap_hz is not None and any(loaded)):
        raise InputError(
            f"{blank.name}: give either the tap frequency, or span, load and dial, but not both."
        )
    if blank.span_mm is not None and blank.span_mm > blank.length_mm:
        raise InputError(f"{blank.name}: the span is longer than the blank; measure between the supports.")
    slender = (blank.span_mm or blank.length_mm) / blank.thickness_mm
    if slender < 8.0:
        raise InputError(
            f"{blank.name}: length over thickness is {slender:.1f}; the beam formulas need 8 or more. "
            "Test a longer or thinner piece."
        )


def measure_blank(blank: Blank, *, e_over_g: float) -> BlankResult:
    """Density and modulus of a blank, with first-order errors.

    Raises `InputError` if sizes, density or modulus are impossible.

    ``e_over_g`` : E_L over the shear modulus in the plane of bending [1].
    """
    check_blank(blank)
    density, e_l, factor = _density(blank), *_modulus(blank, e_over_g)
    check_wood("neck.density_kg_m3", density, what=blank.name, readings=WEIGHED)
    check_wood("neck.e_l_gpa", e_l / 1e9, what=blank.name, readings=TAPPED if blank.tap_hz else LOADED)
    steps = {
        "length_mm": LENGTH_ERROR,
        "width_mm": SECTION_ERROR,
        "thickness_mm": SECTION_ERROR,
        "mass_g": MASS_ERROR,
        "tap_hz": TAP_ERROR * (blank.tap_hz or 0.0),
        "span_mm": LENGTH_ERROR,
        "dial_mm": DIAL_ERROR,
    }
    of_density, of_modulus = [], []
    for key, step in steps.items():
        if getattr(blank, key) is None:
            continue
        changed = replace(blank, **{key: getattr(blank, key) + step})
        of_density.append(_density(changed) - density)
        of_modulus.append(_plain_modulus(changed) * factor - e_l)
    return BlankResult(
        name=blank.name,
        density=density,
        density_error=hypot(*of_density),
        e_l=e_l / 1e9,
        e_l_error=hypot(*of_modulus) / 1e9,
        shear_factor=factor,
    )


def _section(blank: Blank) -> tuple[float, float, float]:
    """Area [m2], second moment [m4], thickness [m]."""
    width, height = blank.width_mm * 1e-3, blank.thickness_mm * 1e-3
    return width * height, width * height**3 / 12.0, height


def _density(blank: Blank) -> float:
    area, _, _ = _section(blank)
    return blank.mass_g * 1e-3 / (area * blank.length_mm * 1e-3)


def _plain_modulus(blank: Blank) -> float:
    """Modulus without shear [Pa]."""
    area, second, _ = _section(blank)
    if blank.tap_hz is not None:
        length = blank.length_mm * 1e-3
        omega = 2.0 * pi * blank.tap_hz
        return _density(blank) * area * omega**2 * length**4 / (FREE_FREE**2 * second)
    span, load, dial = (value or 0.0 for value in (blank.span_mm, blank.load_kg, blank.dial_mm))
    return load * GRAVITY * (span * 1e-3) ** 3 / (48.0 * second * dial * 1e-3)


def _modulus(blank: Blank, e_over_g: float) -> tuple[float, float]:
    """Modulus with shear [Pa], and its ratio to the modulus without."""
    plain = _plain_modulus(blank)
    if blank.tap_hz is None:
        assert blank.span_mm is not None
        factor = 1.0 + e_over_g / SHEAR_FACTOR * (blank.thickness_mm / blank.span_mm) ** 2
        return plain * factor, factor
    # at constant E/G the frequency is proportional to the square root of E, so one solve gives the factor
    factor = (blank.tap_hz / tap_frequency(blank, e_l=plain, e_over_g=e_over_g)) ** 2
    return plain * factor, factor


@BilinearForm
def _inertia(u, w, t, du, dw, dt, p):  # type: ignore[no-untyped-def]
    return p["mass"] * (u * du + w * dw) + p["rotary"] * t * dt


def tap_frequency(blank: Blank, *, e_l: float, e_over_g: float) -> float:
    """First bending frequency of a free Timoshenko beam [Hz]; ``e_l`` [Pa]."""
    area, second, _ = _section(blank)
    length = blank.length_mm * 1e-3
    line = beam(np.linspace(0.0, length, 13))
    stiff = stretch_and_bend(
        line, section=lambda x: (e_l * area + 0.0 * x, 0.0 * x, e_l * second + 0.0 * x)
    ) + shear(line, kga=lambda x: SHEAR_FACTOR * e_l / e_over_g * area + 0.0 * x)
    density = _density(blank)
    x = np.asarray(line.basis.global_coordinates())[0]
    mass = _inertia.assemble(line.basis, mass=density * area + 0.0 * x, rotary=density * second + 0.0 * x)
    squares = scipy.linalg.eigh(stiff.toarray(), mass.toarray(), eigvals_only=True, subset_by_index=(0, 3))
    # after three rigid-body modes
    return sqrt(float(squares[3])) / (2.0 * pi)


def e_over_g_of(cut: Wood) -> float:
    """E_L over the mean of both shear moduli along the grain [1]."""
    return cut.e_l / (0.5 * (cut.g_lr + cut.g_lt))


def table_batch(name: str) -> Batch:
    """A wood of the wood table, as a batch."""
    cut = wood(name)
    return Batch(0, cut.e_l / 1e9, cut.moe_cov, cut.density, 0.10)


def blank_warnings(result: BlankResult, wood_name: str) -> tuple[str, ...]:
    """Warnings about a blank far from the wood table."""
    table = table_batch(wood_name)
    rows = (
        ("neck.density_kg_m3", result.density, table.density, table.density_cov, WEIGHED),
        ("neck.e_l_gpa", result.e_l, table.e_l, table.e_cov, "tap or load, thickness and length"),
    )
    found = (
        far_from_table(key, value, table=(TABLE, mean), cov=cov, what=result.name, readings=readings)
        for key, value, mean, cov, readings in rows
    )
    return tuple(one for one in found if one is not None)


def batch_from(calibration: Calibration) -> Batch:
    """The batch in a calibration; raises `InputError` for another kind of calibration."""
    if calibration.kind != "batch":
        raise InputError(
            f"{calibration.id} is no batch; give a file written by `neckpreload calibrate blank --csv`."
        )
    value = calibration.value
    return Batch(
        count=len(calibration.rows),
        e_l=value("neck.e_l_gpa"),
        e_cov=value("scatter.neck_e_cov"),
        density=value("neck.density_kg_m3"),
        density_cov=0.0,
    )


def batch_of(results: Sequence[BlankResult]) -> Batch:
    """Mean and scatter of a batch; raises `InputError` for fewer than three blanks."""
    if len(results) < 3:
        raise InputError(
            f"{counted(len(results), 'blank is', 'blanks are')} too few for a batch; test three or more."
        )
    e_l = np.array([one.e_l for one in results])
    density = np.array([one.density for one in results])
    measuring = float(np.mean([one.e_l_error**2 for one in results]))
    scatter = sqrt(max(float(e_l.var(ddof=1)) - measuring, 0.0))
    return Batch(
        count=len(results),
        e_l=float(e_l.mean()),
        e_cov=scatter / float(e_l.mean()),
        density=float(density.mean()),
        density_cov=float(density.std(ddof=1) / density.mean()),
    )


def read_blanks(path: Path) -> tuple[Blank, ...]:
    """Read blanks from a CSV file with the fields of `Blank` as columns.

    Raises `InputError` with the line of the first error.
    """
    columns = [one.name for one in fields(Blank)]
    blanks = []
    for number, cells, error in read_lines(path, allowed=columns, required=columns[:5]):
        where = f"{path} line {number}"
        if error is not None:
            raise InputError(f"{where}: {error}.")
        values: dict[str, float] = {}
        for column, text in cells.items():
            if column == "name" or not text.strip():
                continue
            try:
                values[column] = float(text)
            except ValueError:
                raise InputError(
                    f"{where}: {column} {text.strip()!r} is no number; write it with a decimal point."
                ) from None
        missing = [name for name in columns[1:5] if name not in values]
        if missing:
            raise InputError(f"{where}: {missing[0]} is missing; give it.")
        blanks.append(Blank(cells["name"].strip() or f"line {number}", **values))
    if not blanks:
        raise InputError(f"{path}: it contains no blank; give one per line below the header.")
    return tuple(blanks)


def blank_calibration(result: BlankResult, *, wood_name: str, created: datetime) -> Calibration:
    """Calibration of a neck cut from a blank."""
    return calibration_of(
        "blank",
        created=created,
        rows=[result.name],
        parameters=["neck.e_l_gpa", "neck.density_kg_m3"],
        mean=[result.e_l, result.density],
        covariance=np.diag([result.e_l_error**2, result.density_error**2]),
        valid_for={"wood": wood_name},
    )


def batch_calibration(
    batch: Batch, results: Sequence[BlankResult], *, wood_name: str, created: datetime
) -> Calibration:
    """Calibration of necks cut from a batch: mean and scatter for the spread study."""
    count = len(results)
    spread: Mapping[str, float] = {
        "neck.e_l_gpa": batch.e_cov * batch.e_l / sqrt(count),
        "neck.density_kg_m3": batch.density_cov * batch.density / sqrt(count),
        "scatter.neck_e_cov": batch.e_cov / sqrt(2.0 * (count - 1)),
    }
    return calibration_of(
        "batch",
        created=created,
        rows=[one.name for one in results],
        parameters=list(spread),
        mean=[batch.e_l, batch.density, min(batch.e_cov, 0.6)],
        covariance=np.diag([value**2 for value in spread.values()]),
        valid_for={"wood": wood_name},
    )

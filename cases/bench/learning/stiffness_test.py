"""Dead-weight test of a neck on two supports: its bending stiffness EI and the moduli of its woods.

The test measures EI of neck and fretboard together. Both moduli are therefore estimated together, with a
covariance that keeps EI as measured.
"""

from dataclasses import dataclass
from datetime import datetime
from math import exp, hypot, log

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.blank_modulus import GRAVITY, NORMAL_95
from cases.casefile.case import Case
from cases.casefile.plausible import check_wood, far_from_table
from cases.offset.build import structure_of
from cases.offset.calibration import Calibration, calibration_of
from cases.offset.woods import wood_of
from fem.members.beam import beam, shear, stretch_and_bend
from fem.members.shaft import Shaft, shaft_constants
from materials.errors import InputError

Array = NDArray[np.float64]
SUPPORT_MM = 0.5
"""Error of the distance between the supports, one standard deviation [mm]: an assumption, no source."""
DIAL_MM = 0.01
MASS_COV = 0.002
"""Relative error of the mass: an assumption, no source."""
FRETS = (1, 5, 10)
READINGS = "the dial reading, the mass, the places of supports, load and dial, and the depths in the case"
KEYS = {"neck.e_l_gpa": "the neck wood", "fretboard.e_l_gpa": "the fretboard"}


@dataclass(frozen=True)
class DeadWeight:
    """A test: places from the nut [mm], mass [kg], change of the dial reading and its error [mm]."""

    first_mm: float
    last_mm: float
    load_mm: float
    dial_mm: float
    mass_kg: float
    moved_mm: float
    error_mm: float = DIAL_MM


@dataclass(frozen=True)
class NeckTest:
    """Result of a test.

    Attributes
    ----------
    expected_mm : dial reading with the moduli of the case.
    ei : bending stiffness about the neutral axis at frets 1, 5, 10 (fret, N m2), relative error ``ei_error``.
    e_l : neck and fretboard modulus [GPa]; ``errors`` their standard deviations.
    """

    expected_mm: float
    ei: tuple[tuple[int, float], ...]
    ei_error: float
    e_l: tuple[float, float]
    errors: tuple[float, float]
    calibration: Calibration
    warnings: tuple[str, ...] = ()

    @property
    def neck_interval(self) -> tuple[float, float]:
        """95 % interval of the neck wood's modulus [GPa]."""
        half = NORMAL_95 * self.errors[0]
        return self.e_l[0] - half, self.e_l[0] + half


def check_test(case: Case, test: DeadWeight, shaft_mm: float) -> None:
    """Raise `InputError` for an impossible test; ``shaft_mm`` : nut to the heel's start."""
    places = {"first support": test.first_mm, "last support": test.last_mm, "load": test.load_mm}
    for name, place in (places | {"dial": test.dial_mm}).items():
        if not 0.0 <= place <= shaft_mm:
            raise InputError(
                f"The {name} is at {place:g} mm; 0 (nut) to {shaft_mm:.0f} mm (heel's start) is allowed. "
                "Move it."
            )
    if test.last_mm <= test.first_mm:
        raise InputError(
            f"The first support is at {test.first_mm:g} mm, the last at {test.last_mm:g} mm from the nut; "
            "the first is the one nearer to the nut: exchange them."
        )
    if test.last_mm - test.first_mm < 100.0:
        raise InputError(
            "The supports are less than 100 mm apart; move the first to the nut or the last to the heel."
        )
    for name, place in (("load", test.load_mm), ("dial", test.dial_mm)):
        if not test.first_mm < place < test.last_mm:
            raise InputError(f"The {name} must be between the supports; move it there.")
    if not 0.1 <= test.mass_kg <= 100.0:
        raise InputError(
            f"A mass of {test.mass_kg:g} kg is not allowed; use 0.1 to 100 kg, for example 5 kg."
        )
    if not test.error_mm > 0.0:
        raise InputError(
            f"A dial error of {test.error_mm:g} mm is not allowed; give more than 0 mm, or leave it out for "
            f"{DIAL_MM:g} mm."
        )
    if not test.moved_mm > 0.0:
        raise InputError(
            f"A dial reading of {test.moved_mm:g} mm is not allowed; give the movement by the load as a "
            "positive number."
        )
    if test.error_mm >= 0.5 * test.moved_mm:
        raise InputError(
            f"The dial reading of {test.moved_mm:g} mm is too small for its error of {test.error_mm:g} mm. "
            "Use a larger mass."
        )


class Deflection:
    """Deflection at the dial [m], as a function of the moduli of neck and board relative to the case."""

    def __init__(self, case: Case, test: DeadWeight) -> None:
        structure = structure_of(case)
        structure = structure.with_tie(structure.outline.heel_start)
        check_test(case, test, 1e3 * structure.outline.heel_start)
        self.shaft: Shaft = shaft_constants(structure)
        places = (test.first_mm, test.last_mm, test.load_mm, test.dial_mm)
        self.places = tuple(1e-3 * place for place in places)
        frets = structure.frets[structure.frets < structure.outline.heel_start]
        self.line = beam(np.concatenate([[0.0, structure.outline.heel_start], frets, self.places]))
        self.force = test.mass_kg * GRAVITY

    def __call__(self, neck: float, board: float) -> float:
        """Downward deflection at the dial [m]."""

        def kga(x: Array) -> Array:
            share = self.shaft.shear_share(x)
            return np.asarray(self.shaft.shear_stiffness(x) / (share / neck + (1.0 - share) / board))

        first, last, load, dial = self.places
        stiff = (
            stretch_and_bend(self.line, section=lambda x: self.section(x, neck, board))
            + shear(self.line, kga=kga)
        ).tocsc()
        held = [self.line.at("w", first), self.line.at("w", last), self.line.at("u", first)]
        keep = np.setdiff1d(np.arange(self.line.size), held)
        force = np.zeros(self.line.size)
        force[self.line.at("w", load)] = -self.force
        moved = np.zeros(self.line.size)
        moved[keep] = np.linalg.solve(stiff[keep][:, keep].toarray(), force[keep])
        return -float(moved[self.line.at("w", dial)])

    def section(self, x: Array, neck: float, board: float) -> tuple[Array, Array, Array]:
        """EA [N], ES [N m] and EI [N m2] at places ``x`` [m]."""
        factors = {"neck": neck, "board": board, "bars": 1.0}
        each = [[factor * value for value in self.shaft.stretch(x, name)] for name, factor in factors.items()]
        ea, es, ei = np.sum(each, axis=0)
        return ea, es, ei

    def stiffness(self, x: float, neck: float, board: float) -> float:
        """Bending stiffness about the neutral axis at ``x`` [m], [N m2]."""
        ea, es, ei = self.section(np.array([x]), neck, board)
        return float((ei - es**2 / ea)[0])

    def powers(self, neck: float, board: float) -> Array:
        """Exponents of the deflection in both moduli, d ln(deflection) / d ln(modulus), (2,)."""
        step = 0.01
        each = [(exp(step), 1.0), (1.0, exp(step))]
        return np.array(
            [
                (log(self(neck * n, board * b)) - log(self(neck / n, board / b))) / (2.0 * step)
                for n, b in each
            ]
        )


def relative_error(test: DeadWeight) -> float:
    """Relative error of the measured stiffness, one standard deviation."""
    span = test.last_mm - test.first_mm
    return hypot(test.error_mm / test.moved_mm, MASS_COV, 3.0 * SUPPORT_MM / span)


def updated(powers: Array, surplus: float, *, error: float, scatter: Array) -> tuple[Array, Array]:
    """Mean (2,) and covariance (2, 2) of the logarithms of both moduli, with prior mean 0.

    ``surplus`` : ln(measured deflection / expected deflection); ``scatter`` : prior deviations, (2,).
    """
    prior = np.diag(scatter**2)
    gain = prior @ powers / (powers @ prior @ powers + error**2)
    return gain * surplus, prior - np.outer(gain, powers @ prior)


def neck_test(case: Case, test: DeadWeight, *, name: str, created: datetime) -> NeckTest:
    """Evaluate a dead-weight test; raises `InputError` if the test or its result is impossible for a neck."""
    deflection = Deflection(case, test)
    error = relative_error(test)
    expected = deflection(1.0, 1.0)
    if not 0.2 < 1e-3 * test.moved_mm / expected < 5.0:
        raise InputError(
            f"The dial reading is {test.moved_mm:g} mm, expected from the case {1e3 * expected:.3f} mm; "
            "check unit, mass, places and the woods of the case."
        )
    scatter = modulus_scatter(case)
    mean, covariance = np.zeros(2), np.diag(scatter**2)
    for _ in range(4):
        # the exponents depend on the moduli: linearise again at each step
        here = deflection(*np.exp(mean))
        powers = deflection.powers(*np.exp(mean))
        surplus = log(1e-3 * test.moved_mm / here) + float(powers @ mean)
        mean, covariance = updated(powers, surplus, error=error, scatter=scatter)
    base = case_moduli(case)
    moduli = base * np.exp(mean)
    tested = list(zip(KEYS, moduli, base, scatter, strict=True))
    for key, modulus, _, _ in tested:
        check_wood(key, float(modulus), what=f"{name}, {KEYS[key]}", readings=READINGS)
    far = [
        far_from_table(
            key, modulus, table=("the case", table), cov=cov, what=f"{name}, {KEYS[key]}", readings=READINGS
        )
        for key, modulus, table, cov in tested
    ]
    frets = [(fret, 1e3 * x) for fret, x in enumerate(structure_of(case).frets, start=1) if fret in FRETS]
    return NeckTest(
        expected_mm=1e3 * expected,
        ei=tuple((fret, deflection.stiffness(1e-3 * x, *np.exp(mean))) for fret, x in frets),
        ei_error=error,
        e_l=(float(moduli[0]), float(moduli[1])),
        errors=tuple(float(value) for value in moduli * np.sqrt(np.diag(covariance))),  # type: ignore[arg-type]
        calibration=wood_calibration(case, moduli, covariance, name=name, created=created),
        warnings=tuple(one for one in far if one is not None),
    )


def case_moduli(case: Case) -> Array:
    """Moduli of neck and fretboard along the grain in a case, (2,) [GPa]."""
    return np.array([wood_of(case, case.neck).e_l, wood_of(case, case.fretboard).e_l]) / 1e9


def modulus_scatter(case: Case) -> Array:
    """Relative scatter of both moduli, (2,)."""
    return np.array([case.scatter.neck_e_cov, case.scatter.board_e_cov])


def wood_calibration(
    case: Case, moduli: Array, covariance: Array, *, name: str, created: datetime
) -> Calibration:
    """Calibration of one neck: moduli of neck and board [GPa], covariance of their logarithms (2, 2)."""
    return calibration_of(
        "neck",
        created=created,
        rows=[name],
        parameters=list(KEYS),
        mean=[float(value) for value in moduli],
        covariance=covariance * np.outer(moduli, moduli),
        valid_for={"case": case.name},
        notes=["of this one neck: EI is measured, both moduli only together"],
    )

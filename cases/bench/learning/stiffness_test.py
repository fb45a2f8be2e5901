"""The dead-weight test of a neck on two supports: its bending stiffness, and what that says of its wood.

The test gives EI of neck and fretboard together. The modulus of the neck's wood follows only with that of the
board and its scatter, so both come out together, with the covariance that keeps EI as measured.
"""

from dataclasses import dataclass
from datetime import datetime
from math import exp, hypot, log

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.casefile.plausible import check_wood, far_from_table
from cases.offset.build import structure_of
from cases.offset.calibration import Calibration, calibration_of
from cases.offset.woods import wood_of
from fem.members.beam import beam, shear, stretch_and_bend
from fem.members.shaft import Shaft, shaft_constants
from materials.errors import InputError

Array = NDArray[np.float64]
GRAVITY = 9.80665
SUPPORT_MM = 0.5
"""Error of the distance between the supports, one standard deviation [mm]: an assumption, no source."""
DIAL_MM = 0.01
MASS_PART = 0.002
"""Relative error of the mass: an assumption, no source."""
NORMAL_95 = 1.96
FRETS = (1, 5, 10)
READINGS = "what the dial moved, the mass, where supports, load and dial stand, and the case's depths"
KEYS = {"neck.e_l_gpa": "the neck wood", "fretboard.e_l_gpa": "the fretboard"}


@dataclass(frozen=True)
class DeadWeight:
    """A test: places from the nut [mm], mass hung on [kg], how much the dial moved [mm] and its error."""

    first_mm: float
    last_mm: float
    load_mm: float
    dial_mm: float
    mass_kg: float
    moved_mm: float
    error_mm: float = DIAL_MM


@dataclass(frozen=True)
class NeckTest:
    """What a test says; intervals are 95 %.

    Attributes
    ----------
    expected_mm : what the case's own moduli would have given.
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
        """The 95 % interval of the neck wood's modulus [GPa]."""
        half = NORMAL_95 * self.errors[0]
        return self.e_l[0] - half, self.e_l[0] + half


def check_test(case: Case, test: DeadWeight, shaft_mm: float) -> None:
    """Refuse a test that a neck on two supports does not give.

    Raises
    ------
    InputError
        With what is allowed.
    """
    places = {"first support": test.first_mm, "last support": test.last_mm, "load": test.load_mm}
    for name, place in (places | {"dial": test.dial_mm}).items():
        if not 0.0 <= place <= shaft_mm:
            raise InputError(
                f"The {name} stands at {place:g} mm; between the nut (0) and the heel's start "
                f"({shaft_mm:.0f} mm) it is allowed, where the neck is a beam. Move it."
            )
    if test.last_mm <= test.first_mm:
        raise InputError(
            f"The first support stands at {test.first_mm:g} mm, the last at {test.last_mm:g} mm from the "
            "nut; the first is the one nearer to the nut: exchange them."
        )
    if test.last_mm - test.first_mm < 100.0:
        raise InputError(
            "The supports stand less than 100 mm apart; set the first near the nut, the last far."
        )
    for name, place in (("load", test.load_mm), ("dial", test.dial_mm)):
        if not test.first_mm < place < test.last_mm:
            raise InputError(f"The {name} must stand between the supports; move it there.")
    if not 0.1 <= test.mass_kg <= 100.0:
        raise InputError(
            f"A mass of {test.mass_kg:g} kg is not allowed; hang on 0.1 to 100 kg, some 5 kg do."
        )
    if not test.error_mm > 0.0:
        raise InputError(
            f"A dial's error of {test.error_mm:g} mm is not allowed; no dial is without one: give more than "
            f"0 mm, or leave it out for {DIAL_MM:g} mm."
        )
    if not test.moved_mm > 0.0:
        raise InputError(
            f"The dial moved {test.moved_mm:g} mm; give how far the load moved it, as a positive number."
        )
    if test.error_mm >= 0.5 * test.moved_mm:
        raise InputError(
            f"The dial moved {test.moved_mm:g} mm with an error of {test.error_mm:g} mm: too little to tell. "
            "Hang on more."
        )


class Deflection:
    """Movement of the dial for moduli of neck and board as multiples of the case's [m]."""

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
        """Downward movement at the dial [m]."""

        def section(x: Array) -> tuple[Array, Array, Array]:
            parts = {"neck": neck, "board": board, "bars": 1.0}
            each = [[part * value for value in self.shaft.stretch(x, name)] for name, part in parts.items()]
            ea, es, ei = np.sum(each, axis=0)
            return ea, es, ei

        def kga(x: Array) -> Array:
            share = self.shaft.shear_share(x)
            return np.asarray(self.shaft.shear_stiffness(x) / (share / neck + (1.0 - share) / board))

        first, last, load, dial = self.places
        stiff = (stretch_and_bend(self.line, section=section) + shear(self.line, kga=kga)).tocsc()
        held = [self.line.at("w", first), self.line.at("w", last), self.line.at("u", first)]
        keep = np.setdiff1d(np.arange(self.line.size), held)
        force = np.zeros(self.line.size)
        force[self.line.at("w", load)] = -self.force
        moved = np.zeros(self.line.size)
        moved[keep] = np.linalg.solve(stiff[keep][:, keep].toarray(), force[keep])
        return -float(moved[self.line.at("w", dial)])

    def powers(self, neck: float, board: float) -> Array:
        """Powers with which the movement follows both moduli, d ln(movement) / d ln(modulus), (2,)."""
        step = 0.01
        each = [(exp(step), 1.0), (1.0, exp(step))]
        return np.array(
            [
                (log(self(neck * n, board * b)) - log(self(neck / n, board / b))) / (2.0 * step)
                for n, b in each
            ]
        )


def relative_error(test: DeadWeight) -> float:
    """Relative error of the stiffness that a test gives, one standard deviation."""
    span = test.last_mm - test.first_mm
    return hypot(test.error_mm / test.moved_mm, MASS_PART, 3.0 * SUPPORT_MM / span)


def updated(powers: Array, surplus: float, *, error: float, scatter: Array) -> tuple[Array, Array]:
    """Mean (2,) and covariance (2, 2) of the logarithms of both moduli, their prior about 0.

    ``surplus`` is ln(movement measured / movement expected), ``scatter`` (2,) the prior's deviations.
    """
    prior = np.diag(scatter**2)
    gain = prior @ powers / (powers @ prior @ powers + error**2)
    return gain * surplus, prior - np.outer(gain, powers @ prior)


def neck_test(case: Case, test: DeadWeight, *, name: str, created: datetime) -> NeckTest:
    """Evaluate a dead-weight test.

    Raises
    ------
    InputError
        If the test is not one of a neck on two supports, or its result no neck's.
    """
    deflection = Deflection(case, test)
    error = relative_error(test)
    expected = deflection(1.0, 1.0)
    if not 0.2 < 1e-3 * test.moved_mm / expected < 5.0:
        raise InputError(
            f"The dial moved {test.moved_mm:g} mm where the case lets expect {1e3 * expected:.3f} mm; check "
            "unit, mass, places and the case's woods."
        )
    scatter = np.array([case.scatter.neck_e_cov, case.scatter.board_e_cov])
    mean, covariance = np.zeros(2), np.diag(scatter**2)
    for _ in range(4):
        # the movement is no pure power of the moduli: linearise anew where the last step led
        here = deflection(*np.exp(mean))
        powers = deflection.powers(*np.exp(mean))
        surplus = log(1e-3 * test.moved_mm / here) + float(powers @ mean)
        mean, covariance = updated(powers, surplus, error=error, scatter=scatter)
    base = np.array([wood_of(case.neck).e_l, wood_of(case.fretboard).e_l]) / 1e9
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
        ei=tuple((fret, _stiffness(deflection.shaft, 1e-3 * x, *np.exp(mean))) for fret, x in frets),
        ei_error=error,
        e_l=(float(moduli[0]), float(moduli[1])),
        errors=tuple(float(value) for value in moduli * np.sqrt(np.diag(covariance))),  # type: ignore[arg-type]
        calibration=wood_calibration(case, moduli, covariance, name=name, created=created),
        warnings=tuple(one for one in far if one is not None),
    )


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


def _stiffness(shaft: Shaft, x: float, neck: float, board: float) -> float:
    """Bending stiffness about the neutral axis [N m2]."""
    at = np.array([x])
    parts = {"neck": neck, "board": board, "bars": 1.0}
    each = [[part * value for value in shaft.stretch(at, name)] for name, part in parts.items()]
    ea, es, ei = np.sum(each, axis=0)
    return float((ei - es**2 / ea)[0])

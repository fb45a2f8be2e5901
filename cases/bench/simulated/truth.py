"""Settings of the simulated workshop, invented, and the true necks drawn from them with a seed."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.linearised import LinearBench
from cases.bench.shims.strung_neck import Bench
from materials.errors import InputError

Array = NDArray[np.float64]
POCKET_MM, LARGEST_POCKET_MM = 0.5, 1.2
"""Deviation of pockets from that for the middle of the stock: one standard deviation, and largest [mm]."""


@dataclass(frozen=True)
class Settings:
    """Settings of the workshop, fixed before the first result (docs/bench.md).

    The scatter from guitar to guitar is that of the case ([scatter] and [tolerance], defaults): normal for
    each source, log-normal for moduli.

    Attributes
    ----------
    case, changes : the instrument; its body stiffness is invented, above the lower bound of 2.5 kN m/rad from
        the usual clearance at the bridge.
    guitars, seeds : guitars per workshop, workshops.
    judged_from : earlier guitars only fill the log.
    recalibrated_every : number of guitars between calibrations.
    reading_mm : error of the reading at the saddle, one standard deviation.
    action_mm, kink_deg : errors of the logged action of each side, and of both logged kinks.
    neck_test : relative error of a neck's bending stiffness from a dead-weight test.
    fixed_step_mm : error with which the workshop with a fixed offset knows its usual rise of the saddle line.
    body_mean_cov, body_cov : other mechanism: error of the body's mean stiffness, scatter between guitars.
    creep, creep_cov : other mechanism: relative growth of the deformation by the strings until it is
        measured, and its scatter.
    shift_at, shift_seeds : guitar at which the action shifts by one standard deviation of its residual;
        workshops.
    """

    case: str = "fourteen-mahogany"
    changes: Mapping[str, object] = field(
        default_factory=lambda: MappingProxyType({"body.stiffness_n_m_per_rad": 8000.0})
    )
    guitars: int = 400
    seeds: int = 20
    judged_from: int = 100
    recalibrated_every: int = 50
    reading_mm: float = 0.05
    action_mm: float = 0.05
    kink_deg: float = 0.01
    neck_test: float = 0.02
    fixed_step_mm: float = 0.2
    body_mean_cov: float = 0.30
    body_cov: float = 0.15
    creep: float = 0.15
    creep_cov: float = 0.30
    shift_at: int = 250
    shift_seeds: int = 200


SETTINGS = Settings()


@dataclass(frozen=True)
class Truth:
    """True guitars of a workshop, unknown to it.

    Attributes
    ----------
    shifts : changes of `Strung.numbers` at the reference pair, (guitars, 3).
    transfer : true transfer factor.
    angles, seats : errors of both shim angles and of both faces, (guitars, 2) [deg].
    pocket : true readings, (guitars,) [mm].
    woods : in standard deviations, (guitars, sources).
    """

    shifts: Array
    transfer: float
    angles: Array
    seats: Array
    pocket: Array
    woods: Array

    def numbers(self, linear: LinearBench, number: int, upper_deg: float, lower_deg: float) -> Array:
        """True `Strung.numbers` of a guitar with a pair, (3,)."""
        acting = np.array([upper_deg, lower_deg]) + self.angles[number]
        acting[1] += self.seats[number].sum()
        raw = linear.raw(float(acting[0]), float(acting[1]))
        raw[1:] += (self.transfer - 1.0) * (raw - linear.raw(0.0, 0.0))[1:]
        return np.asarray(raw + self.shifts[number])


@dataclass(frozen=True)
class OtherMechanism:
    """Changes of `Strung.numbers` by a body ten per cent softer, and by ten per cent more deformation by the
    strings, (3,) each.
    """

    softer_body: Array
    creep: Array


def other_mechanism(bench: Bench) -> OtherMechanism:
    """Solve the full model at the reference pair; raises `InputError` without a body stiffness."""
    at = bench.reference_deg
    here = bench.strung(*at)
    stiffness = bench.question.body_stiffness
    if stiffness is None:
        raise InputError("The simulated workshop needs a body: set body.stiffness_n_m_per_rad.")
    softer = bench.solved(replace(bench.question, body_stiffness=stiffness / 1.1), *at)
    deformation = np.array([here.line_mm - here.bolted_line_mm, here.misfit_deg - here.bolted_kink_deg, 0.0])
    return OtherMechanism(softer.numbers - here.numbers, 0.1 * deformation)


def truth_of(
    linear: LinearBench, settings: Settings, other: OtherMechanism, *, seed: int, guitars: int | None = None
) -> Truth:
    """Draw a workshop; even seeds deviate from the model as its prior says, odd ones by body and creep."""
    rng = np.random.default_rng(seed)
    count = settings.guitars if guitars is None else guitars
    effects, tolerance = linear.fixed_effects, linear.case.tolerance
    woods = rng.standard_normal((count, len(effects)))
    slopes, curvatures = np.array([e.slope for e in effects]), np.array([e.curvature for e in effects])
    shifts = woods @ slopes + woods**2 @ curvatures
    hidden = rng.standard_normal(4) * np.sqrt(np.diag(linear.fixed_prior))
    transfer = 1.0
    if seed % 2 == 0:
        kink, stretch, transfer_change, pitch = hidden
        transfer = 1.0 + float(transfer_change)
        shifts += [-linear.geometry.fall(float(pitch)), kink + stretch * linear.stretch_deg, kink]
    else:
        shop = float(np.exp(settings.body_mean_cov * rng.standard_normal()))
        softening = shop * np.exp(settings.body_cov * rng.standard_normal(count)) - 1.0
        growth = settings.creep * np.exp(settings.creep_cov * rng.standard_normal(count))
        shifts += np.outer(softening, 10.0 * other.softer_body) + np.outer(growth, 10.0 * other.creep)
    middle = linear.geometry.saddle_top - linear.base[0]
    return Truth(
        shifts=shifts,
        transfer=transfer,
        angles=tolerance.shim_deg * rng.standard_normal((count, 2)),
        seats=tolerance.pocket_deg * rng.standard_normal((count, 2)),
        pocket=middle
        + np.clip(POCKET_MM * rng.standard_normal(count), -LARGEST_POCKET_MM, LARGEST_POCKET_MM),
        woods=woods,
    )

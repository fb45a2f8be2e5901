"""A linear model in place of the full one, for code that needs thousands of pairs."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from math import degrees, radians

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.strung_neck import Bench, Effect, Strung
from cases.offset.calibration import KINK_BIAS, PITCH_BIAS, STRETCH, TRANSFER, Calibration, Overlay

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LinearBench(Bench):
    """A bench linearised about one pair, a thousand times faster than the full model.

    ``base`` : `Strung.numbers` at the pair ``base_deg`` (2,); ``slopes`` : their change per degree of each
    shim, (3, 2); ``line`` : strung and bolted shaft line at that pair [mm]; ``bolted_gap`` : its tongue gap
    bolted up [mm]; ``neck_shift`` : change of the numbers by a test of this neck, (3,). With the kink tuned
    down, all have one row more.
    """

    base: Array = field(default_factory=lambda: np.zeros(3))
    base_deg: Array = field(default_factory=lambda: np.zeros(2))
    slopes: Array = field(default_factory=lambda: np.zeros((3, 2)))
    line: Array = field(default_factory=lambda: np.zeros(2))
    bolted_gap: float = 0.0
    neck_shift: Array = field(default_factory=lambda: np.zeros(3))
    fixed_effects: tuple[Effect, ...] = ()
    fixed_prior: Array = field(default_factory=lambda: np.zeros((4, 4)))

    def raw(self, upper_deg: float, lower_deg: float) -> Array:
        """`Strung.numbers` of a pair without calibration and neck test, (3,) or (4,)."""
        return np.asarray(self.base + self.slopes @ (np.array([upper_deg, lower_deg]) - self.base_deg))

    def strung(self, upper_deg: float, lower_deg: float) -> Strung:
        """States of a pair, linear."""
        saddle, misfit, bolted, *rest = self.raw(upper_deg, lower_deg) + self.neck_shift
        learned = self.calibration.value(PITCH_BIAS) if self.calibration else 0.0
        saddle -= self.geometry.fall(learned)
        misfit = self.overlay.factor * (misfit - degrees(self.overlay.shift))
        moved = saddle - self.base[0]
        return Strung(
            upper_deg=upper_deg,
            lower_deg=lower_deg,
            saddle_mm=float(saddle),
            line_mm=float(self.line[0] + moved),
            bolted_line_mm=float(self.line[1] + moved),
            misfit_deg=float(misfit),
            tongue_gap_mm=radians(float(misfit)) * self.geometry.tongue_lever,
            bolted_kink_deg=float(bolted),
            bolted_gap_mm=self.bolted_gap
            + radians(float(bolted - self.base[2])) * self.geometry.tongue_lever,
            tuned_down_kink_deg=float(rest[0]) if rest else None,
        )

    def gains(self, upper_deg: float, lower_deg: float) -> Array:
        """Gains, the same at every pair."""
        gains = self.slopes.copy()
        gains[1] *= self.overlay.factor
        return gains

    def effects(self, upper_deg: float, lower_deg: float) -> tuple[Effect, ...]:
        """Effects at the pair of linearisation."""
        return self.fixed_effects

    def prior(self, effects: Sequence[Effect]) -> Array:
        """Prior at the pair of linearisation."""
        return self.fixed_prior

    def with_calibration(self, calibration: Calibration | None, *, neck_shift: Array) -> "LinearBench":
        """Return the bench with a calibration and the shift from a test of this neck."""
        if calibration is None:
            return replace(self, calibration=None, overlay=Overlay(), neck_shift=neck_shift)
        factor = calibration.value(TRANSFER)
        level = float(self.raw(0.0, 0.0)[1])
        taken = calibration.value(KINK_BIAS) + (calibration.value(STRETCH) - 1.0) * self.stretch_deg
        shift = radians(((factor - 1.0) * level - taken) / factor)
        return replace(self, calibration=calibration, overlay=Overlay(shift, factor), neck_shift=neck_shift)


def linear_bench(bench: Bench) -> LinearBench:
    """Linearise a bench about its reference pair."""
    at = bench.reference_deg
    here = bench.strung(*at)
    effects = bench.effects(*at)
    given = {one.name: getattr(bench, one.name) for one in fields(bench) if one.init and one.name[0] != "_"}
    return LinearBench(
        **given,
        base=here.numbers,
        base_deg=np.array(at),
        slopes=bench.gains(*at),
        line=np.array([here.line_mm, here.bolted_line_mm]),
        bolted_gap=here.bolted_gap_mm,
        neck_shift=np.zeros(len(here.numbers)),
        fixed_effects=effects,
        fixed_prior=bench.prior(effects),
    )

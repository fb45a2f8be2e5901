"""A solved bench made quick: one pair and its gains stand in for the full model, the tool's code stays the
same.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from math import degrees, radians

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.strung_neck import Bench, Effect, Strung
from cases.offset.calibration import KINK_BIAS, PITCH_BIAS, STRETCH, TRANSFER, Calibration, Overlay

Array = NDArray[np.float64]


@dataclass(frozen=True)
class QuickBench(Bench):
    """A bench whose states are those of one pair plus gains: the tool's own code runs on it a thousand times
    faster.

    ``base`` are `Strung.numbers` at ``base_deg`` (2,), ``slopes`` (3, 2) their change per degree of each
    shim, ``line`` the strung and the bolted shaft line there [mm]; ``own`` is what a test of this neck moves
    (3,).
    """

    base: Array = field(default_factory=lambda: np.zeros(3))
    base_deg: Array = field(default_factory=lambda: np.zeros(2))
    slopes: Array = field(default_factory=lambda: np.zeros((3, 2)))
    line: Array = field(default_factory=lambda: np.zeros(2))
    own: Array = field(default_factory=lambda: np.zeros(3))
    fixed_effects: tuple[Effect, ...] = ()
    fixed_prior: Array = field(default_factory=lambda: np.zeros((4, 4)))

    def raw(self, upper_deg: float, lower_deg: float) -> Array:
        """The model's own numbers at a pair, (3,)."""
        return np.asarray(self.base + self.slopes @ (np.array([upper_deg, lower_deg]) - self.base_deg))

    def strung(self, upper_deg: float, lower_deg: float) -> Strung:
        """States of a pair, to first order."""
        saddle, misfit, bolted = self.raw(upper_deg, lower_deg) + self.own
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
        )

    def effects(self, upper_deg: float, lower_deg: float) -> tuple[Effect, ...]:
        """Those of the pair it was made from."""
        return self.fixed_effects

    def prior(self, effects: Sequence[Effect]) -> Array:
        """That of the pair it was made from."""
        return self.fixed_prior

    def with_calibration(self, calibration: Calibration | None, *, own: Array | None = None) -> "QuickBench":
        """The same bench with a calibration laid over it, and what a test of this neck moves."""
        moved = np.zeros(3) if own is None else own
        if calibration is None:
            return replace(self, calibration=None, overlay=Overlay(), own=moved)
        factor = calibration.value(TRANSFER)
        level = float(self.raw(0.0, 0.0)[1])
        taken = calibration.value(KINK_BIAS) + (calibration.value(STRETCH) - 1.0) * self.stretch_deg
        shift = radians(((factor - 1.0) * level - taken) / factor)
        return replace(self, calibration=calibration, overlay=Overlay(shift, factor), own=moved)


def quick_bench(bench: Bench) -> QuickBench:
    """Make a bench quick, about its reference pair."""
    at = bench.reference_deg
    here = bench.strung(*at)
    effects = bench.effects(*at)
    given = {one.name: getattr(bench, one.name) for one in fields(bench) if one.init and one.name[0] != "_"}
    return QuickBench(
        **given,
        base=here.numbers,
        base_deg=np.array(at),
        slopes=bench.gains(*at),
        line=np.array([here.line_mm, here.bolted_line_mm]),
        fixed_effects=effects,
        fixed_prior=bench.prior(effects),
    )

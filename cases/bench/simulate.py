"""A simulated workshop: 400 guitars an instrument maker never built, fitted by following the tool.

Everything here is invented and seeded. It shows whether the arithmetic of aim, log and chart holds together;
it says nothing about wood, which only a real log can.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True)
class Settings:
    """The workshop, fixed before its first result was seen (docs/bench.md).

    Scatter from guitar to guitar is that of the case ([scatter] and [tolerance], defaults), each source drawn
    from its own normal distribution, moduli log-normal.

    Attributes
    ----------
    case, changes : the instrument; the body's stiffness is invented, above the 2.5 kN m/rad that the usual
        clearance at the bridge bounds it by.
    guitars, seeds : guitars a workshop fits, workshops simulated.
    judged_from : guitars before it only fill the log.
    recalibrated_every : the log is evaluated anew after so many guitars.
    reading_mm : error of the reading at the saddle, one standard deviation.
    action_mm, kink_deg : errors of what goes into the log: action of each side, kink before and after
        string-up.
    neck_test : relative error of a neck's bending stiffness from a dead-weight test.
    fixed_step_mm : the workshop with a fixed offset knows its usual rise of the saddle line to this, and its
        offset to a step of the stock.
    body_mean_cov, body_cov : other mechanism: the body's true mean stiffness against the one assumed, and its
        scatter from guitar to guitar.
    creep, creep_cov : other mechanism: share by which what the strings took up has grown when it is measured,
        and its scatter.
    shift_at, shift_seeds : a shift by one standard deviation of the action's residual begins there.
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

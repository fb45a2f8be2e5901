"""What a simulated workshop does not know: its settings, invented and seeded, and the true necks drawn from
them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.linearised import QuickBench
from cases.bench.shims.strung_neck import Bench
from materials.errors import InputError

Array = NDArray[np.float64]
POCKET_MM, POCKET_MOST_MM = 0.5, 1.2
"""How far pockets differ in their reading from the one that wants the middle of the stock: one standard
deviation, and at most [mm]."""


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


@dataclass(frozen=True)
class Truth:
    """What a workshop does not know: changes of `Strung.numbers`, each row a guitar.

    ``moved`` (guitars, 3) at the reference pair, ``transfer`` the true transfer factor, ``angles`` (guitars,
    2) errors of both shims' angles, ``seats`` (guitars, 2) of the two square faces [deg], ``pocket``
    (guitars,) true readings [mm], ``woods`` (guitars, sources) in standard deviations.
    """

    moved: Array
    transfer: float
    angles: Array
    seats: Array
    pocket: Array
    woods: Array

    def numbers(self, quick: QuickBench, number: int, upper_deg: float, lower_deg: float) -> Array:
        """True numbers of a guitar on a pair, (3,)."""
        acting = np.array([upper_deg, lower_deg]) + self.angles[number]
        acting[1] += self.seats[number].sum()
        raw = quick.raw(float(acting[0]), float(acting[1]))
        raw[1:] += (self.transfer - 1.0) * (raw - quick.raw(0.0, 0.0))[1:]
        return np.asarray(raw + self.moved[number])


@dataclass(frozen=True)
class Responses:
    """What the other mechanism does: change of the numbers when the body gives way ten per cent more, and
    when all that the strings took up grows by ten per cent, (3,) each.
    """

    softer_body: Array
    creep: Array


def responses_of(bench: Bench) -> Responses:
    """Work them out on the full model, at the reference pair."""
    at = bench.reference_deg
    here = bench.strung(*at)
    stiffness = bench.question.body_stiffness
    if stiffness is None:
        raise InputError("The simulated workshop wants a body: set body.stiffness_n_m_per_rad.")
    softer = bench.solved(replace(bench.question, body_stiffness=stiffness / 1.1), *at)
    taken = np.array([here.line_mm - here.bolted_line_mm, here.misfit_deg - here.bolted_kink_deg, 0.0])
    return Responses(softer.numbers - here.numbers, 0.1 * taken)


def truth_of(
    quick: QuickBench, settings: Settings, responses: Responses, *, seed: int, guitars: int | None = None
) -> Truth:
    """Draw a workshop; even seeds differ from the model as its prior says, odd ones by body and creep."""
    rng = np.random.default_rng(seed)
    count = settings.guitars if guitars is None else guitars
    effects, tolerance = quick.fixed_effects, quick.case.tolerance
    woods = rng.standard_normal((count, len(effects)))
    slopes, bends = np.array([e.slope for e in effects]), np.array([e.curvature for e in effects])
    moved = woods @ slopes + woods**2 @ bends
    hidden = rng.standard_normal(4) * np.sqrt(np.diag(quick.fixed_prior))
    transfer = 1.0
    if seed % 2 == 0:
        kink, stretch, transfer_change, pitch = hidden
        transfer = 1.0 + float(transfer_change)
        moved += [-quick.geometry.fall(float(pitch)), kink + stretch * quick.stretch_deg, kink]
    else:
        shop = float(np.exp(settings.body_mean_cov * rng.standard_normal()))
        give = shop * np.exp(settings.body_cov * rng.standard_normal(count)) - 1.0
        grown = settings.creep * np.exp(settings.creep_cov * rng.standard_normal(count))
        moved += np.outer(give, 10.0 * responses.softer_body) + np.outer(grown, 10.0 * responses.creep)
    middle = quick.geometry.saddle_top - quick.base[0]
    return Truth(
        moved=moved,
        transfer=transfer,
        angles=tolerance.shim_deg * rng.standard_normal((count, 2)),
        seats=tolerance.pocket_deg * rng.standard_normal((count, 2)),
        pocket=middle + np.clip(POCKET_MM * rng.standard_normal(count), -POCKET_MOST_MM, POCKET_MOST_MM),
        woods=woods,
    )

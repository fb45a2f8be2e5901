"""Shims in use, and how many of each to stock for the next guitars."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.lengths import shim_angle
from materials.errors import InputError

Pad = Literal["upper", "lower"]

PRIOR_GUITARS = 20.0
"""Weight of the spread study's shares, as a number of guitars in the log (our choice, no source)."""


@dataclass(frozen=True)
class Stock:
    """One shim: guitars with it now, and number to stock for the next guitars."""

    pad: Pad
    angle_deg: float
    used: int
    wanted: int

    @property
    def label(self) -> str:
        """Return the angle as printed on the stock."""
        return shim_angle(self.angle_deg)


def shims_used(fits: Sequence[Fit], pad: Pad) -> Mapping[float, int]:
    """Return the number of guitars by present shim angle [deg]."""
    last = {fit.serial: fit for fit in sorted(fits, key=lambda fit: fit.attempt)}
    angles = (fit.upper_deg if pad == "upper" else fit.lower_deg for fit in last.values())
    return dict(sorted(Counter(round(angle, 3) for angle in angles).items()))


def stock_for_next(
    fits: Sequence[Fit],
    guitars: int,
    *,
    expected: Mapping[Pad, Mapping[float, float]] | None = None,
    short_chance: float = 0.05,
) -> tuple[Stock, ...]:
    """Return how many of each shim to stock, so that each runs short with a chance below `short_chance`.

    The share of each angle is learned from the log: Dirichlet, its prior the spread study's shares with the
    weight `PRIOR_GUITARS`, or half a guitar per angle without a study. The number needed is beta-binomial.
    Source: Gelman and others [gelman2013], section 3.4 (from memory). Raises `InputError` without
    guitars, for a chance outside 0 to 1, or with neither a log nor expected shares.

    Parameters
    ----------
    guitars : number of guitars to fit next.
    expected : {"upper": {angle [deg]: share}, "lower": ...} from the spread study.
    short_chance : allowed chance that the stock of one angle is too small.
    """
    if guitars < 1:
        raise InputError(f"Stock for {guitars} guitars: give 1 or more.")
    if not 0.0 < short_chance < 1.0:
        raise InputError(
            f"The chance of running short is {short_chance}; give one between 0 and 1, for example 0.05."
        )
    wanted: list[Stock] = []
    for pad in get_args(Pad):
        used = shims_used(fits, pad)
        shares = {round(angle, 3): share for angle, share in ((expected or {}).get(pad) or {}).items()}
        if not used and not shares:
            raise InputError("No shims have been logged yet; log some fits first.")
        total = sum(shares.values())
        angles = sorted(used.keys() | shares.keys())
        weight = {
            angle: used.get(angle, 0) + (PRIOR_GUITARS * shares.get(angle, 0.0) / total if total else 0.5)
            for angle in angles
        }
        everything = sum(weight.values())
        for angle in angles:
            count = _quantile(guitars, weight[angle], everything - weight[angle], 1.0 - short_chance)
            wanted.append(Stock(pad=pad, angle_deg=angle, used=used.get(angle, 0), wanted=count))
    return tuple(wanted)


def _quantile(guitars: int, weight: float, rest: float, chance: float) -> int:
    """Return the quantile of the beta-binomial, also for a share of 0 or 1."""
    from scipy.stats import betabinom

    if weight <= 0.0:
        return 0
    return guitars if rest <= 0.0 else int(betabinom.ppf(chance, guitars, weight, rest))

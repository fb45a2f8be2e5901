"""Which shims went in, and how many of each to have in stock for the next guitars."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from cases.bench.logbook.current_rows import Fit
from materials.errors import InputError

Pad = Literal["upper", "lower"]

PRIOR_GUITARS = 20.0
"""What the spread study's shares weigh beside the log: as much as so many guitars (our choice, no source)."""


@dataclass(frozen=True)
class Stock:
    """One shim: how many guitars carry it, how many to have for the next ones."""

    pad: Pad
    angle_deg: float
    used: int
    wanted: int

    @property
    def label(self) -> str:
        """Return the angle as the stock is labelled: two decimals, ASCII minus."""
        return f"{self.angle_deg:.2f}" if round(self.angle_deg, 2) else "0.00"


def shims_used(fits: Sequence[Fit], pad: Pad) -> Mapping[float, int]:
    """Return how many guitars carry each angle [deg] now: the pair of each guitar's last fit."""
    last: dict[str, Fit] = {}
    for fit in fits:
        if fit.serial not in last or fit.attempt > last[fit.serial].attempt:
            last[fit.serial] = fit
    angles = (fit.upper_deg if pad == "upper" else fit.lower_deg for fit in last.values())
    return dict(sorted(Counter(round(angle, 3) for angle in angles).items()))


def stock_for_next(
    fits: Sequence[Fit],
    guitars: int,
    *,
    expected: Mapping[Pad, Mapping[float, float]] | None = None,
    short_chance: float = 0.05,
) -> tuple[Stock, ...]:
    """Return how many of each shim to have, so that each runs short with a chance below `short_chance`.

    The share of each angle is learned from the log (Dirichlet, its prior the shares of the spread study worth
    `PRIOR_GUITARS` guitars, without one half a guitar for each angle seen); the number wanted of `guitars` is
    then beta-binomial. Textbook: Gelman et al., Bayesian Data Analysis, section 3.4 (from memory).

    Parameters
    ----------
    guitars
        How many are to be fitted next.
    expected
        {"upper": {angle [deg]: share}, "lower": ...} from the spread study.
    short_chance
        Chance allowed, for each angle by itself, that the stock does not reach.

    Raises
    ------
    InputError
        No guitars asked for, a chance outside 0 to 1, or neither a log nor expected shares.
    """
    from scipy.stats import betabinom

    if guitars < 1:
        raise InputError(f"Stock for {guitars} guitars is none; give 1 or more.")
    if not 0.0 < short_chance < 1.0:
        raise InputError(
            f"The chance of running short is {short_chance}; give one between 0 and 1, such as 0.05."
        )
    wanted: list[Stock] = []
    pads: tuple[Pad, ...] = ("upper", "lower")
    for pad in pads:
        used = shims_used(fits, pad)
        shares = {round(angle, 3): share for angle, share in ((expected or {}).get(pad) or {}).items()}
        if not used and not shares:
            raise InputError("Nothing is known yet about the shims used; log some fits first.")
        total = sum(shares.values())
        angles = sorted(used.keys() | shares.keys())
        weight = {
            angle: used.get(angle, 0) + (PRIOR_GUITARS * shares.get(angle, 0.0) / total if total else 0.5)
            for angle in angles
        }
        everything = sum(weight.values())
        for angle in angles:
            count = _quantile(
                betabinom, guitars, weight[angle], everything - weight[angle], 1.0 - short_chance
            )
            wanted.append(Stock(pad=pad, angle_deg=angle, used=used.get(angle, 0), wanted=count))
    return tuple(wanted)


def _quantile(family: Any, guitars: int, weight: float, rest: float, chance: float) -> int:
    """Return the quantile of the beta-binomial, with its two ends that the library leaves out."""
    if weight <= 0.0:
        return 0
    return guitars if rest <= 0.0 else int(family.ppf(chance, guitars, weight, rest))

"""The flex budget as two bars, for the picture and the page."""

from dataclasses import dataclass

from cases.offset.answer import Answer


@dataclass(frozen=True)
class BudgetBar:
    """One bar: contributions in ``unit``, in the answer's order."""

    title: str
    unit: str
    total: float
    parts: tuple[str, ...]
    shares: tuple[float, ...]

    @property
    def digits(self) -> int:
        """Decimals of a value."""
        return 2 if self.unit == "mm" else 3

    @property
    def percent(self) -> tuple[float, ...]:
        """Contributions in per cent of the total; they add to 100, including negative ones."""
        return tuple(100.0 * share / self.total for share in self.shares)


def budget_bars(answer: Answer) -> tuple[BudgetBar, BudgetBar]:
    """Bars of nut rise [mm] and heel stretch [deg]."""
    budget = answer.budget
    nut, kink = budget.nut_rise_shares_mm, budget.heel_stretch_shares_deg
    return (
        BudgetBar("nut rise", "mm", budget.nut_rise_mm, tuple(nut), tuple(nut.values())),
        BudgetBar("heel stretch", "deg", budget.heel_stretch_deg, tuple(kink), tuple(kink.values())),
    )

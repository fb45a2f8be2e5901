"""The picture of a spread: what the necks need, and where action and tongue gap end up on the fixed pair."""

from typing import TYPE_CHECKING

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

if TYPE_CHECKING:
    from cases.monte_carlo.spread import Spread


def draw_spread(found: "Spread") -> Figure:
    """Histogram of the offsets needed, and action against tongue gap with the tolerance as a frame."""
    figure = Figure(figsize=(9.0, 4.0), layout="constrained")
    left, right = figure.subplots(1, 2)
    left.hist(found.columns["offset_deg"], bins=60, color="tab:blue")
    left.axvline(found.case_offset_deg, color="black", label="the case's own")
    left.set(xlabel="offset needed [deg]", ylabel="necks", title=f"{found.case}, {found.necks} necks")
    left.legend()
    right.plot(
        found.columns["action_error_mm"], found.columns["tongue_gap_mm"], ".", markersize=2, color="tab:blue"
    )
    action, gap = found.tolerance_mm
    right.add_patch(Rectangle((-action, -gap), 2 * action, 2 * gap, fill=False, edgecolor="black"))
    rate = 100.0 * found.rates[0].truth
    right.set(
        xlabel="action off by [mm]",
        ylabel="tongue gap off by [mm]",
        title=f"fixed pair: {rate:.0f} % right",
    )
    return figure

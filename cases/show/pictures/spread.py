"""Picture of a spread: offsets needed, and action against tongue gap with the fixed pair."""

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cases.monte_carlo.spread import Spread
from cases.show.style import BLUE, INK, applied, headline, panels


@applied()
def draw_spread(found: Spread) -> Figure:
    """Histogram of the offsets needed, and action against tongue gap with the tolerance as a frame."""
    drawn, (left, right) = panels(1, 2, width=9.0, height=4.0)
    left.hist(found.columns["offset_deg"], bins=60, color=BLUE)
    left.axvline(found.case_offset_deg, color=INK, label="offset of the case")
    left.set(xlabel="offset needed [deg]", ylabel="necks", title="what each neck needs")
    left.legend(frameon=False)
    right.plot(found.columns["action_error_mm"], found.columns["tongue_gap_mm"], ".", ms=2, color=BLUE)
    action, gap = found.tolerance_mm
    right.add_patch(Rectangle((-action, -gap), 2 * action, 2 * gap, fill=False, edgecolor=INK))
    rate = 100.0 * found.rates[0].truth
    right.set(
        xlabel="action error [mm]", ylabel="tongue gap [mm]", title=f"{rate:.0f} % right: inside the frame"
    )
    headline(drawn, f"{found.case}: {found.necks} necks on one fixed pair")
    return drawn

"""Picture of neck woods side by side."""

from matplotlib.figure import Figure

from cases.show.style import BLUE, INK, QUIET, applied, panels
from cases.studies.neck_woods import NeckWoods


@applied()
def draw_neck_woods(found: NeckWoods) -> Figure:
    """Offset with its scatter, and the change of relief and action in a dry winter, one line a wood."""
    rows = [(row.name, row.numbers) for row in found.rows if row.numbers is not None]
    drawn, axes = panels(1, 3, width=11.0, height=max(3.0, 1.4 + 0.32 * len(rows)), sharey=True)
    for place, (_, one) in enumerate(rows):
        offset = one.preload_offset_deg
        marks = (
            (offset, offset - one.scatter_deg, offset + one.scatter_deg),
            (one.winter_relief_mm, *one.winter_relief_range_mm),
            (one.winter_action_mm, *one.winter_action_range_mm),
        )
        for panel, (value, low, high) in zip(axes, marks, strict=True):
            panel.plot([low, high], [place, place], color=QUIET, lw=2)
            panel.plot(value, place, "o", color=BLUE, ms=7)
    titles = ("preload offset [deg], 90 % of guitars", "winter: relief [mm]", "winter: action [mm]")
    for panel, title in zip(axes, titles, strict=True):
        panel.set_xlabel(title)
        panel.margins(x=0.12)
        panel.locator_params(axis="x", nbins=5)
    for panel in axes[1:]:
        panel.axvline(0.0, color=INK, lw=0.6)
    axes[0].set_yticks(range(len(rows)), [name for name, _ in rows])
    axes[0].set_ylim(len(rows) - 0.5, -0.5)
    drawn.suptitle(f"{found.case}: neck woods")
    return drawn

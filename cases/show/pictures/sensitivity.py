"""Bar chart of sensitivities: effect of one step of each input, and of its uncertainty."""

from collections.abc import Callable, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cases.show.style import BLUE, INK, ORANGE, QUIET, STEEL, applied, headline, panels
from cases.studies.sensitivity import InputEffect, Sensitivities

SHOWN = 18
"""Number of inputs drawn, taken in turn from the ranking by step and the ranking by effect."""
WIDTH = 11.0


@applied()
def draw_bars(found: Sensitivities) -> Figure:
    """The most influential inputs: offset, stretch, relief for one step, offset for one standard deviation.

    Orange in the last panel: inputs determined by the first three measurements.
    """
    rows = _most_influential(found.rows)
    determined = {name for one in found.measure_first[:3] for name in one.inputs}
    drawn, axes = panels(1, 4, width=WIDTH, height=1.4 + 0.27 * len(rows), sharey=True)
    changes: tuple[tuple[str, Callable[[InputEffect], float], str], ...] = (
        (f"{found.word} for one step [deg]", lambda row: row.change.offset_deg, BLUE),
        ("stretch for one step [deg]", lambda row: row.change.stretch_deg, STEEL),
        ("relief for one step [mm]", lambda row: row.change.relief_mm, STEEL),
    )
    for panel, (label, read, colour) in zip(axes[:3], changes, strict=True):
        _bars(panel, [read(row) for row in rows], [colour] * len(rows), label)
    colours = [ORANGE if row.name in determined else QUIET for row in rows]
    _bars(
        axes[3],
        [row.worth_deg or 0.0 for row in rows],
        colours,
        f"effect on the {found.word} of\none standard deviation [deg]",
    )
    axes[0].set_yticks(range(len(rows)), [_named(row) for row in rows])
    axes[0].set_ylim(len(rows) - 0.4, -0.6)
    headline(drawn, f"{found.case}: what each input changes")
    drawn.supxlabel("One step is 10 % of the input (given if it is zero). Orange: measure first.", fontsize=9)
    return drawn


def _most_influential(rows: Sequence[InputEffect]) -> list[InputEffect]:
    """Best rows of both rankings, in the order of the first."""
    by_effect = sorted(rows, key=lambda row: -(row.worth_deg or 0.0))
    chosen: list[InputEffect] = []
    for pair in zip(rows, by_effect, strict=True):
        for row in pair:
            if row not in chosen and len(chosen) < SHOWN:
                chosen.append(row)
    return sorted(chosen, key=rows.index)


def _bars(panel: Axes, lengths: list[float], colours: list[str], label: str) -> None:
    panel.barh(range(len(lengths)), lengths, color=colours, height=0.65)
    for place in range(len(lengths)):
        panel.axhline(place, color=QUIET, lw=0.3, zorder=0)
    panel.axvline(0.0, color=INK, lw=0.8)
    panel.set_xlabel(label)
    panel.locator_params(axis="x", nbins=4)
    panel.tick_params(axis="y", length=0)


def _named(row: InputEffect) -> str:
    return f"{row.name} (+{row.step:g})" if row.value == 0.0 else row.name

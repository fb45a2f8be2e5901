"""The bar picture of sensitivities: what a step of each input makes, and what its uncertainty makes."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from cases.show.style import BLUE, INK, ORANGE, QUIET, STEEL, applied, figure
from cases.studies.sensitivity import InputEffect, Sensitivities

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHOWN = 18
"""Inputs drawn: the first by their step and the first by their worth, together."""
WIDTH = 11.0


def draw_bars(found: Sensitivities) -> "Figure":
    """Draw the inputs that weigh most, ranked by what their step changes in the offset.

    Parameters
    ----------
    found : Sensitivities
        Of `cases.studies.sensitivity.sensitivity`.

    Returns
    -------
    Figure
        Four panels with a bar an input: offset, stretch and relief for one step, offset for one standard
        deviation; the inputs that the first three measurements settle are orange in the last.
    """
    rows = _weightiest(found.rows)
    settled = {name for one in found.measure_first for name in one.inputs}
    with applied():
        drawn = figure(width=WIDTH, height=1.4 + 0.27 * len(rows))
        drawn.set_layout_engine("constrained")
        panels = drawn.subplots(1, 4, sharey=True)
        changes: tuple[tuple[str, Callable[[InputEffect], float], str], ...] = (
            (f"{found.word} for one step [deg]", lambda row: row.change.offset_deg, BLUE),
            ("stretch for one step [deg]", lambda row: row.change.stretch_deg, STEEL),
            ("relief for one step [mm]", lambda row: row.change.relief_mm, STEEL),
        )
        for panel, (label, read, colour) in zip(panels[:3], changes, strict=True):
            _bars(panel, [read(row) for row in rows], [colour] * len(rows), label)
        colours = [ORANGE if row.name in settled else QUIET for row in rows]
        _bars(
            panels[3],
            [row.worth_deg or 0.0 for row in rows],
            colours,
            f"worth: {found.word} for\nwhat it is known to [deg]",
        )
        panels[0].set_yticks(range(len(rows)), [_named(row) for row in rows])
        panels[0].set_ylim(len(rows) - 0.4, -0.6)
        drawn.suptitle(
            f"{found.case}: one step is a tenth of the input (given where it is zero); orange: measure first",
            fontsize=10,
        )
    return drawn


def _weightiest(rows: Sequence[InputEffect]) -> list[InputEffect]:
    """The heads of both rankings, in the order of the first."""
    by_worth = sorted(rows, key=lambda row: -(row.worth_deg or 0.0))
    chosen: list[InputEffect] = []
    for by_step, worth in zip(rows, by_worth, strict=True):
        for row in (by_step, worth):
            if row not in chosen and len(chosen) < SHOWN:
                chosen.append(row)
    return sorted(chosen, key=rows.index)


def _bars(panel: "Axes", lengths: list[float], colours: list[str], label: str) -> None:
    panel.barh(range(len(lengths)), lengths, color=colours, height=0.65)
    for place in range(len(lengths)):
        panel.axhline(place, color=QUIET, lw=0.3, zorder=0)
    panel.axvline(0.0, color=INK, lw=0.8)
    panel.set_xlabel(label)
    panel.locator_params(axis="x", nbins=4)
    panel.tick_params(axis="y", length=0)


def _named(row: InputEffect) -> str:
    return f"{row.name} (+{row.step:g})" if row.value == 0.0 else row.name

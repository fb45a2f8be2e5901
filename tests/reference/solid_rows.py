"""Comparison with the solid, reading by reading, and its page.

python -m tests.reference.solid_rows
"""

import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fem.geometry.fret_line import FretLine
from tests.reference.by_plate import Crowns, bonded, contact, fret_line
from tests.reference.instruments import Instrument, computed, inputs, instrument, instruments
from tests.reference.solid_run import LINEAR, friction_of, states, stored

PAGE = Path(__file__).resolve().parents[2] / "docs" / "solid.md"
TEXT = Path(__file__).with_name("solid_page.md")
UNITS = {"relief": "mm", "nut_rise": "mm", "shim_transfer": "-"}


@dataclass(frozen=True)
class Compared:
    """One reading of one instrument in one joint, from our model and the solid; tolerance in per cent of the solid's."""

    instrument: str
    variant: str
    reading: str
    ours: float
    solid: float
    rough: float
    tolerance: float

    @property
    def percent(self) -> float:
        """Difference from the solid in per cent of the solid's reading."""
        return 100.0 * (self.ours - self.solid) / abs(self.solid)

    @property
    def mesh_percent(self) -> float:
        """Difference between the solid's rough and fine mesh in per cent of the fine one."""
        return 100.0 * (self.rough - self.solid) / abs(self.solid)

    @property
    def passed(self) -> bool:
        """Whether the difference is within tolerance; a NaN is not."""
        return abs(self.percent) <= self.tolerance

    @property
    def unit(self) -> str:
        """Unit of the reading."""
        return UNITS.get(self.reading, "deg")


def of_bonded(line: FretLine, state: Crowns) -> dict[str, float]:
    """Relief and nut rise [mm], slope of the shaft line and kinks [deg]."""
    angles = {
        "shaft_slope": line.shaft_slope(state.crowns),
        "kink": line.kink(state.crowns),
        "shaft_slope_straightedge": line.slope_row(line.shaft) @ state.crowns,
        "kink_straightedge": line.straightedge_row() @ state.crowns,
    }
    lengths = {"relief": 1e3 * line.relief(state.crowns)[0], "nut_rise": 1e3 * state.nut}
    return lengths | {name: math.degrees(angle) for name, angle in angles.items()}


def of_contact(line: FretLine, states: dict[float, list[Crowns]]) -> dict[str, float]:
    """Relief at pitch [mm], heel stretch [deg], shim transfer, and the nut's rise from bolted to strung [mm]."""
    step = inputs()["shim_step_deg"]
    (bolted, strung), (_, tapered) = states[0.0], states[step]
    before, at_pitch, shimmed = (math.degrees(line.kink(one.crowns)) for one in (bolted, strung, tapered))
    return {
        "relief": 1e3 * line.relief(strung.crowns)[0],
        "heel_stretch": at_pitch - before,
        "shim_transfer": (shimmed - at_pitch) / step,
        "nut_rise": 1e3 * (strung.nut - bolted.nut),
    }


def _readings(one: Instrument, variant: str, found: dict[float, list[Crowns]]) -> dict[str, float]:
    line = fret_line(one.structure)
    return of_bonded(line, found[0.0][0]) if variant in LINEAR else of_contact(line, found)


def ours(one: Instrument, variant: str) -> dict[str, float]:
    """Readings of our model for an instrument in one joint."""
    if variant in LINEAR:
        return _readings(one, variant, {0.0: [bonded(one, on_block=variant == "bonded")]})
    return _readings(one, variant, contact(one, friction=friction_of(variant)))


def compared(name: str, cut: str, variant: str) -> list[Compared]:
    """All readings of an instrument in one joint that have a tolerance."""
    one = instrument(name, cut)
    kept = stored()["runs"][f"{name} {cut}"][variant]
    solid, rough = (_readings(one, variant, states(kept[mesh])) for mesh in ("fine", "rough"))
    mine = ours(one, variant)
    return [
        Compared(f"{name} {cut}", variant, reading, mine[reading], solid[reading], rough[reading], percent)
        for reading, percent in inputs()["tolerances_percent"][variant].items()
    ]


def everything(variant: str) -> list[Compared]:
    """All instruments in one joint."""
    return [row for name, cut in instruments() for row in compared(name, cut, variant)]


def without_indentation(one: Instrument) -> Instrument:
    """The instrument before the correction: its block carries load over the whole width at once."""
    return replace(
        one, structure=replace(one.structure, block_wood=replace(one.structure.block_wood, solid=None))
    )


def before_and_after(variant: str, readings: tuple[str, ...]) -> Iterator[str]:
    """Lines of a table: readings without and with local indentation, and the solid's."""
    yield "| instrument | reading | before | now | solid | error before | error now |"
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    for name, cut in instruments():
        was = ours(without_indentation(instrument(name, cut)), variant)
        for row in compared(name, cut, variant):
            if row.reading in readings:
                unit = "" if row.unit == "-" else f" {row.unit}"
                values = " | ".join(f"{v:.4f}{unit}" for v in (was[row.reading], row.ours, row.solid))
                parts = " | ".join(
                    f"{100.0 * (v / row.solid - 1.0):+.1f} %" for v in (was[row.reading], row.ours)
                )
                yield f"| {row.instrument} | {row.reading.replace('_', ' ')} | {values} | {parts} |"


def offsets(variant: str) -> Iterator[str]:
    """Lines of a table: the shim angle that removes the stretch, stretch over transfer."""
    yield "| instrument | before | now | solid | difference | at the saddle | relative |"
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    for name, cut in instruments():
        one = instrument(name, cut)
        kept = states(stored()["runs"][f"{name} {cut}"][variant]["fine"])
        found = (ours(without_indentation(one), variant), ours(one, variant), _readings(one, variant, kept))
        was, now, solid = (each["heel_stretch"] / each["shim_transfer"] for each in found)
        apart = np.radians(now - solid) * (one.structure.outline.scale - one.structure.outline.joint)
        yield (
            f"| {name} {cut} | {was:.4f} deg | {now:.4f} deg | {solid:.4f} deg | {now - solid:+.4f} deg | "
            f"{1e3 * apart:+.3f} mm | {100.0 * (now / solid - 1.0):+.1f} % |"
        )


COMBINATIONS = ("friction", "even-friction", "contact", "even")


def combinations(variants: dict[str, list[Compared]]) -> Iterator[str]:
    """Lines of a table: stretch and transfer with and without friction and pinch, and the model's difference."""
    yield "| instrument | friction, pinch | friction, even | no friction, pinch | no friction, even |"
    yield "| --- | --- | --- | --- | --- |"
    for name, cut in instruments():
        cells = []
        for variant in COMBINATIONS:
            own = {row.reading: row for row in variants[variant] if row.instrument == f"{name} {cut}"}
            stretch, transfer = own["heel_stretch"], own["shim_transfer"]
            cells.append(
                f"{stretch.solid:.4f} deg ({stretch.ours - stretch.solid:+.4f}), "
                f"{transfer.solid:.3f} ({transfer.percent:+.1f} %)"
            )
        yield f"| {name} {cut} | {' | '.join(cells)} |"


HEADING = "| instrument | reading | model | solid | difference | relative | tolerance | passed | solid, rough mesh |"


def table(rows: list[Compared]) -> Iterator[str]:
    """Lines of a table in Markdown."""
    yield HEADING
    yield "|" + " --- |" * HEADING.count(" |")
    for row in rows:
        digits = 3 if row.reading == "shim_transfer" else 4
        unit = "" if row.unit == "-" else f" {row.unit}"
        verdict = "yes" if row.passed else "**no**"
        cells = (
            row.instrument,
            row.reading.replace("_", " "),
            f"{row.ours:.{digits}f}{unit}",
            f"{row.solid:.{digits}f}{unit}",
            f"{row.ours - row.solid:+.{digits}f}{unit}",
            f"{row.percent:+.2f} %",
            f"{row.tolerance:g} %",
            verdict,
            f"{row.mesh_percent:+.2f} %",
        )
        yield "| " + " | ".join(cells) + " |"


def summary(variants: dict[str, list[Compared]]) -> Iterator[str]:
    """Lines of a table: an instrument in one joint passes when all its readings do."""
    yield "| row | readings within tolerance | passed |"
    yield "| --- | --- | --- |"
    for variant, rows in variants.items():
        for name in dict.fromkeys(row.instrument for row in rows):
            own = [row for row in rows if row.instrument == name]
            good = sum(row.passed for row in own)
            missed = ", ".join(row.reading.replace("_", " ") for row in own if not row.passed)
            yield (
                f"| {name}, {variant} | {good} of {len(own)}{f'; outside: {missed}' if missed else ''} | "
                f"{'yes' if good == len(own) else '**no**'} |"
            )


def page() -> str:
    """Text of the page with its tables."""
    variants = {name: everything(name) for name in inputs()["variants"]}
    fixed = {name: rows for name, rows in variants.items() if name in ("tied", "contact")}
    added = {name: rows for name, rows in variants.items() if name not in fixed}
    tables = {
        "summary": summary(fixed),
        "added": summary(added),
        "before bonded": before_and_after("bonded", ("nut_rise", "shaft_slope_straightedge")),
        "before friction": before_and_after("friction", ("heel_stretch", "shim_transfer")),
        "offset friction": offsets("friction"),
        "offset contact": offsets("contact"),
        "combinations": combinations(variants),
        **{name: table(rows) for name, rows in variants.items()},
    }
    text = TEXT.read_text(encoding="utf-8").replace(
        "{version}", f"{stored()['program']} {stored()['version']}"
    )
    everyone = [row for rows in variants.values() for row in rows]
    text = text.replace("{meshes}", f"{max(abs(row.mesh_percent) for row in everyone):.1f} %")
    for name, lines in tables.items():
        text = text.replace("{" + name + "}", "\n".join(lines))
    return text


def main() -> int:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

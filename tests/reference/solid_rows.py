"""Comparison with the solid, reading by reading, and its page.

python -m tests.reference.solid_rows
"""

import math
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
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
    """One reading of one instrument in one joint, from our model and the solid; its goal in per cent of the
    solid's reading, or as a size in the reading's unit.
    """

    instrument: str
    variant: str
    reading: str
    ours: float
    solid: float
    rough: float
    goal: tuple[float, float]

    @property
    def difference(self) -> float:
        """Ours less the solid's, in the reading's unit."""
        return self.ours - self.solid

    @property
    def percent(self) -> float:
        """Difference from the solid in per cent of the solid's reading."""
        return 100.0 * self.difference / abs(self.solid)

    @property
    def mesh_percent(self) -> float:
        """Difference between the solid's rough and fine mesh in per cent of the fine one."""
        return 100.0 * (self.rough - self.solid) / abs(self.solid)

    @property
    def passed(self) -> bool:
        """Whether the difference is within the goal; a NaN is not."""
        return abs(self.percent) <= self.goal[0] or abs(self.difference) <= self.goal[1]

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
    """Relief at pitch [mm], heel stretch [deg], shim transfer, and the shim angle that removes the stretch:
    stretch over transfer [deg].
    """
    step = inputs()["shim_step_deg"]
    (bolted, strung), (_, tapered) = states[0.0], states[step]
    before, at_pitch, shimmed = (math.degrees(line.kink(one.crowns)) for one in (bolted, strung, tapered))
    stretch, transfer = at_pitch - before, (shimmed - at_pitch) / step
    return {
        "relief": 1e3 * line.relief(strung.crowns)[0],
        "heel_stretch": stretch,
        "shim_transfer": transfer,
        "shim_angle": stretch / transfer,
    }


def _readings(one: Instrument, variant: str, found: dict[float, list[Crowns]]) -> dict[str, float]:
    line = fret_line(one.structure)
    return of_bonded(line, found[0.0][0]) if variant in LINEAR else of_contact(line, found)


def ours(one: Instrument, variant: str) -> dict[str, float]:
    """Readings of our model for an instrument in one joint."""
    if variant in LINEAR:
        return _readings(one, variant, {0.0: [bonded(one, on_block=variant == "bonded")]})
    even = variant.startswith("even")
    return _readings(one, variant, contact(one, friction=friction_of(variant), pinched=not even))


def compared(name: str, cut: str, variant: str) -> list[Compared]:
    """All readings of an instrument in one joint that have a goal."""
    one = instrument(name, cut)
    kept = stored()["runs"][f"{name} {cut}"][variant]
    solid, rough = (_readings(one, variant, states(kept[mesh])) for mesh in ("fine", "rough"))
    mine = ours(one, variant)
    goals = inputs()["goals"]["bonded" if variant in LINEAR else "bolted"]
    return [
        Compared(
            f"{name} {cut}", variant, reading, mine[reading], solid[reading], rough[reading], tuple(goal)
        )
        for reading, goal in goals.items()
    ]


@cache
def everything(variant: str) -> list[Compared]:
    """All instruments whose solid is computed in one joint."""
    every = [one for one in instruments() if computed(one[0], variant)]
    return [row for name, cut in every for row in compared(name, cut, variant)]


def without_local_compliance(one: Instrument) -> Instrument:
    """The instrument in the model's first form: neck and block carry load over their whole width at once, and
    strain across freely.
    """
    whole = one.structure
    neck, stem = (replace(wood, solid=None) for wood in (whole.neck, whole.block_wood))
    return replace(one, structure=replace(whole, neck=neck, block_wood=stem))


def before_and_now() -> Iterator[str]:
    """Lines of a table: the shim angle that removes the stretch, with friction."""
    yield "| instrument | first form | now | solid | now less solid | at the saddle |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for row in everything("friction"):
        if row.reading == "shim_angle":
            one = instrument(*row.instrument.split())
            was = ours(without_local_compliance(one), "friction")["shim_angle"]
            outline = one.structure.outline
            apart = 1e3 * np.radians(row.difference) * (outline.scale - outline.joint)
            yield (
                f"| {row.instrument} | {was:.4f} deg | {row.ours:.4f} deg | {row.solid:.4f} deg | "
                f"{row.difference:+.4f} deg | {apart:+.3f} mm |"
            )


def pinch_effect() -> Iterator[str]:
    """Lines of a table: what the pinch does without friction, in the model and in the solid."""
    yield "| instrument | stretch, model | stretch, solid | transfer, model | transfer, solid |"
    yield "| --- | --- | --- | --- | --- |"
    with_pinch = {(row.instrument, row.reading): row for row in everything("contact")}
    cells: dict[str, list[str]] = {}
    for even in everything("even"):
        if even.reading in ("heel_stretch", "shim_transfer"):
            pinched = with_pinch[even.instrument, even.reading]
            sizes = (pinched.ours - even.ours, pinched.solid - even.solid)
            cells.setdefault(even.instrument, []).extend(_with_unit(f"{v:+.4f}", even.unit) for v in sizes)
    for name, own in cells.items():
        yield f"| {name} | {' | '.join(own)} |"


def _with_unit(value: str, unit: str) -> str:
    return value if unit == "-" else f"{value} {unit}"


def table(rows: list[Compared]) -> Iterator[str]:
    """Lines of a table in Markdown: the solid's reading, our difference, bold where it is outside its goal."""
    readings = list(dict.fromkeys(row.reading for row in rows))
    yield "| instrument | " + " | ".join(name.replace("_", " ") for name in readings) + " |"
    yield "|" + " --- |" * (len(readings) + 1)
    for name in dict.fromkeys(row.instrument for row in rows):
        own = [_cell(row) for row in rows if row.instrument == name]
        yield f"| {name} | {' | '.join(own)} |"
    apart = [max(abs(row.mesh_percent) for row in rows if row.reading == name) for name in readings]
    yield "| *the solid's two meshes* | " + " | ".join(f"up to {one:.2f} %" for one in apart) + " |"


def _cell(row: Compared) -> str:
    percent = f"{row.percent:+.1f} %"
    by_size = row.goal[1] > 0.0
    apart = f"{row.difference:+.4f}, {percent}" if by_size else percent
    found = f"{_with_unit(f'{row.solid:.4f}', row.unit)} ({apart})"
    return found if row.passed else f"**{found}**"


def summary(variants: dict[str, list[Compared]]) -> Iterator[str]:
    """Lines of a table: how many readings of each joint are within their goal, and which are not."""
    yield "| joint | readings within the goal | outside |"
    yield "| --- | --- | --- |"
    for variant, rows in variants.items():
        missed = Counter(row.reading for row in rows if not row.passed)
        necks = len({row.instrument for row in rows})
        outside = ", ".join(
            f"{reading.replace('_', ' ')} on {count} of {necks}" for reading, count in missed.items()
        )
        yield f"| {variant} | {len(rows) - missed.total()} of {len(rows)} | {outside or '-'} |"


def page() -> str:
    """Text of the page with its tables."""
    variants = {name: everything(name) for name in inputs()["variants"]}
    tables = {
        "summary": summary(variants),
        "shim angle": before_and_now(),
        "pinch": pinch_effect(),
        **{name: table(rows) for name, rows in variants.items()},
    }
    text = TEXT.read_text(encoding="utf-8").replace(
        "{version}", f"{stored()['program']} {stored()['version']}"
    )
    for name, lines in tables.items():
        text = text.replace("{" + name + "}", "\n".join(lines))
    return text


def main() -> int:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""What a builder measures on a guitar for its case: each length with its letter, its tool, and where."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from cases.casefile.case import Case
from cases.casefile.key_values import LISTS


@dataclass(frozen=True)
class Measurement:
    """One value to measure or to choose.

    Attributes
    ----------
    key : its key; `*` stands for the name of an item.
    letter : its letter in the drawing of docs/what-to-measure.md; empty for what is counted or chosen.
    what : its name in words.
    tool : the tool, or what to look at.
    where : where and how.
    """

    key: str
    letter: str
    what: str
    tool: str
    where: str

    @property
    def line(self) -> str:
        """What, with which tool and where, in one line."""
        start = f"{self.letter}. " if self.letter else ""
        return f"{start}{self.what}. {self.tool}: {self.where}."


MEASUREMENTS = (
    Measurement(
        "instrument.scale_mm",
        "A",
        "Scale length",
        "Long rule",
        "from the nut to the crown of fret 12, times two",
    ),
    Measurement(
        "instrument.body_joint_fret", "", "Joint fret", "Count", "the fret at which the neck meets the body"
    ),
    Measurement("instrument.last_fret", "", "Last fret", "Count", "all frets"),
    Measurement("neck.wood", "", "Wood of the neck", "Name", "as `neckpreload woods` lists it"),
    Measurement("neck.width_nut_mm", "B", "Width at the nut", "Calliper", "across the fretboard, at the nut"),
    Measurement(
        "neck.width_joint_mm",
        "C",
        "Width at the joint",
        "Calliper",
        "across the fretboard, at the joint fret",
    ),
    Measurement(
        "neck.depth_fret1_mm",
        "D",
        "Depth at fret 1",
        "Calliper",
        "fretboard and neck together, beside the fret, in the middle of the width",
    ),
    Measurement("neck.depth_fret10_mm", "E", "Depth at fret 10", "Calliper", "the same at fret 10"),
    Measurement("fretboard.wood", "", "Wood of the fretboard", "Name", "as `neckpreload woods` lists it"),
    Measurement(
        "fretboard.fallaway_mm",
        "F",
        "Gap of the bare board at the last fret",
        "Straightedge and feelers",
        "neck off the body and straight; straightedge along the board or its frets, from nut to joint; the "
        "gap under it at the last fret, 0 if none",
    ),
    Measurement(
        "heel.height_mm",
        "G",
        "Height of the heel",
        "Rule",
        "from the glue line under the fretboard down to the heel cap",
    ),
    Measurement(
        "shims.*.thickness_mm", "H", "Thickness of the shim", "Calliper", "in the middle of its length"
    ),
    Measurement(
        "bolts.*.position_mm",
        "J",
        "Place of the bolt",
        "Rule",
        "along the face, from the joint corner (where heel face and underside of the tongue meet) to the "
        "bolt's middle",
    ),
    Measurement(
        "bolts.*.torque_n_m", "", "Torque of the bolt", "Torque wrench", "the torque to which you tighten it"
    ),
    Measurement(
        "bolts.*.tension_n",
        "",
        "Tension of the screw",
        "Estimate",
        "its pull; if you know its torque, give torque_n_m instead",
    ),
    Measurement("strings.set", "", "Strings", "Name", "as `neckpreload strings` lists it"),
    Measurement(
        "setup.action_bass_mm",
        "K",
        "Action, bass side",
        "Rule or feelers",
        "at pitch, from the crown of fret 12 to the underside of the thickest string",
    ),
    Measurement(
        "setup.action_treble_mm",
        "K",
        "Action, treble side",
        "Rule or feelers",
        "the same at the thinnest string",
    ),
    Measurement(
        "targets.relief_mm",
        "L",
        "Relief to set",
        "Straightedge and feelers",
        "at pitch, straightedge on fret 1 and joint fret; the largest gap under it",
    ),
    Measurement(
        "stock.from_deg",
        "",
        "Smallest shim angle in stock",
        "Your shims",
        "the angle by which each is named, with its sign",
    ),
    Measurement("stock.to_deg", "", "Largest shim angle in stock", "Your shims", "the same"),
    Measurement("stock.step_deg", "", "Step between shim angles", "Your shims", "from one to the next"),
    Measurement("stock.list_deg", "", "Shim angles in stock", "Your shims", "all angles, in brackets"),
)
"""In the order of a case file."""


def measurement_of(key: str) -> Measurement | None:
    """Return the measurement of a key, or None if it has none.

    Examples
    --------
    >>> measurement_of("bolts.heel-top.position_mm").letter, measurement_of("rod.kind")
    ('J', None)
    """
    table, _, rest = key.partition(".")
    general = f"{table}.*.{rest.rpartition('.')[2]}" if table in LISTS else key
    return next((one for one in MEASUREMENTS if one.key == general), None)


def to_measure(case: Case) -> Iterator[tuple[str, Measurement]]:
    """Give each key of a case that has a value and a measurement, in the order of `MEASUREMENTS`."""
    values = {key: value for key, value in case.items() if value is not None}
    for one in MEASUREMENTS:
        form = re.compile(re.escape(one.key).replace(r"\*", "[^.]+"))
        yield from ((key, one) for key in values if form.fullmatch(key))

"""Content of the class sheet: a neck, a question, three numbers to predict, and the answer overleaf."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.warnings import CAUTIONS
from cases.show.sheet.content import Listing, Table
from cases.show.text.answer import NO_MEASUREMENT
from cases.studies.curvature import FlexLine

LARGEST_PARTS = 3
"""Number of parts named that give way most."""


@dataclass(frozen=True)
class Prediction:
    """A number to predict: the question, its unit, the computed value and its meaning in a sentence."""

    question: str
    unit: str
    value: str
    meaning: str


@dataclass(frozen=True)
class ClassSheet:
    """Content of both sides: the first without, the second with the computed values."""

    title: str
    mark: str
    facts: Table
    question: str
    predictions: tuple[Prediction, ...]
    hint: str
    answer: str
    correction: str
    cautions: Listing


def class_sheet_of(case: Case, answer: Answer, line: FlexLine, *, on: date) -> ClassSheet:
    """The class sheet of a case with the date printed on it."""
    slack = "" if answer.rod.kind == "none" else ", with its rod slack"
    cautions = (*CAUTIONS, f"The values are computed, not measured. {NO_MEASUREMENT}.")
    return ClassSheet(
        title="Where does the neck give way?",
        mark=f"{case.name}, {on.isoformat()}, model {answer.version}",
        facts=_facts(case, answer, line),
        question=(
            f"This neck is bolted up{slack}, without strings. Then the strings pull with"
            f" {answer.strings.total_tension_n:.0f} N. Draw into the picture how you think it bends, and"
            " write down three predictions. Then turn the sheet over."
        ),
        predictions=_predictions(case, answer),
        hint=(
            "Help: a straight beam of length L under the same moment M everywhere takes a bow of"
            " M L² / (8 EI). The moment is force times distance; EI says how stiff the shaft is."
        ),
        answer=_main_parts(answer),
        correction=_correction(answer),
        cautions=Listing("Take care at a real bench", cautions),
    )


def _facts(case: Case, answer: Answer, line: FlexLine) -> Table:
    instrument, neck, board = case.instrument, case.neck, case.fretboard
    x = 0.5 * float(line.fret_x_mm[0] + line.fret_x_mm[line.joint - 1])
    bent = float(np.interp(x, line.x_mm, line.beam_moment_n_m / line.curvature_per_m))
    moment = float(np.interp(x, line.x_mm, line.string_moment_n_m))
    long = float(line.fret_x_mm[line.joint - 1] - line.fret_x_mm[0])
    rows = (
        ("scale", f"{instrument.scale_mm:g} mm"),
        ("body joint", f"fret {instrument.body_joint_fret}"),
        ("neck, fretboard", f"{neck.wood}, {board.wood}"),
        ("strings", f"{answer.strings.set}, {answer.strings.total_tension_n:.0f} N in all"),
        ("fret 1 to the joint, L", f"{long:.0f} mm"),
        ("moment of the strings half way, M", f"{moment:.1f} N·m"),
        ("stiffness of the shaft there, EI", f"{bent:.0f} N·m²"),
    )
    return Table("What you know", ("quantity", "value"), rows)


def _predictions(case: Case, answer: Answer) -> tuple[Prediction, ...]:
    joint, last = case.instrument.body_joint_fret, case.instrument.last_fret
    off, on = answer.states["bolted"], answer.states["strung"]
    with_rod = "" if answer.rod.kind == "none" else ", the rod still slack"
    then = "" if answer.rod.kind == "none" else f", the rod set to {answer.relief.set_mm:.2f} mm of relief"
    return (
        Prediction(
            f"A straightedge lies on frets 1 and {joint}, strings at pitch{with_rod}. How wide is the largest"
            " gap under it (the relief)?",
            "mm",
            f"{answer.relief.rod_slack_mm:.2f}",
            "relief: the shaft has bowed forward under the strings",
        ),
        Prediction(
            f"How far has the nut risen from its place without strings{then}?",
            "mm",
            f"{answer.budget.nut_rise_mm:.1f}",
            "rise of the nut: the bow of the shaft, and all that gives way at the body",
        ),
        Prediction(
            f"One line runs along frets 1 to {joint}, another along the frets after them. By what angle has"
            f" one turned against the other? (0.1° is {_per_tenth(case):.2f} mm at fret {last}.)",
            "degrees",
            f"{answer.heel_stretch_deg:.2f}",
            f"heel stretch: the kink went from {off.kink_deg:+z.2f}° (bolted up) to {on.kink_deg:+z.2f}°",
        ),
    )


def _per_tenth(case: Case) -> float:
    """Height at the last fret of 0.1 degree at the joint [mm]."""
    instrument = case.instrument
    joint, last = (
        instrument.scale_mm * (1.0 - 2.0 ** (-fret / 12.0))
        for fret in (instrument.body_joint_fret, instrument.last_fret)
    )
    return float(np.radians(0.1) * (last - joint))


def _main_parts(answer: Answer) -> str:
    shares, whole = answer.budget.nut_rise_shares_mm, answer.budget.nut_rise_mm
    largest = sorted(shares, key=lambda part: -abs(shares[part]))[:LARGEST_PARTS]
    named = ", ".join(f"{part} {100.0 * shares[part] / whole:.0f} %" for part in largest)
    return (
        f"Of the rise of the nut: {named}. The bars show all parts; a negative one acts the other way, as the"
        " rod does."
    )


def _correction(answer: Answer) -> str:
    if answer.preload_offset_deg is None:
        return (
            "The kink stays in a flat pocket, whose one shim turns heel and shaft together. The shim's taper,"
            f" {answer.upper_deg:+z.2f}°, only aims the strung neck at the bridge."
        )
    return (
        f"What is done about it: the lower shim is {abs(answer.preload_offset_deg):.2f}°"
        f" {'less' if answer.preload_offset_deg < 0.0 else 'more'} than the upper one (the preload offset"
        f" {answer.preload_offset_deg:+z.2f}°), so the neck is bolted up with the opposite kink and"
        " runs straight at pitch. One degree of shim turns the kink by only"
        f" {answer.shim_transfer or 0.0:.2f}°, because the bolted tongue resists."
    )

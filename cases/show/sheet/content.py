"""Content of the set-up sheet of one guitar, as text; `pdf_page` and `html_page` lay it out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import radians

from cases.bench.shims.choose_pair import ReadingRow
from cases.casefile.case import Case
from cases.offset.answer import Answer, ShimAnswer
from cases.offset.shim_ends import thick_end
from cases.offset.warnings import CAUTIONS
from cases.show.text.answer import NO_MEASUREMENT, rod_text, tension_text
from materials.counted import counted

MOST_ROWS = 20
"""Largest number of pairs and of readings on the sheet."""
MOST_IN_A_BLOCK = 6
"""A large table with more rows is set in two blocks side by side."""
ENDS = {"upper": ("nut", "sound hole"), "lower": ("fretboard", "heel cap"), "pocket": ("nut", "bridge")}
"""Left and right end of each shim as drawn."""


@dataclass(frozen=True)
class Headline:
    """The main figure with notes below it."""

    title: str
    figure: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table: column headings, rows of the same length, a note below (may be empty), large type or not."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    large: bool = False

    @property
    def parts(self) -> tuple[tuple[tuple[str, ...], ...], ...]:
        """The rows in one block, or in two to be set side by side."""
        if not self.large or len(self.rows) <= MOST_IN_A_BLOCK:
            return (self.rows,)
        half = -(-len(self.rows) // 2)
        return self.rows[:half], self.rows[half:]


@dataclass(frozen=True)
class Listing:
    """A heading with lines under it, numbered or not."""

    title: str
    lines: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True)
class Wedge:
    """A shim as drawn: title, thickness at its left and right end [mm], names of both ends."""

    title: str
    left_mm: float
    right_mm: float
    left: str
    right: str


Block = Headline | Table | Listing | Wedge | str
"""Part of a column; a bare text is set small."""


@dataclass(frozen=True)
class Sheet:
    """Content of the sheet; a joint with one shim has neither `pairs` nor `readings`."""

    title: str
    note: str
    marks: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    strings: Table
    offset: Headline
    pairs: Table | None
    readings: Table | None
    wedges: tuple[Wedge, ...]
    edges: str
    bolts: Table
    order: Listing
    after: Listing
    cautions: Listing

    @property
    def columns(self) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
        """Blocks of the left and the right column, from the top."""
        pairs = () if self.pairs is None else (self.pairs,)
        readings = () if self.readings is None else (self.readings,)
        left = (self.offset, *pairs, *self.wedges, self.edges, self.order)
        return left, (*readings, self.bolts, self.after)


def sheet_of(case: Case, answer: Answer, *, on: date, readings: Sequence[ReadingRow] = ()) -> Sheet:
    """The sheet of a case with the date printed on it, numbers rounded for the bench.

    ``readings`` are rows of `cases.bench.shims.choose_pair.reading_table`; without any, no such table.
    """
    return Sheet(
        title=case.name,
        note=case.note or "",
        marks=_marks(case, answer, on),
        facts=_facts(case, answer),
        strings=_strings(answer),
        offset=_offset(answer),
        pairs=_pairs(answer) if answer.pocket is None else None,
        readings=_readings(readings) if readings else None,
        wedges=tuple(_wedge(shim) for shim in answer.shims),
        edges=_edges(case, answer),
        bolts=bolts_table(answer),
        order=_order(case),
        after=_after(case, answer),
        cautions=Listing(
            "Take care",
            (
                *CAUTIONS,
                *answer.warnings,
                f"{NO_MEASUREMENT}: measure the kink bolted up and at pitch, and calibrate.",
            ),
        ),
    )


def _marks(case: Case, answer: Answer, on: date) -> tuple[str, ...]:
    marks = [on.isoformat(), f"model {answer.version}", f"case {answer.case_sha256[:12]}"]
    if case.revision is not None:
        released = f", released by {case.released_by}" if case.released_by else ""
        marks.append(f"revision {case.revision}{released}")
    marks.append(f"calibration {answer.calibration_id}" if answer.calibration_id else "not calibrated")
    return tuple(marks)


def _facts(case: Case, answer: Answer) -> tuple[tuple[str, str], ...]:
    instrument, relief, rod, setup = case.instrument, answer.relief, answer.rod, case.setup
    board, block = case.fretboard, case.block
    limit = "the rod maker's own limit" if rod.limit_torque_n_m is None else f"{rod.limit_torque_n_m:.1f} N·m"
    return (
        (
            "Instrument",
            f"scale {instrument.scale_mm:g} mm, body joint at fret {instrument.body_joint_fret} of "
            f"{instrument.last_fret}; {case.joint.kind} joint",
        ),
        ("Woods", f"neck {case.neck.wood}, fretboard {board.wood}, block {block.wood}"),
        (
            "Targets",
            f"action {setup.action_bass_mm:.2f} mm bass, {setup.action_treble_mm:.2f} mm treble at fret 12; "
            f"relief {relief.target_mm:.2f} mm; {_joint_target(case, answer)}",
        ),
        ("Relief", f"{relief.rod_slack_mm:.2f} mm with the rod slack, {relief.set_mm:.2f} mm once it is set"),
        ("Rod", rod_text(answer) + ("" if rod.kind == "none" else f"; never above {limit}")),
    )


def _joint_target(case: Case, answer: Answer) -> str:
    if answer.pocket is not None:
        return f"strings at the saddle {answer.pocket.saddle_wanted_mm:.2f} mm above the glue line"
    if case.targets.tongue_gap_mm is not None:
        return f"tongue gap {case.targets.tongue_gap_mm:+z.2f} mm"
    return f"kink {case.targets.kink_deg or 0.0:+z.2f}°"


def _strings(answer: Answer) -> Table:
    strings = answer.strings
    return Table(
        f"Strings: {strings.set}, {tension_text(answer)}",
        ("string", *(str(course) for course in strings.courses)),
        (
            ("note", *strings.notes),
            ("gauge, in", *strings.gauges),
            ("tension, N", *(f"{tension:.0f}" for tension in strings.tension_n)),
        ),
    )


def _offset(answer: Answer) -> Headline:
    pocket = answer.pocket
    if pocket is None:
        title, value, lead = "Preload offset", answer.offset_deg, "lower minus upper shim; "
        scatter, friction = answer.preload_offset_band_deg, answer.preload_offset_friction_band_deg
        median = answer.preload_offset_median_deg
        on_stock = answer.preload_offset_on_stock_deg
        left = f"leaves a kink of {answer.residual_kink_deg or 0.0:+z.3f}°"
    else:
        title, value, lead = "Taper of the shim", pocket.taper_deg, ""
        scatter, friction = pocket.taper_band_deg, pocket.taper_friction_band_deg
        median = pocket.taper_median_deg
        on_stock = pocket.taper_on_stock_deg
        left = f"changes the action by {pocket.action_error_mm or 0.0:+z.2f} mm"
    notes = [
        f"{lead}90 % of necks {_band(scatter)} (median {median or 0.0:+z.2f}°),"
        f" friction band {_band(friction)}",
        f"{answer.taper_mm:+z.2f} mm over the shim's length, {answer.paper_sheets:.1f} sheets of paper",
    ]
    if answer.anchored_offset_deg is not None:
        notes.append(f"model alone; anchored to your own number {answer.anchored_offset_deg:+z.2f}°")
    if on_stock is not None:
        notes.append(f"from stock {on_stock:+z.2f}°: rounding {left}")
    return Headline(title, f"{value:+z.2f}°", tuple(notes))


def _band(band: tuple[float, float] | None) -> str:
    low, high = band or (0.0, 0.0)
    return f"{low:+z.2f} to {high:+z.2f}°"


def _middle(count: int, *, around: int) -> slice:
    """At most `MOST_ROWS` of ``count`` places, centred on one of them as far as possible."""
    first = min(max(around - MOST_ROWS // 2, 0), max(count - MOST_ROWS, 0))
    return slice(first, first + MOST_ROWS)


def _pairs(answer: Answer) -> Table:
    found = answer.pairs
    aimed = min(range(len(found)), key=lambda k: abs(found[k].upper_deg - answer.upper_deg), default=0)
    shown = found[_middle(len(found), around=aimed)]
    note = "" if found else "No pair in stock gives this offset: see the warnings."
    if len(found) > len(shown):
        note = f"{len(found) - len(shown)} more in `neckpreload offset --json`"
    rows = tuple((f"{pair.upper_deg:z.2f}", f"{pair.lower_deg:z.2f}") for pair in shown)
    return Table("Pairs in stock, °", ("upper", "lower"), rows, note, large=True)


def _readings(readings: Sequence[ReadingRow]) -> Table:
    shown = readings[_middle(len(readings), around=len(readings) // 2)]
    rows = tuple(
        (
            f"{row.reading_mm:z.2f}",
            f"{row.upper_deg:z.2f}",
            f"{row.lower_deg:z.2f}",
            f"{row.action_bass_mm:.2f}",
            f"{row.action_treble_mm:.2f}",
        )
        for row in shown
    )
    hidden = len(readings) - len(shown)
    return Table(
        "Pair for each reading at the saddle",
        ("reading, mm", "upper, °", "lower, °", "action bass", "treble, mm"),
        rows,
        f"{counted(hidden, 'reading')} further out not listed" if hidden else "",
    )


def _wedge(shim: ShimAnswer) -> Wedge:
    left, right = ENDS.get(shim.name, ("nut", "bridge"))
    ends = (shim.thick_edge_mm, shim.thin_edge_mm)
    tapered = abs(shim.thick_edge_mm - shim.thin_edge_mm) >= 5e-4
    way = f"thick end {shim.thick_end}" if tapered else "not tapered"
    title = f"{shim.name} shim {shim.angle_deg:z.2f}°, {way}"
    return Wedge(title, *(ends if left in shim.thick_end else ends[::-1]), left, right)


def _edges(case: Case, answer: Answer) -> str:
    """Rule for the edges of shims other than those drawn."""
    drawn = " and ".join(f"{shim.name} {shim.angle_deg:z.2f}°" for shim in answer.shims)
    each = []
    for shim in answer.shims:
        table = case.shim(shim.name)
        rise = radians(0.1) * (table.to_mm - table.from_mm)
        middle = f"{shim.name} {table.thickness_mm:.2f} mm in the middle"
        each.append(f"{middle}, {rise:.2f} mm between its ends for each 0.10°")
    thick = ", ".join(f"{shim.name} {thick_end(shim.name, 1.0)}" for shim in answer.shims)
    return (
        f"Drawn for {drawn}. Other angles: {'; '.join(each)}. Thick end of + angles: {thick}; of - angles: "
        "the other end."
    )


def bolts_table(answer: Answer) -> Table:
    """Bolts with their torques [N·m] and tensions [N]."""

    def low(torque: float | None) -> str:
        return "-" if torque is None else f"{torque:.2f}"

    opens = any(bolt.torque_low_n_m is None for bolt in answer.bolts)
    return Table(
        "Bolts, torque in N·m",
        ("bolt", "set to", "closed above", "wood limit", "set, N", "at pitch, N"),
        tuple(
            (bolt.name, f"{bolt.torque_n_m:.2f}", low(bolt.torque_low_n_m), f"{bolt.torque_high_n_m:.2f}",
             f"{bolt.set_n:.0f}", f"{bolt.strung_n:.0f}")
            for bolt in answer.bolts
        ),
        '"-": at pitch the joint does not stay closed at any torque below the wood limit.' if opens else "",
    )  # fmt: skip


def _order(case: Case) -> Listing:
    heel = sorted((bolt for bolt in case.bolts if bolt.face == "heel"), key=lambda bolt: bolt.position_mm)
    rest = [bolt for bolt in case.bolts if bolt.face != "heel"]
    names = [bolt.name for bolt in (*heel, *rest)]
    steps = ["Shims in place, all bolts finger-tight, strings off."]
    if heel:
        steps += [f"Tighten to torque, from the top: {', then '.join(names)}."]
    else:
        steps += ["Tighten crosswise to half the torque, then to full torque."]
    steps += ["Repeat in the same order. (Order: common practice, no source.)"]
    return Listing("Tightening", tuple(steps), numbered=True)


def _after(case: Case, answer: Answer) -> Listing:
    instrument, setup, tolerance = case.instrument, case.setup, case.tolerance
    joint, last = instrument.body_joint_fret, instrument.last_fret
    gap = answer.residual_tongue_gap_mm
    if gap is None:
        gap = answer.states["strung"].tongue_gap_mm
    straight = answer.states["strung"].kink_straightedge_deg
    lines = [
        f"Tune to pitch; turn the rod by at most an eighth of a turn at a time until the relief is "
        f"{answer.relief.target_mm:.2f} mm (straightedge on frets 1 and {joint}, strings at pitch).",
        f"Tongue gap at fret {last} above the line of frets 1 to {joint}, bow removed: {gap:+z.2f} mm "
        f"expected, tolerance {tolerance.tongue_gap_mm:.2f} mm. A plain straightedge also shows the bow: "
        f"{straight:+z.2f}° total.",
        f"Action at fret 12: {setup.action_bass_mm:.2f} mm bass, {setup.action_treble_mm:.2f} mm treble, "
        f"tolerance {tolerance.action_mm:.2f} mm.",
        "After a day, and again after some days: check relief, action and bolts (strings slack before a bolt "
        "is turned).",
        "Log every measurement, good or bad.",
    ]
    return Listing("After string-up", tuple(lines), numbered=True)

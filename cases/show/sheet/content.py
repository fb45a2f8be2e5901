"""What stands on the set-up sheet of one guitar, as text; `sheet_pdf` and `sheet_html` set it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import radians

from cases.bench.shims.choose_pair import ReadingRow
from cases.casefile.case import Case
from cases.offset.answer import Answer, PocketAnswer, ShimAnswer
from cases.offset.warnings import CAUTIONS
from cases.show.style import signed
from cases.show.text.answer import POUND_FORCE, rod_text

MOST_ROWS = 20
"""Pairs and readings that stand on the sheet; of more the middle ones."""
ENDS = {"upper": ("nut", "sound hole"), "lower": ("fretboard", "heel cap"), "pocket": ("nut", "bridge")}
"""Both ends of each shim as it is drawn, left and right."""
UNPUBLISHED = (
    "No published measurement of heel rotation under strings was found: measure the kink before and after "
    "string-up and calibrate."
)


@dataclass(frozen=True)
class Table:
    """A table: heading of each column, rows of the same length, and one line under it (may be empty)."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True)
class Listing:
    """A heading with lines under it, numbered or not."""

    title: str
    lines: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True)
class Wedge:
    """A shim as it is drawn: text over it, thickness at its left and right end [mm], names of both ends."""

    title: str
    left_mm: float
    right_mm: float
    left: str
    right: str


@dataclass(frozen=True)
class Sheet:
    """Everything on the sheet; a joint with one shim has neither `pairs` nor `readings`."""

    title: str
    note: str
    marks: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    strings: Table
    offset_title: str
    offset: str
    offset_notes: tuple[str, ...]
    pairs: Table | None
    readings: Table | None
    wedges: tuple[Wedge, ...]
    edges: str
    bolts: Table
    order: Listing
    after: Listing
    cautions: Listing


def sheet_of(case: Case, answer: Answer, *, on: date, readings: Sequence[ReadingRow] = ()) -> Sheet:
    """The sheet of a case.

    Parameters
    ----------
    case, answer : the instrument and its answer.
    on : date printed on the sheet.
    readings : rows of `cases.bench.shims.choose_pair.reading_table`; none leaves that table out.

    Returns
    -------
    Sheet
        Texts, rounded as a bench reads them.
    """
    return Sheet(
        title=case.name,
        note=case.note or "",
        marks=_marks(case, answer, on),
        facts=_facts(case, answer),
        strings=_strings(answer),
        offset_title="Preload offset" if answer.pocket is None else "Taper of the shim",
        offset=f"{signed(answer.offset_deg if answer.pocket is None else answer.pocket.taper_deg, 2)}°",
        offset_notes=_offset_notes(answer) if answer.pocket is None else _taper_notes(answer, answer.pocket),
        pairs=_pairs(answer) if answer.pocket is None else None,
        readings=_readings(readings) if readings else None,
        wedges=tuple(_wedge(shim) for shim in answer.shims),
        edges=_edges(case, answer),
        bolts=_bolts(answer),
        order=_order(case),
        after=_after(case, answer),
        cautions=Listing("Take care", (*CAUTIONS, *answer.warnings, UNPUBLISHED)),
    )


def angle(value: float) -> str:
    """A shim's angle as its label, and a reading alike: two decimals, ASCII minus, never -0.00.

    >>> angle(-0.1), angle(-0.001)
    ('-0.10', '0.00')
    """
    return f"{round(value, 2) + 0.0:.2f}"


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
            "Aimed at",
            f"action {setup.action_bass_mm:.2f} mm bass, {setup.action_treble_mm:.2f} mm treble at fret 12; "
            f"relief {relief.target_mm:.2f} mm; {_joint_target(case, answer)}",
        ),
        ("Relief", f"{relief.rod_slack_mm:.2f} mm with the rod slack, {relief.set_mm:.2f} mm once it is set"),
        ("Rod", rod_text(answer) + ("" if rod.kind == "none" else f"; never above {limit}")),
    )


def _joint_target(case: Case, answer: Answer) -> str:
    if answer.pocket is not None:
        return f"strings at the saddle {answer.pocket.saddle_wanted_mm:.2f} mm over the glue line"
    if case.targets.tongue_gap_mm is not None:
        return f"tongue gap {signed(case.targets.tongue_gap_mm, 2)} mm"
    return f"kink {signed(case.targets.kink_deg or 0.0, 2)}°"


def _strings(answer: Answer) -> Table:
    strings = answer.strings
    total = strings.total_tension_n
    return Table(
        f"Strings: {strings.set}, {total:.0f} N ({total / POUND_FORCE:.0f} lbf) in all",
        ("string", *(str(course) for course in strings.courses)),
        (
            ("note", *strings.notes),
            ("gauge, in", *strings.gauges),
            ("tension, N", *(f"{tension:.0f}" for tension in strings.tension_n)),
        ),
    )


def _band(band: tuple[float, float] | None) -> str:
    low, high = band or (0.0, 0.0)
    return f"{signed(low, 2)} to {signed(high, 2)}°"


def _size(answer: Answer) -> str:
    return (
        f"{signed(answer.taper_mm, 2)} mm over the shim's length, {answer.paper_sheets:.1f} sheets of paper"
    )


def _offset_notes(answer: Answer) -> tuple[str, ...]:
    notes = [
        f"lower minus upper shim; 90 % of necks {_band(answer.preload_offset_band_deg)}, "
        f"friction band {_band(answer.preload_offset_friction_band_deg)}",
        _size(answer),
    ]
    if answer.anchored_offset_deg is not None:
        notes.append(f"model alone; anchored to your own number {signed(answer.anchored_offset_deg, 2)}°")
    if answer.preload_offset_on_stock_deg is not None:
        notes.append(
            f"in stock {signed(answer.preload_offset_on_stock_deg, 2)}°: rounding leaves a kink of "
            f"{signed(answer.residual_kink_deg or 0.0, 3)}°"
        )
    return tuple(notes)


def _taper_notes(answer: Answer, pocket: PocketAnswer) -> tuple[str, ...]:
    notes = [
        f"90 % of necks {_band(pocket.taper_band_deg)}, "
        f"friction band {_band(pocket.taper_friction_band_deg)}",
        _size(answer),
    ]
    if pocket.taper_on_stock_deg is not None:
        notes.append(
            f"in stock {signed(pocket.taper_on_stock_deg, 2)}°: rounding changes the action by "
            f"{signed(pocket.action_error_mm or 0.0, 2)} mm"
        )
    return tuple(notes)


def _middle(count: int, *, around: int) -> slice:
    """At most `MOST_ROWS` places out of ``count``, as far as possible round one of them."""
    first = min(max(around - MOST_ROWS // 2, 0), max(count - MOST_ROWS, 0))
    return slice(first, first + MOST_ROWS)


def _left_out(count: int) -> str:
    return f"{count - MOST_ROWS} more in `neckpreload offset --json`" if count > MOST_ROWS else ""


def _pairs(answer: Answer) -> Table:
    found = answer.pairs
    aimed = min(range(len(found)), key=lambda k: abs(found[k].upper_deg - answer.upper_deg), default=0)
    shown = found[_middle(len(found), around=aimed)]
    rows = tuple((angle(pair.upper_deg), angle(pair.lower_deg)) for pair in shown)
    note = _left_out(len(found)) if found else "No pair in stock gives this offset: see the warnings."
    return Table("Pairs in stock, °", ("upper", "lower"), rows, note)


def _readings(readings: Sequence[ReadingRow]) -> Table:
    shown = readings[_middle(len(readings), around=len(readings) // 2)]
    rows = tuple(
        (
            angle(row.reading_mm),
            angle(row.upper_deg),
            angle(row.lower_deg),
            f"{row.action_bass_mm:.2f}",
            f"{row.action_treble_mm:.2f}",
        )
        for row in shown
    )
    hidden = len(readings) - len(shown)
    return Table(
        "From the reading at the saddle to the pair",
        ("reading, mm", "upper, °", "lower, °", "action bass", "treble, mm"),
        rows,
        f"{hidden} readings further out are left out" if hidden else "",
    )


def _wedge(shim: ShimAnswer) -> Wedge:
    left, right = ENDS.get(shim.name, ("nut", "bridge"))
    thick_left = left in shim.thick_end
    edges = (shim.thick_edge_mm, shim.thin_edge_mm)
    parallel = abs(shim.thick_edge_mm - shim.thin_edge_mm) < 5e-4
    way = "parallel" if parallel else f"thick end {shim.thick_end}"
    return Wedge(
        title=f"{shim.name} shim {angle(shim.angle_deg)}°, {way}",
        left_mm=edges[0] if thick_left else edges[1],
        right_mm=edges[1] if thick_left else edges[0],
        left=left,
        right=right,
    )


def _edges(case: Case, answer: Answer) -> str:
    """What other shims than those drawn have at their ends."""
    drawn = " and ".join(f"{shim.name} {angle(shim.angle_deg)}°" for shim in answer.shims)
    each = []
    for shim in answer.shims:
        table = case.shim(shim.name)
        rise = radians(0.1) * (table.to_mm - table.from_mm)
        each.append(f"{shim.name} {table.thickness_mm:.2f} mm in the middle, {rise:.2f} mm for each 0.10°")
    return f"Drawn for {drawn}. Any other, between its ends: {'; '.join(each)}."


def _bolts(answer: Answer) -> Table:
    rows = []
    opens = any(bolt.torque_low_n_m is None for bolt in answer.bolts)
    for bolt in answer.bolts:
        low = "-" if bolt.torque_low_n_m is None else f"{bolt.torque_low_n_m:.2f}"
        rows.append(
            (
                bolt.name,
                f"{bolt.torque_n_m:.2f}",
                low,
                f"{bolt.torque_high_n_m:.2f}",
                f"{bolt.set_n:.0f}",
                f"{bolt.strung_n:.0f}",
            )
        )
    return Table(
        "Bolts, torque in N·m",
        ("bolt", "set to", "closed from", "wood bears", "set, N", "at pitch, N"),
        tuple(rows),
        '"-": too little of the seat bears at pitch at every torque that the wood bears.' if opens else "",
    )


def _order(case: Case) -> Listing:
    heel = sorted((bolt for bolt in case.bolts if bolt.face == "heel"), key=lambda bolt: bolt.position_mm)
    rest = [bolt for bolt in case.bolts if bolt.face != "heel"]
    names = [bolt.name for bolt in (*heel, *rest)]
    steps = ["Shims in place, all bolts finger-tight, strings off."]
    if heel:
        steps += [f"To torque, from the top: {', then '.join(names)}."]
    else:
        steps += ["To half the torque crosswise, then to the torque."]
    steps += ["Once more round in the same order. (Order: common practice, no source.)"]
    return Listing("Tightening", tuple(steps), numbered=True)


def _after(case: Case, answer: Answer) -> Listing:
    instrument, setup, tolerance = case.instrument, case.setup, case.tolerance
    joint, last = instrument.body_joint_fret, instrument.last_fret
    gap = answer.residual_tongue_gap_mm
    if gap is None:
        gap = answer.states["strung"].tongue_gap_mm
    straight = answer.states["strung"].kink_straightedge_deg
    lines = [
        f"Tune to pitch; set the rod in steps of an eighth of a turn at most until the relief is "
        f"{answer.relief.target_mm:.2f} mm (straightedge on frets 1 and {joint}, strings at pitch).",
        f"Tongue gap at fret {last} over the line of frets 1 to {joint}, bow taken out: {signed(gap, 2)} mm "
        f"expected, good within {tolerance.tongue_gap_mm:.2f} mm. A plain straightedge also shows the bow: "
        f"{signed(straight, 2)}° in all.",
        f"Action at fret 12: {setup.action_bass_mm:.2f} mm bass, {setup.action_treble_mm:.2f} mm treble, "
        f"good within {tolerance.action_mm:.2f} mm.",
        "After a day, and again after some days: relief, action, and the bolts (strings slack before a bolt "
        "is turned).",
        "Enter what you measured in the logbook, right or wrong.",
    ]
    return Listing("After string-up", tuple(lines), numbered=True)

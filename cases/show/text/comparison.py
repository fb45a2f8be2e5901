"""A comparison as text for a terminal."""

from collections.abc import Iterator, Sequence

from cases.show.text.depth import MOST, Depth, Line, screen
from cases.studies.compare import ComparedInstrument, Comparison

SENTENCES = 12
"""Longer comparisons print a verdict only for rows whose pair must change."""

KEPT = {True: "keep", False: "change", None: "-"}
HEAD = (
    "N",
    "slack mm",
    "relief",
    "action",
    "rod N·m",
    "stretch",
    "transfer",
    "offset",
    "change",
    "stock",
    "pair",
)


SHORT = ("N", "rod N·m", "offset", "change", "pair")
"""Columns of the short table."""
SPELLED = 6
"""Most rows, and most sentences, that a short comparison spells out."""


def comparison_text(comparison: Comparison, *, depth: Depth = Depth.SHORT) -> str:
    """Text of a comparison; angles in degrees, lengths in mm."""
    full = depth is Depth.FULL
    verdicts = list(_verdicts(comparison.rows, most=SENTENCES if full else SPELLED))
    if not full and len(verdicts) > SPELLED:
        verdicts[SPELLED:] = [Line(f"  {len(verdicts) - SPELLED} more sentences: --full")]
    table = _table(comparison, depth, below=len(verdicts))
    return screen([*table, *_notes(comparison, full), *verdicts], depth=depth)


def _table(comparison: Comparison, depth: Depth, *, below: int) -> Iterator[Line]:
    """The table; a short one leaves room for the lines below it."""
    full = depth is Depth.FULL
    rows, heads = comparison.rows, HEAD if full else SHORT
    room = MOST - 5 - below if depth is Depth.SHORT else len(rows)
    width = max(len(row.name) for row in rows)
    yield Line(
        f"{'':{width}} " + "".join(f"{head:>9}" for head in heads),
        "N is the sum of the string tensions, rod the torque at its nut, offset what this instrument needs, "
        "change that minus the first row's, pair whether the current pair may stay.",
    )
    for row in rows[: room if len(rows) <= room else room - 1]:
        yield Line(f"{row.name:{width}} " + _cells(row, heads, digits=3 if full else 2, first=row is rows[0]))
    if len(rows) > room:
        yield Line(f"{len(rows) - room + 1} more rows: --full or --csv")


def _notes(comparison: Comparison, full: bool) -> Iterator[Line]:
    yield Line("")
    if full:
        yield Line(
            "slack: relief with the rod slack [mm]; action at fret 12, mean of the strings [mm]; angles [deg]"
        )
    if comparison.saddle_fixed:
        yield Line("saddle height of the first row kept in all rows; the action changes instead")
    pair = comparison.current_pair
    if pair is not None:
        yield Line(
            f"current pair, from the first row: upper {pair.upper_deg:+.2f}, lower {pair.lower_deg:+.2f} deg;"
            f" one step is {pair.step_deg:.2f} deg",
            "The pair in stock nearest to the first row's own offset; it may stay within one step of a new "
            "offset, because no other pair would then be better by more than that.",
        )


def _cells(row: ComparedInstrument, heads: Sequence[str], *, digits: int, first: bool) -> str:
    numbers = row.numbers
    if numbers is None:
        return f"{'not possible, see below':>27}"
    rod, stock = numbers.rod_torque_n_m, numbers.preload_offset_on_stock_deg
    cells = {
        "N": f"{numbers.total_tension_n:.0f}",
        "slack mm": f"{numbers.relief_slack_mm:.2f}",
        "relief": f"{numbers.relief_mm:.2f}",
        "action": f"{numbers.action_mm:.2f}",
        "rod N·m": "none" if rod is None else f"{rod:.2f}",
        "stretch": f"{numbers.heel_stretch_deg:+z.{digits}f}",
        "transfer": f"{numbers.shim_transfer:.2f}",
        "offset": f"{numbers.preload_offset_deg:+z.{digits}f}",
        "change": f"{numbers.change_deg:+z.{digits}f}",
        "stock": "none" if stock is None else f"{stock:+.2f}",
        "pair": "current" if first and stock is not None else KEPT[row.keep_pair],
    }
    return "".join(f"{cells[head]:>9}" for head in heads)


def _verdicts(rows: tuple[ComparedInstrument, ...], *, most: int) -> Iterator[Line]:
    others = rows[1:]
    spelled = others if len(rows) <= most else [row for row in others if row.keep_pair is not True]
    for (sentence, difference), names in _same(spelled).items():
        others_too = f" and {len(names) - 1} more" if len(names) > 1 else ""
        yield Line(f"  {names[0]}{others_too}: {sentence}", hang=4)
        if difference:
            yield Line(f"      {difference}", hang=6)
    kept = sum(row.keep_pair is True for row in others)
    if len(spelled) < len(others):
        yield Line(f"  {kept} of the other rows keep the current pair")


def _same(rows: Sequence[ComparedInstrument]) -> dict[tuple[str, str], list[str]]:
    """Names of the rows by their sentences, so that shared sentences are printed once."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        found.setdefault((row.verdict, row.difference), []).append(row.name)
    return found

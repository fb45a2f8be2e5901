"""A comparison as text for a terminal."""

from collections.abc import Iterator, Sequence

from cases.studies.compare import ComparedInstrument, Comparison

SENTENCES = 12
"""Longer comparisons print a verdict only for rows whose pair must change."""

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


def comparison_text(comparison: Comparison) -> str:
    """Text of a comparison; angles in degrees, lengths in mm."""
    return "\n".join(_lines(comparison))


def _lines(comparison: Comparison) -> Iterator[str]:
    rows = comparison.rows
    width = max(len(row.name) for row in rows)
    yield f"{'':{width}} " + "".join(f"{head:>9}" for head in HEAD)
    for row in rows:
        yield f"{row.name:{width}} " + _cells(row, first=row is rows[0])
    yield ""
    yield "slack: relief with the rod slack [mm]; action at fret 12, mean of the strings [mm]; angles [deg]"
    if comparison.saddle_fixed:
        yield "saddle height of the first row kept in all rows; the action changes instead"
    pair = comparison.current_pair
    if pair is not None:
        yield (
            f"current pair, from the first row: upper {pair.upper_deg:+.2f}, lower {pair.lower_deg:+.2f} deg;"
            f" one step is {pair.step_deg:.2f} deg"
        )
    yield from _verdicts(rows)


def _cells(row: ComparedInstrument, *, first: bool) -> str:
    numbers = row.numbers
    if numbers is None:
        return f"{'not possible, see below':>27}"
    rod, stock = numbers.rod_torque_n_m, numbers.preload_offset_on_stock_deg
    cells = (
        f"{numbers.total_tension_n:.0f}",
        f"{numbers.relief_slack_mm:.2f}",
        f"{numbers.relief_mm:.2f}",
        f"{numbers.action_mm:.2f}",
        "none" if rod is None else f"{rod:.2f}",
        f"{numbers.heel_stretch_deg:+.3f}",
        f"{numbers.shim_transfer:.2f}",
        f"{numbers.preload_offset_deg:+.3f}",
        f"{numbers.change_deg:+.3f}",
        "none" if stock is None else f"{stock:+.2f}",
        "current"
        if first and stock is not None
        else {True: "keep", False: "change", None: "-"}[row.keep_pair],
    )
    return "".join(f"{cell:>9}" for cell in cells)


def _verdicts(rows: tuple[ComparedInstrument, ...]) -> Iterator[str]:
    others = rows[1:]
    spelled = others if len(rows) <= SENTENCES else [row for row in others if row.keep_pair is not True]
    for (sentence, difference), names in _same(spelled).items():
        others_too = f" and {len(names) - 1} more" if len(names) > 1 else ""
        yield f"  {names[0]}{others_too}: {sentence}"
        if difference:
            yield f"      {difference}"
    kept = sum(row.keep_pair is True for row in others)
    if len(spelled) < len(others):
        yield f"  {kept} of the other rows keep the current pair"


def _same(rows: Sequence[ComparedInstrument]) -> dict[tuple[str, str], list[str]]:
    """Names of the rows by their sentences, so that shared sentences are printed once."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        found.setdefault((row.verdict, row.difference), []).append(row.name)
    return found

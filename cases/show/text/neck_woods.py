"""Neck woods side by side as text for a terminal."""

from collections.abc import Iterator

from cases.studies.neck_woods import NeckWood, NeckWoods

HEAD = ("E_L GPa", "kg/m3", "offset", "90 % +/-", "slack mm", "relief mm", "kink deg", "action mm")


def neck_woods_text(found: NeckWoods) -> str:
    """Text of a comparison of neck woods."""
    return "\n".join(_lines(found))


def _lines(found: NeckWoods) -> Iterator[str]:
    width = max(len(row.name) for row in found.rows) + 2
    yield f"{found.case}: neck woods"
    yield f"{'':{width}}{'':45}   change in a dry winter, with the range of what is not known:"
    yield f"{'':{width}}" + "".join(f"{head:>9}" for head in HEAD[:5]) + "".join(f"{h:>24}" for h in HEAD[5:])
    for row in found.rows:
        yield _line(row, width)
    yield ""
    for sentence in found.findings:
        yield f"  {sentence}"
    yield ""
    yield (
        f"offset [deg]; 90 % of guitars lie within +/-; winter: set up at {found.set_up_at:g} % humidity,"
        f" read at {found.driest:g} %, rod and saddle left alone, bolts kept tight"
    )
    yield "range: whether board or neck moves more along the grain is not known of single woods (drift)"
    if any(row.ratios_of for row in found.rows):
        yield "* elastic ratios borrowed from a related wood (neckpreload woods NAME)"


def _line(row: NeckWood, width: int) -> str:
    name = f"{row.name}{' *' if row.ratios_of else ''}"
    one = row.numbers
    if one is None:
        return f"{name:{width}}not possible: {row.problem}"
    cells = (
        f"{one.e_l_gpa:.1f}",
        f"{one.density_kg_m3:.0f}",
        f"{one.preload_offset_deg:+.3f}",
        f"{one.scatter_deg:.3f}",
        f"{one.relief_slack_mm:.2f}",
    )
    moves = (
        (one.winter_relief_mm, one.winter_relief_range_mm),
        (one.winter_kink_deg, one.winter_kink_range_deg),
        (one.winter_action_mm, one.winter_action_range_mm),
    )
    words = (f"{value:+.2f} ({low:+.2f} to {high:+.2f})" for value, (low, high) in moves)
    return f"{name:{width}}" + "".join(f"{cell:>9}" for cell in cells) + "".join(f"{w:>24}" for w in words)

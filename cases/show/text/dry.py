"""Text of the dry check."""

from collections.abc import Iterator

from cases.bench.shims.dry_check import DryCheck, DryPair
from cases.bench.shims.lengths import length
from cases.offset.shim_ends import way_round
from cases.offset.warnings import CAUTIONS
from cases.show.text.depth import Depth, Line, screen, warned


def dry_text(check: DryCheck, *, inch: bool = False) -> str:
    """Return the dry check of a guitar."""
    lines = (Line(row, hang=4) for row in _lines(check, inch=inch))
    cautions = warned(CAUTIONS, word="CAUTION")
    return screen(lines, depth=Depth.SHORT, warnings=check.warnings, end=cautions)


def verdict(check: DryCheck) -> str:
    """Return the advice in one sentence, with the chance of either pair.

    After a reading that the usual errors do not explain there is none.
    """
    stay, change = check.stay, check.change
    if check.odd:
        return "INSPECT THE JOINT: the usual errors do not explain the reading"
    if change is None:
        return f"STRING UP: the pair is right with a chance of {100 * stay.chance:.0f} %"
    if change.upper_deg == stay.upper_deg:
        what = f"CHANGE THE LOWER SHIM TO {change.lower_deg:+.2f} deg"
    elif change.lower_deg == stay.lower_deg:
        what = f"CHANGE THE UPPER SHIM TO {change.upper_deg:+.2f} deg"
    else:
        what = f"CHANGE BOTH SHIMS: upper {change.upper_deg:+.2f}, lower {change.lower_deg:+.2f} deg"
    return f"{what}: right with a chance of {100 * change.chance:.0f} %, as it is {100 * stay.chance:.0f} %"


def _lines(check: DryCheck, *, inch: bool) -> Iterator[str]:
    several = f", mean of {check.count}" if check.count > 1 else ""
    yield f"  {verdict(check)}"
    yield (
        f"  kink read {check.kink_deg:+.3f} +- {check.error_deg:.3f} deg{several}, expected "
        f"{check.expected_deg:+.3f} +- {check.expected_error_deg:.3f}; chance before the reading "
        f"{100 * check.chance_before:.0f} %"
    )
    if check.odd:
        return
    yield "    upper  lower    action off  tongue gap off   chance   (expected at pitch)"
    yield f"  {'->' if check.change is None else '  '}{_pair_line(check.stay, inch=inch)}"
    if check.change is not None:
        yield f"  ->{_pair_line(check.change, inch=inch)}"
        yield f"  {way_round(check.change.upper_deg, check.change.lower_deg)}"
        kink = f"{check.change.bolted_kink_deg:+.2f} deg"
        yield f"  Bolt up with it and read the joint again: a kink of {kink} is expected."


def _pair_line(one: DryPair, *, inch: bool) -> str:
    action = length(one.action_off_mm, inch=inch, signed=True)
    gap = length(one.gap_off_mm, inch=inch, signed=True)
    return f"{one.upper_deg:+6.2f} {one.lower_deg:+6.2f}{action:>14}{gap:>16}{100 * one.chance:7.0f} %"

"""What the bench commands print: pair, reading table, swap, blank and neck tests."""

from collections.abc import Iterator, Sequence

from cases.bench.learning.blank_modulus import Batch, BlankResult, blank_warnings
from cases.bench.learning.stiffness_test import NORMAL_95, NeckTest
from cases.bench.shims.choose_pair import Aim, PairAim, Row
from cases.bench.shims.lengths import MM_PER_INCH, length
from cases.bench.shims.swap import Parts, Swap
from cases.offset.warnings import CAUTIONS

NOT_INCLUDED = " (body not included)"


def aim_text(aim: Aim, *, inch: bool = False) -> str:
    """The answer to a reading, the pair first."""
    return "\n".join(_aim_lines(aim, inch=inch))


def _aim_lines(aim: Aim, *, inch: bool) -> Iterator[str]:
    reading, pair = aim.reading, aim.pair
    several = f", mean of {reading.count}" if reading.count > 1 else ""
    yield (
        f"{aim.case}: reading {length(reading.mm, inch=inch)} +- "
        f"{length(reading.error_mm, inch=inch)}{several}, a pocket of {aim.pocket_deg:+.2f} deg"
    )
    yield f"  PAIR  upper {pair.upper_deg:+.2f} deg   lower {pair.lower_deg:+.2f} deg"
    yield (
        f"  wanted upper {aim.upper_wanted_deg:+.3f}, lower {aim.lower_wanted_deg:+.3f} deg"
        + (f" (squares {aim.lower_correction_deg:+.3f})" if aim.lower_correction_deg else "")
    )
    label = "" if aim.body_included else NOT_INCLUDED
    yield f"  expected after string-up{label}, rod set, saddle as preset:"
    yield "    upper  lower   action at fret 12          saddle  tongue        chance"
    yield "                   bass / treble           clearance  gap          of right"
    for mark, one in (("->", pair), *(("  ", other) for other in aim.beside)):
        yield f"  {mark}{_pair_line(one, inch=inch)}"
    yield (
        f"  the strings take the shaft line down by {length(aim.string_drop_mm, inch=inch)} at the saddle"
        f" ({aim.string_rotation_deg:.3f} deg){label}"
    )
    yield (
        f"  saddle for the wanted action on this pair: {length(pair.saddle_needed_mm, inch=inch)} over the "
        "bridge"
    )
    if aim.body_included:
        action, gap = aim.tolerance_mm
        yield (
            f"  right means action within {length(action, inch=inch)} and tongue gap within"
            f" {length(gap, inch=inch)} of what is wanted"
        )
        yield (
            "  the pair marked -> comes nearest to both, each in parts of its tolerance, whatever the"
            " chances beside it"
        )
    if aim.calibration_id:
        yield f"  calibration {aim.calibration_id}"
    for text in aim.warnings:
        yield f"  WARNING: {text}"


def _pair_line(one: PairAim, *, inch: bool) -> str:
    chance = "   -" if one.chance is None else f"{100.0 * one.chance:3.0f} %"
    action = f"{length(one.action_bass_mm, inch=inch)} / {length(one.action_treble_mm, inch=inch)}"
    clearance = length(one.saddle_clearance_mm, inch=inch)
    gap = length(one.tongue_gap_mm, inch=inch, signed=True)
    return (
        f"{one.upper_deg:+6.2f} {one.lower_deg:+6.2f}   {action:21}  {clearance:>9}  {gap:>9}  {chance:>10}"
    )


def table_text(rows: Sequence[Row], *, name: str, inch: bool = False) -> str:
    """The reading table."""
    unit = "in" if inch else "mm"
    digits = 3 if inch else 2
    scale = 1.0 / MM_PER_INCH if inch else 1.0
    lines = [
        f"{name}: fretboard's underside, carried from the bare pocket, over the top at the saddle",
        "  -> pair from stock, action at fret 12",
        f"  reading {unit}   upper deg  lower deg   bass {unit}  treble {unit}",
    ]
    lines += [
        f"  {scale * row.reading_mm:10.{digits}f}   {row.upper_deg:+9.2f}  {row.lower_deg:+9.2f}"
        f"   {scale * row.action_bass_mm:7.{digits}f}  {scale * row.action_treble_mm:9.{digits}f}"
        for row in rows
    ]
    return "\n".join(lines)


def swap_text(swap: Swap, *, inch: bool = False) -> str:
    """What to do about a strung guitar."""
    return "\n".join(_swap_lines(swap, inch=inch))


def _swap_lines(swap: Swap, *, inch: bool) -> Iterator[str]:
    new = swap.new
    if swap.keep:
        yield f"KEEP THE PAIR  upper {swap.old[0]:+.2f} deg   lower {swap.old[1]:+.2f} deg"
    else:
        yield f"SWAP TO  upper {new.upper_deg:+.2f} deg   lower {new.lower_deg:+.2f} deg"
        yield f"         from {swap.old[0]:+.2f} and {swap.old[1]:+.2f}"
    yield (
        f"  action then {length(new.action_bass_mm, inch=inch)} / {length(new.action_treble_mm, inch=inch)}"
        f" (bass / treble), tongue gap {length(new.tongue_gap_mm, inch=inch, signed=True)}"
    )
    parts = swap.parts
    yield (
        f"  action is {length(parts.total, inch=inch, signed=True)} from the"
        f" {length(swap.expected_action_mm, inch=inch)} expected of this pair:"
    )
    for name, value in _named(parts):
        yield f"    {name:26}{length(value, inch=inch, signed=True)}"
    for number, text in enumerate(swap.steps, start=1):
        yield f"  {number}. {text}"
    for text in swap.warnings:
        yield f"  WARNING: {text}"
    for text in CAUTIONS:
        yield f"  CAUTION: {text}"


def _named(parts: Parts) -> Iterator[tuple[str, float]]:
    yield "rod (relief)", parts.rod
    yield "saddle", parts.saddle
    if parts.joint is None:
        yield "joint, body or top", parts.rest
    else:
        yield "joint", parts.joint
        yield "body or top", parts.rest


def blank_text(result: BlankResult, batch: Batch, *, wood: str) -> str:
    """A blank's density and modulus against its batch."""
    low, high = result.interval
    where = f"the batch of {batch.count}" if batch.count else "the wood table"
    inside = "inside" if batch.holds(result.e_l) else "OUTSIDE"
    half = NORMAL_95 * batch.e_cov * batch.e_l
    return "\n".join(
        [
            f"{result.name} ({wood}): density {result.density:.0f} +- {result.density_error:.0f} kg/m3",
            f"  E_L {result.e_l:.2f} GPa, 95 % {low:.2f} to {high:.2f} (shear raises it by "
            f"{100.0 * (result.shear_factor - 1.0):.1f} %)",
            f"  {inside} {where}: {batch.e_l - half:.1f} to {batch.e_l + half:.1f} GPa hold 95 % of it",
            *(f"  WARNING: {text}" for text in blank_warnings(result, wood)),
        ]
    )


def batch_text(batch: Batch, results: Sequence[BlankResult], *, wood: str) -> str:
    """A batch, one blank a line."""
    lines = [
        f"batch of {batch.count} blanks ({wood}): E_L {batch.e_l:.2f} GPa, scatter {100 * batch.e_cov:.1f} %"
        f" (measuring taken out); density {batch.density:.0f} kg/m3, scatter {100 * batch.density_cov:.1f} %"
    ]
    lines += [
        f"  {one.name:16}{one.e_l:7.2f} +- {one.e_l_error:.2f} GPa {one.density:6.0f} kg/m3"
        + ("" if batch.holds(one.e_l) else "   outside the batch")
        for one in results
    ]
    lines += [f"  WARNING: {text}" for one in results for text in blank_warnings(one, wood)]
    return "\n".join(lines)


def neck_text(test: NeckTest, *, name: str, moved_mm: float) -> str:
    """A dead-weight test."""
    low, high = test.neck_interval
    half = NORMAL_95 * test.ei_error
    lines = [f"{name}: the dial moved {moved_mm:.3f} mm; the case let expect {test.expected_mm:.3f} mm"]
    lines += [
        f"  EI at fret {fret:<3} {value:6.0f} N m2, 95 % {value * (1 - half):.0f} to {value * (1 + half):.0f}"
        for fret, value in test.ei
    ]
    lines.append(
        f"  neck wood E_L {test.e_l[0]:.2f} GPa, 95 % {low:.2f} to {high:.2f}; the board's scatter is in it"
    )
    lines.append(
        f"  fretboard E_L {test.e_l[1]:.2f} +- {test.errors[1]:.2f} GPa, with which EI is as measured"
    )
    lines += [f"  WARNING: {text}" for text in test.warnings]
    return "\n".join(lines)

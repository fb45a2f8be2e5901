"""Text of the bench commands: pair, reading table, swap, calibrations, blank and neck tests."""

from collections.abc import Iterator, Sequence

import numpy as np

from cases.bench.learning.blank_modulus import NORMAL_95, Batch, BlankResult, blank_warnings
from cases.bench.learning.calibrate import NAMES, ShopResult
from cases.bench.learning.gaussian_update import direction_name
from cases.bench.learning.stiffness_test import NeckTest
from cases.bench.shims.choose_pair import PairChoice, PairForecast, ReadingRow
from cases.bench.shims.lengths import MM_PER_INCH, length
from cases.bench.shims.swap import ActionParts, Swap
from cases.offset.calibration import DEFAULTS, PITCH_BIAS, STRETCH
from cases.offset.shim_ends import SIGNS, way_round
from cases.offset.warnings import CAUTIONS
from cases.show.text.depth import Depth, Line, screen, warned
from materials.counted import counted

UNITS = ("deg", "", "", "deg")
"""Units of the learned parameters `NAMES`."""


def _warnings(texts: Sequence[str]) -> list[str]:
    return [f"  WARNING: {text}" for text in texts]


def pair_text(choice: PairChoice, *, depth: Depth = Depth.SHORT, inch: bool = False) -> str:
    """Return the pair for a pocket and the expected result; in full its neighbours too."""
    lines = [*_pair_lines(choice, inch=inch), *_chance_lines(choice, inch=inch)]
    if depth is Depth.FULL:
        lines += [Line(text) for text in _pair_details(choice, inch=inch)]
    if choice.calibration_id:
        lines.append(Line(f"  calibrated by  {choice.calibration_id}"))
    return screen(lines, depth=depth, warnings=choice.warnings)


def _pair_lines(choice: PairChoice, *, inch: bool) -> Iterator[Line]:
    reading, pair = choice.reading, choice.pair
    several = f", mean of {reading.count}" if reading.count > 1 else ""
    yield Line(
        f"{choice.case}: reading {length(reading.mm, inch=inch)} +- "
        f"{length(reading.error_mm, inch=inch)}{several}, pocket angle {choice.pocket_deg:+.2f} deg",
        "Height over the top, at the saddle, of the plane of the bare pocket; the angle says the same.",
    )
    yield Line(
        f"  PAIR           upper {pair.upper_deg:+.2f} deg   lower {pair.lower_deg:+.2f} deg",
        "The pair of your stock with the smallest errors of action and tongue gap.",
    )
    yield Line(
        f"  way round      {way_round(pair.upper_deg, pair.lower_deg)}",
        "Where the thick end of each shim lies; the upper one is under the tongue, the lower one behind the "
        "heel.",
    )
    label = "" if choice.body_included else "; body not included"
    yield Line(
        f"  expected       action {_action(pair, inch=inch)} (bass / treble), tongue gap"
        f" {length(pair.tongue_gap_mm, inch=inch, signed=True)}{label}",
        "What to find after string-up, with the rod set and the saddle as preset: action at fret 12 and the "
        "rise of the last fret.",
    )
    yield Line(
        f"  saddle         {length(pair.saddle_needed_mm, inch=inch)} over the bridge for the wanted action",
        "How high the saddle ends up if you cut it to the wanted action on this pair.",
    )


def _chance_lines(choice: PairChoice, *, inch: bool) -> Iterator[Line]:
    if choice.pair.chance is not None:
        action, gap = choice.tolerance_mm
        yield Line(
            f"  right          {100.0 * choice.pair.chance:.0f} % chance: action within"
            f" {length(action, inch=inch)} and tongue gap within {length(gap, inch=inch)} of the target",
            "How often a neck like this one comes out right at the first attempt.",
        )


def _pair_details(choice: PairChoice, *, inch: bool) -> Iterator[str]:
    """Rows for the neighbours, and for angles and heights behind the choice."""
    label = "" if choice.body_included else " (body not included)"
    yield (
        f"  before rounding: upper {choice.upper_wanted_deg:+.3f}, lower {choice.lower_wanted_deg:+.3f} deg"
        + (f" (squares {choice.lower_correction_deg:+.3f})" if choice.lower_correction_deg else "")
    )
    yield f"  expected after string-up{label}, rod set, saddle as preset:"
    yield "    upper  lower   action at fret 12          saddle  tongue        chance"
    yield "                   bass / treble           clearance  gap          of right"
    for mark, one in (("->", choice.pair), *(("  ", other) for other in choice.beside)):
        yield f"  {mark}{_forecast_line(one, inch=inch)}"
    yield (
        f"  the strings lower the shaft line at the saddle by {length(choice.string_drop_mm, inch=inch)}"
        f" ({choice.string_rotation_deg:.3f} deg){label}"
    )
    if choice.body_included:
        yield (
            "  -> marks the pair with the smallest errors of action and gap relative to these tolerances,"
            " not the highest chance"
        )


def _action(one: PairForecast, *, inch: bool) -> str:
    return f"{length(one.action_bass_mm, inch=inch)} / {length(one.action_treble_mm, inch=inch)}"


def _forecast_line(one: PairForecast, *, inch: bool) -> str:
    chance = "   -" if one.chance is None else f"{100.0 * one.chance:3.0f} %"
    clearance = length(one.saddle_clearance_mm, inch=inch)
    gap = length(one.tongue_gap_mm, inch=inch, signed=True)
    action = _action(one, inch=inch)
    return (
        f"{one.upper_deg:+6.2f} {one.lower_deg:+6.2f}   {action:21}  {clearance:>9}  {gap:>9}  {chance:>10}"
    )


def table_text(rows: Sequence[ReadingRow], *, name: str, inch: bool = False) -> str:
    """Return the reading table."""
    unit = "in" if inch else "mm"
    digits = 3 if inch else 2
    scale = 1.0 / MM_PER_INCH if inch else 1.0
    lines = [
        f"{name}: reading = height of the carried pocket plane over the top at the saddle",
        "  -> pair from stock, action at fret 12",
        f"  shims: {SIGNS}",
        f"  reading {unit}   upper deg  lower deg   bass {unit}  treble {unit}",
    ]
    lines += [
        f"  {scale * row.reading_mm:10.{digits}f}   {row.upper_deg:+9.2f}  {row.lower_deg:+9.2f}"
        f"   {scale * row.action_bass_mm:7.{digits}f}  {scale * row.action_treble_mm:9.{digits}f}"
        for row in rows
    ]
    return "\n".join(lines)


def swap_text(swap: Swap, *, name: str, depth: Depth = Depth.SHORT, inch: bool = False) -> str:
    """Return the correction of a strung guitar of this name."""
    lines = [Line(f"{name}:"), *_swap_lines(swap, inch=inch)]
    if swap.attempts > 1:
        lines.append(Line(f"  the pair corrects the mean of {swap.attempts} attempts on this guitar"))
    if depth is Depth.FULL:
        lines += [
            Line(f"    {part:26}{length(size, inch=inch, signed=True)}") for part, size in _named(swap.parts)
        ]
    else:
        lines.append(_causes(swap.parts, inch=inch))
    lines += [Line(f"  {number}. {text}", hang=5) for number, text in enumerate(swap.steps, start=1)]
    return screen(lines, depth=depth, warnings=swap.warnings, end=warned(CAUTIONS, word="CAUTION"))


def _swap_lines(swap: Swap, *, inch: bool) -> Iterator[Line]:
    new, old = swap.new, swap.old
    words = "The pair of your stock that brings action and tongue gap nearest to their targets."
    if swap.keep:
        yield Line(f"KEEP THE PAIR  upper {old[0]:+.2f} deg   lower {old[1]:+.2f} deg", words)
    else:
        yield Line(
            f"SWAP TO  upper {new.upper_deg:+.2f} deg   lower {new.lower_deg:+.2f} deg\n"
            f"         from {old[0]:+.2f} and {old[1]:+.2f}",
            words,
        )
    yield Line(
        f"  action then {_action(new, inch=inch)} (bass / treble), tongue gap"
        f" {length(new.tongue_gap_mm, inch=inch, signed=True)}",
        "What to find with this pair once rod and saddle are right.",
    )
    yield Line(
        f"  mean action differs by {length(swap.parts.total, inch=inch, signed=True)} from the"
        f" {length(swap.expected_action_mm, inch=inch)} expected of this pair:",
        "The mean of bass and treble, against what the pair that is in the guitar should give.",
    )


def _causes(parts: ActionParts, *, inch: bool) -> Line:
    """The causes of the difference in one line."""
    each = (f"{part} {length(size, inch=inch, signed=True)}" for part, size in _named(parts))
    return Line(
        f"    {', '.join(each)}",
        "Which part of it each cause makes: relief is corrected with the rod, saddle at the saddle, the "
        "others with the shims.",
        hang=4,
    )


def _named(parts: ActionParts) -> Iterator[tuple[str, float]]:
    yield "rod (relief)", parts.rod
    yield "saddle", parts.saddle
    if parts.joint is None:
        yield "joint, body or top", parts.rest
    else:
        yield "joint", parts.joint
        yield "body or top", parts.rest


def shop_text(result: ShopResult) -> str:
    """Return the result of learning from a log."""
    learned = result.learned
    lines = [
        f"{result.calibration.id}: learned from {result.used} attempts on {result.guitars} guitars, "
        f"{len(result.left_out)} left out"
    ]
    lines += [f"  left out: {text}" for text in result.left_out[:5]]
    lines.append(f"  {'':18}{'learned':>9}{'+-':>9}   posterior/prior spread")
    spreads = np.sqrt(np.diag(learned.covariance))
    for k, name in enumerate(NAMES):
        value = DEFAULTS[k] + learned.mean[k]
        lines.append(f"  {name:18}{value:9.3f}{spreads[k]:9.3f} {UNITS[k]:4}{learned.ratios[k]:6.2f}")
    lines.append("  combinations of these parameters (posterior/prior spread):")
    for one in learned.directions:
        verdict = "identified" if one.identified else "not identifiable from this log, left at its prior"
        lines.append(f"    {one.ratio:5.2f}  {direction_name(one, NAMES)}: {verdict}")
    for name, unit, before, after in (
        ("action", "mm", result.action_before_mm, result.action_after_mm),
        ("kink", "deg", result.kink_before_deg, result.kink_after_deg),
    ):
        if np.isfinite(before[0]):
            lines.append(
                f"  residual {name:7} before {before[0]:+.3f} +- {before[1]:.3f} {unit},"
                f" after {after[0]:+.3f} +- {after[1]:.3f} {unit}"
            )
    if (followed := result.calibration.followed) is not None:
        now = (result.calibration.value(name) for name in (STRETCH, PITCH_BIAS))
        lines.append(
            "  followed: the last guitars lie {:+z.3f} mm (action) and {:+z.3f} deg (kink) beside the mean\n"
            "    in the file: stretch factor {:.3f}, pitch bias {:+.3f} deg".format(*followed, *now)
            + (f"; tests of {counted(result.tested, 'neck')} used" if result.tested else "")
        )
    lines.append(
        f"  chi-square {learned.chi_square:.0f} of {learned.count} values"
        f" (probability {learned.probability:.2f})"
    )
    return "\n".join(lines + _warnings(result.warnings))


def blank_text(result: BlankResult, batch: Batch, *, wood: str) -> str:
    """Return a blank's density and modulus, compared with its batch."""
    low, high = result.interval
    where = f"the batch of {batch.count}" if batch.count else "the wood table"
    inside = "inside" if batch.holds(result.e_l) else "OUTSIDE"
    half = NORMAL_95 * batch.e_cov * batch.e_l
    return "\n".join(
        [
            f"{result.name} ({wood}): density {result.density:.0f} +- {result.density_error:.0f} kg/m3",
            f"  E_L {result.e_l:.2f} GPa, 95 % interval {low:.2f} to {high:.2f} (shear correction "
            f"{100.0 * (result.shear_factor - 1.0):+.1f} %)",
            f"  {inside} {where}: 95 % lie between {batch.e_l - half:.1f} and {batch.e_l + half:.1f} GPa",
            *_warnings(blank_warnings(result, wood)),
        ]
    )


def batch_text(batch: Batch, results: Sequence[BlankResult], *, wood: str) -> str:
    """Return a batch, one line per blank."""
    lines = [
        f"batch of {batch.count} blanks ({wood}): E_L {batch.e_l:.2f} GPa, scatter {100 * batch.e_cov:.1f} %"
        f" (without measuring error); density {batch.density:.0f} kg/m3, scatter "
        f"{100 * batch.density_cov:.1f} %"
    ]
    lines += [
        f"  {one.name:16}{one.e_l:7.2f} +- {one.e_l_error:.2f} GPa {one.density:6.0f} kg/m3"
        + ("" if batch.holds(one.e_l) else "   outside the batch")
        for one in results
    ]
    return "\n".join(lines + _warnings([text for one in results for text in blank_warnings(one, wood)]))


def neck_text(test: NeckTest, *, name: str, moved_mm: float) -> str:
    """Return the result of a dead-weight test."""
    low, high = test.neck_interval
    half = NORMAL_95 * test.ei_error
    lines = [f"{name}: dial reading {moved_mm:.3f} mm, expected from the case {test.expected_mm:.3f} mm"]
    lines += [
        f"  EI at fret {fret:<3} {value:6.0f} N m2, 95 % {value * (1 - half):.0f} to {value * (1 + half):.0f}"
        for fret, value in test.ei
    ]
    lines += [
        f"  neck wood E_L {test.e_l[0]:.2f} GPa, 95 % {low:.2f} to {high:.2f}, with the fretboard's scatter",
        f"  fretboard E_L {test.e_l[1]:.2f} +- {test.errors[1]:.2f} GPa; both together give the measured EI",
    ]
    return "\n".join(lines + _warnings(test.warnings))

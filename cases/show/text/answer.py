"""The answer as text for a terminal: what a workshop needs first, proofs and assumptions after it."""

from collections.abc import Iterator

from cases.offset.answer import Answer
from cases.offset.warnings import CAUTIONS

SHOWN = 6
"""How many assumptions are listed; the JSON has all."""
POUND_FORCE = 4.4482216


def report(answer: Answer) -> str:
    """Text of an answer, about a terminal page."""
    asked = _offset if answer.pocket is None else _pocket
    parts = (_head, _neck, asked, _pairs, _joint, _proof, _notes)
    return "\n".join(line for part in parts for line in part(answer))


def _head(answer: Answer) -> Iterator[str]:
    strings = answer.strings
    total = strings.total_tension_n
    gauges = " ".join(strings.gauges)
    yield f"{answer.case}: {strings.set} ({gauges}), {total:.0f} N ({total / POUND_FORCE:.0f} lbf) in all"


def _neck(answer: Answer) -> Iterator[str]:
    relief = answer.relief
    slack = answer.heel_stretch_rod_slack_deg
    low, high = answer.heel_stretch_friction_band_deg
    yield f"  relief         {relief.rod_slack_mm:.2f} mm with the rod slack, {relief.set_mm:.2f} mm as set"
    yield f"  rod            {rod_text(answer)}"
    yield (
        f"  heel stretch   {answer.heel_stretch_deg:+.3f} deg"
        f" ({low:+.3f} to {high:+.3f} over the friction band,"
        f" {slack:+.3f} with the rod slack)"
    )
    yield f"                 section at the heel start to the tongue: {answer.heel_rotation_deg:+.3f} deg"
    if answer.shim_transfer is not None:
        yield f"  shim transfer  {answer.shim_transfer:.2f} deg of kink per degree of lower shim"


def rod_text(answer: Answer) -> str:
    """The rod's setting in one line."""
    rod = answer.rod
    if rod.tension_n is None or rod.torque_n_m is None or rod.torque_band_n_m is None:
        return "none"
    size = f"{rod.tension_n:.0f} N" if rod.couple_n_m is None else f"{rod.couple_n_m:.2f} N·m couple"
    low, high = rod.torque_band_n_m
    return (
        f"{size}, {rod.torque_n_m:.2f} N·m at the nut ({low:.2f} to {high:.2f}),"
        f" about {rod.turns or 0.0:.2f} turns from slack"
    )


def _offset(answer: Answer) -> Iterator[str]:
    low, high = answer.preload_offset_band_deg or (0.0, 0.0)
    below, above = answer.preload_offset_friction_band_deg or (0.0, 0.0)
    yield ""
    yield f"  PRELOAD OFFSET {answer.offset_deg:+.3f} deg (lower minus upper shim)"
    yield f"                 90 % of necks {low:+.2f} to {high:+.2f}, to first order"
    yield f"                 friction band {below:+.3f} to {above:+.3f}"
    yield (
        f"                 mesh error {answer.checks.mesh_error_deg:.3f};"
        f" linear estimate {answer.preload_offset_linear_deg:+.3f}"
    )
    yield (
        f"                 belongs to this relief: {(answer.offset_per_relief_deg_mm or 0.0) * 0.1:+.3f} deg"
        " for each 0.1 mm more"
    )
    yield (
        f"                 {answer.taper_mm:+.2f} mm over the lower pad,"
        f" {answer.paper_sheets:.1f} sheets of paper"
    )
    if answer.anchored_offset_deg is not None:
        yield f"                 model alone; anchored to your number: {answer.anchored_offset_deg:+.3f} deg"
    if answer.preload_offset_on_stock_deg is not None:
        yield (
            f"  on stock       {answer.preload_offset_on_stock_deg:+.2f} deg; rounding leaves a kink of"
            f" {answer.residual_kink_deg or 0.0:+.3f} deg, a tongue gap of"
            f" {answer.residual_tongue_gap_mm or 0.0:+.3f} mm"
        )


def _pocket(answer: Answer) -> Iterator[str]:
    pocket = answer.pocket
    if pocket is None:
        return
    low, high = pocket.taper_band_deg
    below, above = pocket.taper_friction_band_deg
    yield ""
    yield f"  TAPER          {pocket.taper_deg:+.3f} deg of the pocket's shim (positive: thick to the nut)"
    yield f"                 90 % of necks {low:+.2f} to {high:+.2f}, to first order"
    yield f"                 friction band {below:+.3f} to {above:+.3f}"
    yield f"                 mesh error {answer.checks.mesh_error_deg:.3f}"
    yield (
        f"                 {answer.taper_mm:+.2f} mm over the pocket, {answer.paper_sheets:.1f} sheets of"
        f" paper; the neck turns {pocket.pitch_per_shim:.2f} deg per degree of shim"
    )
    yield f"                 for strings {pocket.saddle_wanted_mm:.2f} mm over the glue line at the saddle"
    kink, gap = answer.states["strung"].kink_deg, answer.states["strung"].tongue_gap_mm
    yield f"  last frets     kink {kink:+.3f} deg at pitch, {gap:+.3f} mm at the last fret"
    if pocket.taper_on_stock_deg is not None:
        yield (
            f"  on stock       {pocket.taper_on_stock_deg:+.2f} deg; leaves the action"
            f" {pocket.action_error_mm or 0.0:+.2f} mm off until the saddle is set"
        )
    strip = pocket.strip
    if strip is not None:
        yield (
            f"  strip instead  {strip.length_mm:.0f} mm long, {strip.thickness_mm:.2f} mm thick,"
            f" at the {strip.at_end}: a gap of {strip.gap_mm:.2f} mm under the heel,"
        )
        yield (
            f"                 {strip.peak_pressure_mpa:.1f} MPa (full taper"
            f" {strip.full_taper_pressure_mpa:.1f}), bends the last frets"
            f" {strip.bend_deg:+.3f} deg, {strip.bend_mm:+.3f} mm"
        )


def _pairs(answer: Answer) -> Iterator[str]:
    if answer.pairs:
        yield ""
        for first in range(0, len(answer.pairs), 9):
            row = answer.pairs[first : first + 9]
            yield "  upper  " + " ".join(f"{one.upper_deg:6.2f}" for one in row)
            yield "  lower  " + " ".join(f"{one.lower_deg:6.2f}" for one in row)
    for shim in answer.shims:
        edges = f"{shim.thin_edge_mm:.2f} to {shim.thick_edge_mm:.2f} mm"
        yield f"  {shim.name} shim {shim.angle_deg:+.2f} deg: {edges}, thick end {shim.thick_end}"


def _joint(answer: Answer) -> Iterator[str]:
    yield ""
    for bolt in answer.bolts:
        closed = (
            "face not closed" if bolt.torque_low_n_m is None else f"closed from {bolt.torque_low_n_m:.2f}"
        )
        yield (
            f"  bolt {bolt.name:10}{bolt.set_n:5.0f} N set, {bolt.strung_n:5.0f} N at pitch;"
            f" {bolt.torque_n_m:.2f} N·m ({closed}, wood bears {bolt.torque_high_n_m:.2f})"
        )
    for contact in answer.contact:
        yield (
            f"  {contact.name} shim bears on {100 * contact.closed_fraction:.0f} %,"
            f" slips on {100 * contact.slipping_fraction:.0f} %,"
            f" peak {contact.peak_pressure_mpa:.1f} MPa (wood {contact.strength_mpa:.1f})"
        )
    budget = answer.budget
    shares = sorted(budget.nut_rise_shares_mm.items(), key=lambda item: -abs(item[1]))[:6]
    text = ", ".join(f"{name} {100 * share / budget.nut_rise_mm:.0f} %" for name, share in shares)
    yield f"  nut rises {budget.nut_rise_mm:.2f} mm: {text}"


def _proof(answer: Answer) -> Iterator[str]:
    checks = answer.checks
    yield (
        f"  checks: residual {checks.residual:.0e}, forces {checks.force_balance:.0e},"
        f" moments {checks.moment_balance:.0e}, energy {checks.energy_balance:.0e},"
        f" budget {checks.budget_closure:.0e}"
    )


def _notes(answer: Answer) -> Iterator[str]:
    if answer.assumed:
        yield ""
        asked = "offset" if answer.pocket is None else "taper"
        yield f"  {len(answer.assumed)} keys assumed (all: --json); those that weigh most in the {asked}:"
        for one in answer.assumed[:SHOWN]:
            value = f"{one.value:g}" if isinstance(one.value, float) else str(one.value)
            worth = ""
            if one.effect_deg is not None and one.step is not None:
                worth = f"; {one.step:g} more is worth {one.effect_deg:+.3f} deg"
            yield f"    {one.key} = {value}{worth}"
    for text in answer.standins:
        yield f"  stand-in: {text}"
    for text in answer.warnings:
        yield f"  WARNING: {text}"
    yield "  No published measurement of heel rotation under strings was found: calibrate on your guitars."
    for text in CAUTIONS:
        yield f"  CAUTION: {text}"

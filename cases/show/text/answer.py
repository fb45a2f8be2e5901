"""The answer as text for a terminal: first the workshop's figures, then checks and assumptions."""

from collections.abc import Iterator

from cases.casefile.wrong_value import unit_of
from cases.offset.answer import Answer, ShimAnswer
from cases.offset.warnings import CAUTIONS

SHOWN = 6
"""Number of assumed inputs listed; the JSON has all."""
POUND_FORCE = 4.4482216
INDENT = " " * 17
"""Start of the lines below a labelled one."""
NO_MEASUREMENT = "No published measurement of heel rotation under strings was found"


def report(answer: Answer) -> str:
    """Text of an answer, about one terminal page."""
    found = _offset if answer.pocket is None else _pocket
    parts = (_head, _neck, found, _pairs, _joint, _checks, _notes)
    return "\n".join(line for part in parts for line in part(answer))


def _head(answer: Answer) -> Iterator[str]:
    gauges = " ".join(answer.strings.gauges)
    yield f"{answer.case}: {answer.strings.set} ({gauges}), {tension_text(answer)}"
    for text in answer.unusual:
        yield f"  UNUSUAL INPUT: {text}"


def tension_text(answer: Answer) -> str:
    """Total string tension in newtons and pounds-force."""
    total = answer.strings.total_tension_n
    return f"{total:.0f} N ({total / POUND_FORCE:.0f} lbf) total"


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
    yield f"{INDENT}rotation of the heel start against the tongue: {answer.heel_rotation_deg:+.3f} deg"
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
    yield ""
    yield f"  PRELOAD OFFSET {answer.offset_deg:+.3f} deg (lower minus upper shim)"
    yield from _bands(answer.preload_offset_band_deg, answer.preload_offset_friction_band_deg)
    yield (
        f"{INDENT}mesh error {answer.checks.mesh_error_deg:.3f};"
        f" linear estimate {answer.preload_offset_linear_deg:+.3f}"
    )
    yield (
        f"{INDENT}valid at this relief; 0.1 mm more moves the offset by"
        f" {(answer.offset_per_relief_deg_mm or 0.0) * 0.1:+.3f} deg"
    )
    yield (
        f"{INDENT}{answer.taper_mm:+.2f} mm over the lower shim's length,"
        f" {answer.paper_sheets:.1f} sheets of paper"
    )
    if answer.anchored_offset_deg is not None:
        yield f"{INDENT}model alone; anchored to your number: {answer.anchored_offset_deg:+.3f} deg"
    if answer.preload_offset_on_stock_deg is not None:
        yield (
            f"  from stock     {answer.preload_offset_on_stock_deg:+.2f} deg; rounding leaves a kink of"
            f" {answer.residual_kink_deg or 0.0:+.3f} deg, a tongue gap of"
            f" {answer.residual_tongue_gap_mm or 0.0:+.3f} mm"
        )


def _bands(scatter: tuple[float, float] | None, friction: tuple[float, float] | None) -> Iterator[str]:
    """Lines of the band of necks and the friction band [deg]."""
    low, high = scatter or (0.0, 0.0)
    below, above = friction or (0.0, 0.0)
    yield f"{INDENT}90 % of necks {low:+.2f} to {high:+.2f} (first-order estimate)"
    yield f"{INDENT}friction band {below:+.3f} to {above:+.3f}"


def _pocket(answer: Answer) -> Iterator[str]:
    pocket = answer.pocket
    assert pocket is not None
    yield ""
    yield f"  TAPER          {pocket.taper_deg:+.3f} deg of the pocket shim (positive: thick end at the nut)"
    yield from _bands(pocket.taper_band_deg, pocket.taper_friction_band_deg)
    yield f"{INDENT}mesh error {answer.checks.mesh_error_deg:.3f}"
    yield (
        f"{INDENT}{answer.taper_mm:+.2f} mm over the pocket's length, {answer.paper_sheets:.1f} sheets of"
        f" paper; 1 deg of shim turns the neck by {pocket.pitch_per_shim:.2f} deg"
    )
    yield f"{INDENT}strings {pocket.saddle_wanted_mm:.2f} mm above the glue line at the saddle"
    kink, gap = answer.states["strung"].kink_deg, answer.states["strung"].tongue_gap_mm
    yield f"  last frets     kink {kink:+.3f} deg at pitch, {gap:+.3f} mm at the last fret"
    if pocket.taper_on_stock_deg is not None:
        off = pocket.action_error_mm or 0.0
        yield (
            f"  from stock     {pocket.taper_on_stock_deg:+.2f} deg;"
            f" action {off:+.2f} mm off until the saddle is set"
        )
    strip = pocket.strip
    if strip is not None:
        yield (
            f"  strip instead  {strip.length_mm:.0f} mm long, {strip.thickness_mm:.2f} mm thick,"
            f" at the {strip.at_end}: a gap of {strip.gap_mm:.2f} mm under the heel,"
        )
        yield (
            f"{INDENT}{strip.peak_pressure_mpa:.1f} MPa (full taper"
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
        yield f"  {shim.name} shim {shim.angle_deg:+.2f} deg: {edges_text(shim)}"


def edges_text(shim: ShimAnswer) -> str:
    """Thickness at both edges of a shim and the direction of its thick end."""
    if shim.thick_end == "parallel":
        return f"{shim.thick_edge_mm:.2f} mm, not tapered"
    return f"{shim.thin_edge_mm:.2f} to {shim.thick_edge_mm:.2f} mm, thick end {shim.thick_end}"


def _joint(answer: Answer) -> Iterator[str]:
    yield ""
    for bolt in answer.bolts:
        closed = (
            "joint does not stay closed"
            if bolt.torque_low_n_m is None
            else f"joint stays closed above {bolt.torque_low_n_m:.2f}"
        )
        yield (
            f"  bolt {bolt.name:10}{bolt.set_n:5.0f} N set, {bolt.strung_n:5.0f} N at pitch;"
            f" {bolt.torque_n_m:.2f} N·m ({closed}, maximum for the wood {bolt.torque_high_n_m:.2f})"
        )
    for contact in answer.contact:
        yield (
            f"  {contact.name} shim {100 * contact.closed_fraction:.0f} % in contact,"
            f" {100 * contact.slipping_fraction:.0f} % slipping,"
            f" peak pressure {contact.peak_pressure_mpa:.1f} MPa (wood strength {contact.strength_mpa:.1f})"
        )
    budget = answer.budget
    shares = sorted(budget.nut_rise_shares_mm.items(), key=lambda item: -abs(item[1]))[:6]
    text = ", ".join(f"{name} {100 * share / budget.nut_rise_mm:.0f} %" for name, share in shares)
    yield f"  nut rises {budget.nut_rise_mm:.2f} mm: {text}"


def _checks(answer: Answer) -> Iterator[str]:
    checks = answer.checks
    yield (
        f"  checks: residual {checks.residual:.0e}, forces {checks.force_balance:.0e},"
        f" moments {checks.moment_balance:.0e}, energy {checks.energy_balance:.0e},"
        f" budget {checks.budget_closure:.0e}"
    )


def _notes(answer: Answer) -> Iterator[str]:
    if answer.not_measured:
        copied = f", {len(answer.copied)} copied from {answer.copied_from}" if answer.copied else ""
        asked = "offset" if answer.pocket is None else "taper"
        yield ""
        yield f"  {len(answer.assumed)} inputs assumed{copied} (all: --json); largest effects on the {asked}:"
        for one in answer.not_measured[:SHOWN]:
            value = f"{one.value:g}" if isinstance(one.value, float) else str(one.value)
            effect = ""
            if one.effect_deg is not None and one.step is not None:
                step = f"{one.step:g} {unit_of(one.key)}".rstrip()
                effect = f"; {step} larger changes the {asked} by {one.effect_deg:+.3f} deg"
            yield f"    {one.key} = {value}{effect}"
    for text in answer.standins:
        yield f"  borrowed data: {text}"
    for text in (one for one in answer.warnings if one not in answer.unusual):
        yield f"  WARNING: {text}"
    yield f"  {NO_MEASUREMENT}: calibrate on your guitars."
    for text in CAUTIONS:
        yield f"  CAUTION: {text}"

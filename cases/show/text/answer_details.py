"""Everything of an answer that its short text leaves out: shims, bolts, contact, checks, assumed inputs."""

from collections.abc import Iterator

from cases.casefile.wrong_value import unit_of
from cases.offset.answer import Answer, ShimAnswer
from cases.show.text.depth import NEXT

SHOWN = 6
"""Number of assumed inputs listed; the JSON has all."""


def details(answer: Answer) -> Iterator[str]:
    """Rows from the shims to borrowed data, in groups."""
    for part in (_strip, _pairs, _joint, _past, _checks, _notes):
        yield from part(answer)


def _strip(answer: Answer) -> Iterator[str]:
    strip = None if answer.pocket is None else answer.pocket.strip
    if strip is not None:
        yield (
            f"  strip instead  {strip.length_mm:.0f} mm long, {strip.thickness_mm:.2f} mm thick,"
            f" at the {strip.at_end}: a gap of {strip.gap_mm:.2f} mm under the heel,"
        )
        yield (
            f"{NEXT}{strip.peak_pressure_mpa:.1f} MPa (full taper"
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


def _past(answer: Answer) -> Iterator[str]:
    asked = "offset" if answer.pocket is None else "taper"
    yield (
        f"  valid for a first tuning-up: strings once 5 % above pitch and back change the {asked} by"
        f" {answer.overshoot_change_deg:+z.3f} deg"
    )


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

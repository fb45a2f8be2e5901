"""Where a neck flexes, as text for a terminal."""

from cases.studies.flex import Flex


def flex_text(found: Flex) -> str:
    """Contribution of each part to nut rise [mm] and heel stretch [deg], largest first."""
    budget = found.answer.budget
    lines = [f"{found.answer.case}: nut rises {budget.nut_rise_mm:.2f} mm, heel stretches "
             f"{budget.heel_stretch_deg:+z.3f} deg; by part:"]  # fmt: skip
    for part, rise, stretch in found.table().rows:
        lines.append(f"  {part:28}{rise:>+z9.3f} mm {stretch:>+z9.3f} deg")
    return "\n".join(lines)

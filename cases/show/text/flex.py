"""Where a neck flexes, as text for a terminal."""

from cases.studies.flex import Flex


def flex_text(found: Flex) -> str:
    """Contribution of each part to nut rise [mm] and heel stretch [deg], largest first."""
    budget = found.answer.budget
    rise, stretch = budget.nut_rise_shares_mm, budget.heel_stretch_shares_deg
    lines = [f"{found.answer.case}: nut rises {budget.nut_rise_mm:.2f} mm, heel stretches "
             f"{budget.heel_stretch_deg:+z.3f} deg; by part:"]  # fmt: skip
    for part in sorted(rise, key=lambda name: -abs(rise[name])):
        lines.append(f"  {part:28}{rise[part]:>+z9.3f} mm {stretch[part]:>+z9.3f} deg")
    return "\n".join(lines)

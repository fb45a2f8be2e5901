"""Where a neck flexes, as text for a terminal."""

from cases.show.style import signed
from cases.studies.flex import Flex


def flex_text(found: Flex) -> str:
    """Contribution of each part to nut rise [mm] and heel stretch [deg], largest first."""
    budget = found.answer.budget
    lines = [f"{found.answer.case}: nut rises {budget.nut_rise_mm:.2f} mm, heel stretches "
             f"{signed(budget.heel_stretch_deg, 3)} deg; by part:"]  # fmt: skip
    for part, rise, stretch in found.table().rows:
        lines.append(f"  {part:28}{signed(rise, 3):>9} mm {signed(stretch, 3):>9} deg")
    return "\n".join(lines)

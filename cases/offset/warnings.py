"""Warnings in words: what in an answer should make its reader stop."""

from collections.abc import Iterator, Sequence

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.build import string_lines
from materials.strings import overstressed

CAUTIONS = (
    "Wear eye protection; slacken all strings before you undo a neck bolt.",
    "Turn the rod in small steps and never force it; its maker's limit goes before any figure here.",
    "Do not over-tighten bolts in wood; when in doubt ask someone qualified.",
)

LEAST_MM = 1e-3
"""Relief that a slack rod may miss without a word [mm]."""


def warnings_of(case: Case, answer: Answer, *, extra: Sequence[str] = ()) -> tuple[str, ...]:
    """Warnings of an answer, most serious first."""
    found = list(extra)
    found.extend(overstressed([line.tension for line in string_lines(case)]))
    found.extend(_of_the_rod(case, answer))
    for contact in answer.contact:
        if contact.peak_pressure_mpa > contact.strength_mpa:
            found.append(
                f"The {contact.name} shim presses with {contact.peak_pressure_mpa:.1f} MPa at its edge, "
                f"over the wood's "
                f"{contact.strength_mpa:.1f} MPa across the grain: expect it to bed in, and check the fit "
                f"again after some weeks."
            )
    for bolt in answer.bolts:
        if bolt.torque_n_m > bolt.torque_high_n_m:
            found.append(
                f"Bolt {bolt.name}: {bolt.torque_n_m:.1f} N m is more than the {bolt.torque_high_n_m:.1f} N "
                f"m that the wood bears "
                "under its washer for years. Use a wider washer or less torque."
            )
        if bolt.strung_n <= 0.0:
            found.append(
                f"Bolt {bolt.name} is without tension at pitch. Tighten it, or the joint will work loose."
            )
    band = answer.preload_offset_friction_band_deg
    low, high = band or (answer.pocket.taper_friction_band_deg if answer.pocket else (0.0, 0.0))
    if high - low > 0.08:
        found.append(
            f"Friction in the joint decides much: the {'taper' if band is None else 'offset'} runs from "
            f"{low:.2f} to {high:.2f} deg over its band. "
            "Measure the kink before and after string-up on one guitar."
        )
    if answer.checks.mesh_error_deg > max(0.01 * abs(_angle(answer)), 0.004):
        found.append(
            f"The two meshes differ by {answer.checks.mesh_error_deg:.3f} deg: an unusual outline; take the "
            f"angle as rough."
        )
    if case.body.stiffness_n_m_per_rad is None and case.body.straightedge_drop_mm is None:
        found.append(
            "The body is taken as rigid: the neck's pitch, the action and with them the taper depend on it."
            if answer.pocket
            else "The body is taken as rigid: the offset does not depend on it, the neck's pitch and the "
            "action do."
        )
    return tuple(found)


def _of_the_rod(case: Case, answer: Answer) -> Iterator[str]:
    """What the rod cannot do, does the wrong way, or does beyond its limit."""
    rod, relief = answer.rod, answer.relief
    if rod.kind == "none" and abs(relief.set_mm - case.targets.relief_mm) > 0.05:
        yield (f"There is no rod: the relief is {relief.set_mm:.2f} mm, not {case.targets.relief_mm:.2f} mm.")
    over = relief.rod_slack_mm - relief.target_mm
    missed = rod.kind == "one-way" and abs(over) > LEAST_MM
    if missed and (over > 0.0) != (rod.tension_n != 0.0):
        yield (
            "Tightened, this rod bows the neck forward: it lies above the middle of the neck's stiffness. "
            f"With it slack the relief is {relief.rod_slack_mm:.2f} mm; {relief.target_mm:.2f} mm is wanted. "
            "Lay it deeper (rod.depth_ends_mm, rod.depth_middle_mm)."
        )
    elif missed and rod.tension_n == 0.0:
        yield (
            f"Even with the rod slack the relief is only {relief.rod_slack_mm:.2f} mm, below the "
            f"{relief.target_mm:.2f} mm wanted; a one-way rod cannot bow the neck forward."
        )
    if (
        rod.torque_band_n_m is not None
        and rod.limit_torque_n_m is not None
        and rod.torque_band_n_m[1] > rod.limit_torque_n_m
    ):
        yield (
            f"The rod may need up to {rod.torque_band_n_m[1]:.1f} N m, more than its working limit "
            f"{rod.limit_torque_n_m:.1f} N m. "
            "Do not force it: string lighter, allow more relief, lay it deeper, or use a stiffer neck."
        )


def _angle(answer: Answer) -> float:
    return answer.pocket.taper_deg if answer.pocket else answer.offset_deg

"""Warnings of an answer, in words."""

from collections.abc import Iterator, Sequence

from cases.casefile.case import Case
from cases.offset.answer import Answer, ContactAnswer
from cases.offset.solve import Solved
from materials.strings import overstressed

CAUTIONS = (
    "Wear eye protection; slacken all strings before you undo a neck bolt.",
    "Turn the rod in small steps and never force it; its maker's limit goes before any figure here.",
    "Do not over-tighten bolts in wood; when in doubt ask someone qualified.",
)

OFFSET_WITHOUT_BODY = (
    "The body is assumed rigid. The neck angle and the action depend on it, the offset does not."
)
"""The one warning that leaves the offset as it is."""

SLACK_N = 100.0
"""Total tension below which the strings count as slack [N]: a choice; usual sets have 350 N and more."""

RELIEF_TOLERANCE_MM = 1e-3
"""Relief that a slack rod may miss without a warning [mm]."""


def warnings_of(solved: Solved, answer: Answer, *, extra: Sequence[str] = ()) -> tuple[str, ...]:
    """Warnings of an answer, most serious first; ``extra`` come before the others."""
    return (
        *answer.unusual,
        *_of_the_strings(answer),
        *extra,
        *overstressed([line.tension for line in solved.lines]),
        *_of_the_rod(solved.case, answer),
        *_of_the_joint(answer),
        *_of_the_model(solved.case, answer),
    )


def _of_the_strings(answer: Answer) -> Iterator[str]:
    """Warning if there is next to no string tension."""
    total = answer.strings.total_tension_n
    if total < SLACK_N:
        name = "taper" if answer.pocket else "offset"
        yield (
            f"The strings pull with {total:.0f} N in all, next to nothing: the {name} then only corrects the "
            "kink that bolting up leaves. Check strings.set, gauges and tuning."
        )


def _of_the_rod(case: Case, answer: Answer) -> Iterator[str]:
    """Warnings if the rod cannot reach the relief, works the wrong way, or may exceed its limit."""
    rod, relief = answer.rod, answer.relief
    if rod.kind == "none" and abs(relief.set_mm - case.targets.relief_mm) > 0.05:
        yield f"There is no rod: the relief is {relief.set_mm:.2f} mm, not {case.targets.relief_mm:.2f} mm."
    over = relief.rod_slack_mm - relief.target_mm
    missed = rod.kind == "one-way" and abs(over) > RELIEF_TOLERANCE_MM
    if missed and (over > 0.0) != (rod.tension_n != 0.0):
        yield (
            "Tightened, this rod bows the neck forward, because it lies above the neck's neutral axis. With "
            f"the rod slack the relief is {relief.rod_slack_mm:.2f} mm, the target {relief.target_mm:.2f} "
            "mm. Lay it deeper (rod.depth_ends_mm, rod.depth_middle_mm)."
        )
    elif missed and rod.tension_n == 0.0:
        yield (
            f"Even with the rod slack the relief is only {relief.rod_slack_mm:.2f} mm, below the target of "
            f"{relief.target_mm:.2f} mm; a one-way rod cannot bow the neck forward."
        )
    band, limit = rod.torque_band_n_m, rod.limit_torque_n_m
    if band is not None and limit is not None and band[1] > limit:
        yield (
            f"The rod may need up to {band[1]:.1f} N m, more than its working limit of {limit:.1f} N m. "
            "Do not force it: use lighter strings or a stiffer neck, more relief, or a deeper rod."
        )


def _of_the_joint(answer: Answer) -> Iterator[str]:
    """Warnings of pressure, bolts and friction."""
    name, band = "offset", answer.preload_offset_friction_band_deg
    if answer.pocket:
        name, band = "taper", answer.pocket.taper_friction_band_deg
    for contact in answer.contact:
        if contact.peak_pressure_mpa > contact.strength_mpa:
            yield (
                f"The pressure at the edge of the {contact.name} shim, {contact.peak_pressure_mpa:.1f} MPa, "
                f"exceeds the wood's strength across the grain, {contact.strength_mpa:.1f} MPa. "
                f"{_crushed(contact, name, answer.crushing_change_deg)} Check the fit again after some weeks."
            )
    for bolt in answer.bolts:
        if bolt.strung_n <= 0.0:
            yield f"Bolt {bolt.name} has no tension at pitch. Tighten it, or the joint will work loose."
    if band and band[1] - band[0] > 0.08:
        yield (
            f"The {name} depends strongly on friction in the joint: {band[0]:.2f} to {band[1]:.2f} deg over "
            "the friction band. Measure the kink on one guitar bolted up and at pitch; once slackened, it "
            "comes back only in part."
        )


def _crushed(contact: ContactAnswer, name: str, change_deg: float | None) -> str:
    """What follows at one shim if the wood bears no more than its strength."""
    if contact.crushed_mm is None or change_deg is None:
        return "If it bears no more, the joint finds no rest: use wider shims or less bolt torque."
    return (
        f"If it bears no more, the edge is crushed by {contact.crushed_mm:.3f} mm, and the {name} changes by "
        f"{change_deg:+.3f} deg."
    )


def _of_the_model(case: Case, answer: Answer) -> Iterator[str]:
    """Warnings of mesh error and rigid body."""
    angle = answer.pocket.taper_deg if answer.pocket else answer.offset_deg
    if answer.checks.mesh_error_deg > max(0.01 * abs(angle), 0.004):
        yield (
            f"The two meshes differ by {answer.checks.mesh_error_deg:.3f} deg (unusual outline): "
            "the angle is approximate."
        )
    if case.body.stiffness_n_m_per_rad is None and case.body.straightedge_drop_mm is None:
        yield (
            "The body is assumed rigid. The neck angle and the action depend on it, and with them the taper."
            if answer.pocket
            else OFFSET_WITHOUT_BODY
        )

"""The bench's answers as HTML; every text is escaped here."""

from collections.abc import Sequence

from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.choose_pair import PairChoice, PairForecast
from cases.bench.shims.swap import Swap
from cases.page.answer_html import listed, table


def pair_html(pair: PairForecast, *, reading_mm: float) -> str:
    """The pair to fit, in type to be read from across the bench."""
    shims = "".join(
        f'<li><span class="eyebrow">{name} shim</span><b>{angle:.2f}°</b></li>'
        for name, angle in (("upper", pair.upper_deg), ("lower", pair.lower_deg))
    )
    return (
        f'<ul class="pair-out" id="pair">{shims}</ul>'
        f"<p>Reading {reading_mm:.2f} mm. Expect action {pair.action_bass_mm:.2f} / "
        f"{pair.action_treble_mm:.2f} mm (bass / treble), tongue gap {pair.tongue_gap_mm:+z.2f} mm; "
        f"saddle for the target action: {pair.saddle_needed_mm:.1f} mm above the bridge.</p>"
    )


def aim_html(aim: PairChoice) -> str:
    """Chance that the pair is right, its neighbours, warnings."""
    chance = aim.pair.chance
    sure = "" if chance is None else f"<p>Right first time in about {10 * chance:.0f} of 10 cases.</p>"
    rows = [
        (f"{one.upper_deg:.2f} / {one.lower_deg:.2f}",
         f"{one.action_bass_mm:.2f}", f"{one.action_treble_mm:.2f}",
         f"{one.tongue_gap_mm:+z.2f}", f"{one.saddle_needed_mm:.1f}")
        for one in (aim.pair, *aim.beside)
    ]  # fmt: skip
    beside = table(
        ("upper / lower °", "bass mm", "treble mm", "gap mm", "saddle mm"),
        rows,
        caption="This pair and its neighbours",
    )
    return sure + beside + listed(aim.warnings, look="warnings")


def swap_html(found: Swap) -> str:
    """Causes of the change, and the next step."""
    parts = found.parts
    rows = [
        ("rod", parts.rod),
        ("saddle", parts.saddle),
        ("joint", parts.joint),
        ("remainder: body and top", parts.rest),
    ]
    moved = table(
        ("part of the action", "mm"),
        (
            ("measured minus expected", f"{parts.total:+z.2f}"),
            *((name, f"{value:+z.2f}") for name, value in rows if value is not None),
        ),
        caption="What moved",
    )
    head = "Keep the pair." if found.keep else (
        f"Swap to upper {found.new.upper_deg:.2f}°, lower {found.new.lower_deg:.2f}°."
    )  # fmt: skip
    steps = listed(found.steps, tag="ol", look="steps")
    return f"<h3>{head}</h3>{steps}{moved}{listed(found.warnings, look='warnings')}"


def fits_html(fits: Sequence[Fit]) -> str:
    """All fits of a guitar, what was measured on each."""
    if not fits:
        return '<p class="quiet">This serial is not in the log yet.</p>'
    rows = []
    for fit in fits:
        measured = "; ".join(
            f"{one.kind.replace('_', ' ')} {one.value:g} {one.unit} ({one.state})" for one in fit.measurements
        )
        rows.append(
            (str(fit.attempt), f"{fit.started_utc:%Y-%m-%d %H:%M}", fit.reason, f"{fit.upper_deg:.2f}",
             f"{fit.lower_deg:.2f}", measured or "nothing yet")
        )  # fmt: skip
    return table(
        ("attempt", "UTC", "reason", "upper °", "lower °", "measured"),
        rows,
        caption=f"Fits of {fits[0].serial}",
        look="left",
    )

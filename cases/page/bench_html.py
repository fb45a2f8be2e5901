"""The bench's answers as HTML; every text is escaped here."""

from collections.abc import Sequence
from html import escape

from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.case_of_guitar import squares_of
from cases.bench.shims.choose_pair import PairChoice, PairForecast
from cases.bench.shims.dry_check import DryCheck, DryPair
from cases.bench.shims.dry_log import ADVISED
from cases.bench.shims.label import QUIET_ZONE, code_of, fit_label
from cases.bench.shims.lengths import length, shim_angle
from cases.bench.shims.swap import Swap
from cases.casefile.case import Case
from cases.offset.calibration import Calibration
from cases.offset.shim_ends import thick_end, way_round
from cases.offset.warnings import CAUTIONS
from cases.page.answer_html import listed, table
from cases.show.text.dry import verdict
from cases.studies.season import Season


def short_pair(pair: PairForecast | DryPair) -> str:
    """Both angles, upper first, as on a button."""
    return f"{shim_angle(pair.upper_deg)} / {shim_angle(pair.lower_deg)}"


def named_pair(pair: PairForecast | Fit) -> str:
    """Both angles in words.

    >>> from types import SimpleNamespace
    >>> named_pair(SimpleNamespace(upper_deg=0.04, lower_deg=-0.12))
    'upper 0.04, lower -0.12'
    """
    return f"upper {shim_angle(pair.upper_deg)}, lower {shim_angle(pair.lower_deg)}"


def pair_html(pair: PairForecast, *, serial: str, reading_mm: float, inch: bool = False) -> str:
    """The pair to fit, in type to be read from across the bench."""
    shims = "".join(
        f'<li><span class="eyebrow">{name} shim</span><b>{shim_angle(angle)}°</b>{_end(name, angle)}</li>'
        for name, angle in (("upper", pair.upper_deg), ("lower", pair.lower_deg))
    )
    action = f"{length(pair.action_bass_mm, inch=inch)} / {length(pair.action_treble_mm, inch=inch)}"
    return (
        f'<ul class="pair-out" id="pair" aria-label="Pair for {escape(serial)}">{shims}</ul>'
        f"<p>For <b>{escape(serial)}</b>, reading {length(reading_mm, inch=inch)}. Expected: action {action} "
        f"(bass / treble), tongue gap {length(pair.tongue_gap_mm, inch=inch, signed=True)}; saddle for the "
        f"wanted action: {length(pair.saddle_needed_mm, inch=inch)} over the bridge.</p>"
    )


def _end(name: str, angle_deg: float) -> str:
    """Which end of a shim is thick, below its angle."""
    end = thick_end(name, angle_deg)
    return f"<span>thick end towards the {end}</span>" if end else "<span>not tapered</span>"


def chance_text(pair: PairForecast) -> str:
    """How often such a pair is right, in words; empty where the body is unknown."""
    return "" if pair.chance is None else f"Right first time in about {10 * pair.chance:.0f} of 10 cases."


def whole_html(whole: PairChoice, *, inch: bool = False) -> str:
    """Chance that the pair is right, its neighbours, warnings."""
    rows = [
        (short_pair(one),
         f"{length(one.action_bass_mm, inch=inch)} / {length(one.action_treble_mm, inch=inch)}",
         length(one.tongue_gap_mm, inch=inch, signed=True),
         "-" if one.chance is None else f"{100 * one.chance:.0f} %")
        for one in (whole.pair, *whole.beside)
    ]  # fmt: skip
    beside = table(
        ("upper / lower deg", "action", "gap", "right"),
        rows,
        caption="This pair and its neighbours",
        look="left",
    )
    return f"<p>{chance_text(whole.pair)}</p>{beside}" + listed(whole.warnings, look="warnings")


def label_html(fit: Fit) -> str:
    """The label of a fit, at its size when printed: the serial as code and text, the pair, the date."""
    label = fit_label(fit)
    code = code_of(label.serial).svg_inline(border=QUIET_ZONE, omitsize=True)
    lines = "".join(f"<span>{escape(line)}</span>" for line in label.lines)
    code = code.replace("<svg ", f'<svg role="img" aria-label="Code of {escape(label.serial)}" ', 1)
    size = ' class="long"' if len(label.serial) > 14 else ""
    return f'<div class="label">{code}<p><b{size}>{escape(label.serial)}</b>{lines}</p></div>'


def bolting_html(case: Case) -> str:
    """What to tighten each bolt to, and the cautions of bolting."""
    bolts = [
        (
            bolt.name,
            f"{bolt.torque_n_m:.2f} N·m" if bolt.torque_n_m is not None else f"{bolt.tension_n:.0f} N",
        )
        for bolt in case.bolts
    ]
    words = "; ".join(f"{escape(name)} {value}" for name, value in bolts)
    return f"<p>Fit both shims and tighten: {words}.</p>{listed(CAUTIONS[2:], look='warnings')}"


def string_up_html(case: Case, *, inch: bool = False) -> str:
    """What to set while the strings go on, and the cautions."""
    relief = length(case.targets.relief_mm, inch=inch)
    saddle = length(case.bridge.saddle_projection_mm, inch=inch)
    return (
        f"<p>Saddle at {saddle} over the bridge. String up to pitch, then set the rod to {relief} relief.</p>"
        f"{listed(CAUTIONS[:2], look='warnings')}"
    )


def dry_html(check: DryCheck, *, inch: bool = False) -> str:
    """The advice before the strings go on, with the chance of either pair."""
    several = f", mean of {check.count}" if check.count > 1 else ""
    said = (
        f'<p class="verdict">{escape(verdict(check))}.</p>'
        f"<p>Kink read {check.kink_deg:+.3f} ± {check.error_deg:.3f} deg{several}; expected "
        f"{check.expected_deg:+.3f} ± {check.expected_error_deg:.3f}.</p>"
    ) + listed(check.warnings, look="warnings")
    if check.odd:
        return said
    rows = [
        (short_pair(one), length(one.action_off_mm, inch=inch, signed=True),
         length(one.gap_off_mm, inch=inch, signed=True), f"{100 * one.chance:.0f} %")
        for one in (check.stay, check.change) if one is not None
    ]  # fmt: skip
    head = ("upper / lower deg", "action off", "gap off", "right")
    change = check.change
    what = "" if change is None else f"<p>In goes: {way_round(change.upper_deg, change.lower_deg)}.</p>"
    return said + what + table(head, rows, caption="Expected at pitch", look="left")


def swap_verdict(found: Swap, *, serial: str) -> str:
    """Whether the pair stays, in one sentence."""
    return f"{serial}: {'keep the pair' if found.keep else f'swap to {named_pair(found.new)}'}."


def swap_html(found: Swap, *, serial: str, inch: bool = False) -> str:
    """The verdict in large type, the next steps, the causes of the change."""
    parts = found.parts
    rows = [
        ("rod", parts.rod),
        ("saddle", parts.saddle),
        ("joint", parts.joint),
        ("remainder: body and top", parts.rest),
    ]
    moved = table(
        ("part of the action", "size"),
        (
            ("measured minus expected", length(parts.total, inch=inch, signed=True)),
            *((name, length(one, inch=inch, signed=True)) for name, one in rows if one is not None),
        ),
        caption="What moved",
    )
    steps = listed(found.steps, tag="ol", look="steps")
    return (
        f'<p class="verdict">{escape(swap_verdict(found, serial=serial))}</p>{steps}'
        f"{listed(found.warnings, look='warnings')}{moved}"
    )


def calibration_text(calibration: Calibration | None) -> str:
    """The calibration in use, in words."""
    if calibration is None:
        return "no calibration in use"
    return f"calibration {calibration.id} of {calibration.created:%Y-%m-%d}"


def summaries(fit: Fit | None, *, inch: bool = False) -> dict[str, str]:
    """What the log has of each step of a guitar's last fit, in a few words."""
    if fit is None:
        return {}
    found = {"pair": f"{named_pair(fit)} deg: logged for {fit.serial}, attempt {fit.attempt} ({fit.reason})"}
    bare = [one.value for one in fit.measurements if one.kind == "reading" and one.unit == "mm"]
    if bare:
        squares = squares_of(fit)
        gaps = [f"{gap:+.2f}" for gap in (squares.pocket, squares.heel) if gap is not None]
        under = f", squares {' and '.join(gaps)} mm" if gaps else ""
        found["read"] = f"reading {length(sum(bare) / len(bare), inch=inch)}{under}"
    kinks = [one.value for one in fit.measurements if (one.kind, one.state) == ("kink", "bolted")]
    if kinks:
        found["dry"] = f"kink bolted up {sum(kinks) / len(kinks):+.3f} deg"
    strung = [one for one in fit.measurements if one.state == "strung" and one.kind not in ADVISED]
    if strung:
        found["measure"] = "; ".join(
            f"{one.kind.replace('_', ' ')} {one.value:g} {one.unit}" for one in strung
        )
    return found


def year_html(year: Season, *, inch: bool = False) -> str:
    """Relief, action and kink at the dry and the damp end of a year."""
    rows = []
    for one in year.courses:
        ends = [
            f"{length(one.relief_mm[k], inch=inch)} / {length(one.action_mm[k], inch=inch)} / "
            f"{one.kink_deg[k]:+.3f}°"
            for k in (0, -1)
        ]
        rows.append((one.name, *ends))
    value = year.courses[0].value
    head = ("woods", f"at {value[0]:g} %", f"at {value[-1]:g} %")
    caption = f"Relief / mean action / kink, set up at {year.set_up_at:g} %, bolts kept tight"
    return table(head, rows, caption=caption, look="left")


def fits_html(fits: Sequence[Fit]) -> str:
    """All fits of a guitar, what was measured on each."""
    if not fits:
        return '<p class="quiet">This serial is not in the log yet.</p>'
    items = []
    for fit in fits:
        measured = "; ".join(
            f"{one.kind.replace('_', ' ')} {one.value:g} {one.unit} ({one.state})" for one in fit.measurements
        )
        around = [
            f"{name} {value}" for name, value in (("bench", fit.bench), ("batch", fit.wood_batch)) if value
        ]
        when = f"{fit.started_utc:%Y-%m-%d %H:%M} UTC"
        head = "; ".join([f"{fit.reason}, {when}", *around])
        said = escape(measured or "nothing measured yet")
        items.append(f"<li><b>{named_pair(fit)}</b> ({escape(head)}): {said}</li>")
    return f'<p>Attempts on {escape(fits[0].serial)}:</p><ol class="fits">{"".join(items)}</ol>'

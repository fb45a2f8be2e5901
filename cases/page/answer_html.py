"""The answer as HTML: figures, pairs, warnings, checks and assumptions; every text is escaped here."""

from collections.abc import Callable, Iterable, Sequence
from html import escape

from cases.offset.answer import Answer
from cases.offset.preload import nearest_pair
from cases.offset.warnings import CAUTIONS, OFFSET_WITHOUT_BODY
from cases.page.live import LiveState, Worked
from cases.show.sheet.content import bolts_table
from cases.show.text.answer import (
    MEASUREMENTS,
    NO_MEASUREMENT,
    bands_text,
    calibrated_text,
    head_text,
    how_text,
    rod_text,
    stretch_text,
    tension_text,
)
from cases.show.text.answer_details import edges_text
from cases.studies.uncertainty import would_narrow
from materials.counted import counted


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    caption: str,
    look: str = "",
    marked: int | None = None,
) -> str:
    """A table with a row of column headings; the first cell of each row heads it, one row may be marked."""
    top = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    mark = ' class="mark"'
    body = "".join(
        f"<tr{mark if number == marked else ''}>"
        f'<th scope="row">{escape(row[0])}</th>'
        + "".join(f"<td>{escape(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for number, row in enumerate(rows)
    )
    return (
        f'<div class="scroll {look}" tabindex="0" role="region" aria-label="{escape(caption)}">'
        f'<table class="{look}"><caption>{escape(caption)}</caption>'
        f"<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def listed(texts: Iterable[str], *, tag: str = "ul", look: str = "") -> str:
    """Texts as an HTML list; empty without any."""
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f'<{tag} class="{look}">{items}</{tag}>' if items else ""


def key_html(first: str, second: str) -> str:
    """The key to both lines of a chart."""
    return (
        f'<p class="quiet"><span class="key"></span>{first} '
        f'<span class="key b" style="margin-left:14px"></span>{second}</p>'
    )


def asked_for(answer: Answer) -> tuple[str, float, str]:
    """Name, value [deg] and meaning of the angle to be found for this kind of joint."""
    if answer.preload_offset_deg is not None:
        return "Preload offset", answer.preload_offset_deg, "lower minus upper shim"
    return "Shim taper", answer.upper_deg, "positive: thick end at the nut"


def headline_html(worked: Worked | None, *, about_deg: float | None, stale: bool) -> str:
    """What it is, the angle in the largest type with its bands, and the shims of its pair."""
    if worked is None:
        return '<p class="figure">…</p><p class="quiet">Calculating the first answer.</p>'
    answer = worked.answer
    name, value, meaning = asked_for(answer)
    if about_deg is None:
        look, figure = "stale" if stale else "", f"{value:+z.2f}°"
        rest = f"<p>{escape(bands_text(answer).replace(' deg', '°'))}</p>{_chosen(answer)}"
    else:
        look, figure, rest = "about", f"{about_deg:+z.2f}°", ""
        meaning += "; a preview, the full answer follows"
    about = "<small>about</small> " if look == "about" else ""
    return (
        f'<p class="quiet">{escape(f"{head_text(answer)}; strings {tension_text(answer)}")}</p>'
        f'<h2 class="eyebrow">{name}</h2><p class="figure {look}">{about}<b id="offset">{figure}</b></p>'
        f'<p class="quiet">{meaning}</p>{rest}'
    )


def _chosen(answer: Answer) -> str:
    """The shims of the nearest pair in stock, and what chooses among the pairs."""
    cells = "".join(
        f'<li><span class="eyebrow">{escape(shim.name)} shim</span><b>{shim.angle_deg:.2f}°</b>'
        f'<span class="quiet">{escape(edges_text(shim))}</span></li>'
        for shim in answer.shims
    )
    taper = answer.pocket is not None and answer.pocket.taper_on_stock_deg is not None
    where = "from stock" if answer.pairs or taper else "exact angles: stock has no pair"
    left = ""
    if answer.residual_tongue_gap_mm is not None:
        left = f"; leaves a tongue gap of {answer.residual_tongue_gap_mm:+z.2f} mm at pitch"
    elif answer.pocket is not None and answer.pocket.action_error_mm is not None:
        left = f"; action {answer.pocket.action_error_mm:+z.2f} mm off until the saddle is set"
    choice = ""
    if answer.pairs:
        choice = (
            '<p class="quiet">The reading of the bare pocket chooses among '
            f"{counted(len(answer.pairs), 'pair')}: see Bench, or the command "
            "<code>neckpreload pair</code>.</p>"
        )
    return f'<ul class="chosen">{cells}</ul><p class="quiet">{where}{left}</p>{choice}'


def pairs_html(answer: Answer) -> str:
    """Every pair in stock; the one nearest to the upper angle aimed at is marked."""
    if not answer.pairs:
        return ""
    return "<h2>Pairs in stock</h2>" + table(
        ("upper °", "lower °", "gap mm"),
        (
            (f"{one.upper_deg:.2f}", f"{one.lower_deg:.2f}", f"{one.residual_tongue_gap_mm:+z.3f}")
            for one in answer.pairs
        ),
        caption="The pocket reading selects the row",
        look="pairs",
        marked=answer.pairs.index(nearest_pair(answer.pairs, upper_deg=answer.upper_deg)),
    )


def figures_html(answer: Answer) -> str:
    """What to set, what the strings do to the joint, what to measure first."""
    relief = answer.relief
    rod, _, rod_more = rod_text(answer).partition(", ")
    rows = [
        ("Relief", f"{relief.set_mm:.2f} mm", f"{relief.rod_slack_mm:.2f} mm with the rod slack"),
        ("Rod", rod, rod_more),
        ("Heel stretch", f"{answer.heel_stretch_deg:+z.2f}°", stretch_text(answer)),
    ]
    if answer.anchored_offset_deg is not None:
        anchored = f"{answer.anchored_offset_deg:+z.2f}°"
        rows.insert(0, ("Anchored", anchored, "your own number plus the calculated difference"))
    rows += [
        ("Measure next" if number else "Measure first", f"±{one.worth_deg:.2f}°", how_text(one))
        for number, one in enumerate(would_narrow(answer)[:MEASUREMENTS])
    ]
    return f'<dl class="figures">{_terms(rows)}</dl>'


def _terms(rows: Iterable[tuple[str, str, str]]) -> str:
    return "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(value)}"
        + (f'<span class="quiet">{escape(more)}</span>' if more else "")
        + "</dd></div>"
        for name, value, more in rows
    )


def warnings_html(answer: Answer) -> str:
    """Warnings that change the answer, whether it is calibrated, cautions; then the rest, folded."""
    strong = [text for text in answer.warnings if text != OFFSET_WITHOUT_BODY]
    calm = [text for text in answer.warnings if text not in strong]
    calm += [*(f"Borrowed data: {text}" for text in answer.standins), f"{NO_MEASUREMENT}."]
    return (
        f"<h2>Before you cut</h2>{listed(strong, look='warnings')}"
        f"<p>{escape(calibrated_text(answer))}</p>{listed(CAUTIONS, look='warnings calm')}"
        f"<details><summary>Borrowed and missing data ({len(calm)})</summary>"
        f"{listed(calm, look='warnings calm')}</details>"
    )


def joint_html(answer: Answer) -> str:
    """Bolts and shims at pitch."""
    bolts = bolts_table(answer)
    note = f'<p class="quiet">{escape(bolts.note)}</p>' if bolts.note else ""
    contact = table(
        ("shim", "in contact %", "slipping %", "peak MPa", "wood MPa"),
        (
            (one.name, f"{100 * one.closed_fraction:.0f}", f"{100 * one.slipping_fraction:.0f}",
             f"{one.peak_pressure_mpa:.1f}", f"{one.strength_mpa:.1f}")
            for one in answer.contact
        ),
        caption="Shim contact at pitch",
    )  # fmt: skip
    return table(bolts.head, bolts.rows, caption=bolts.title) + note + contact


def checks_html(answer: Answer) -> str:
    """The checks of the run."""
    checks = answer.checks
    return table(
        ("check", "value"),
        (
            ("residual", f"{checks.residual:.0e}"),
            ("force balance", f"{checks.force_balance:.0e}"),
            ("moment balance", f"{checks.moment_balance:.0e}"),
            ("energy balance", f"{checks.energy_balance:.0e}"),
            ("sum of the flex budget", f"{checks.budget_closure:.0e}"),
            ("difference of two meshes", f"{checks.mesh_error_deg:.4f}°"),
        ),
        caption="Checks of this run",
    )


def assumed_html(assumed: Sequence[tuple[str, object, str]]) -> str:
    """Inputs not given in the case."""
    rows = (
        (key, f"{value:g}" if isinstance(value, float) else str(value), source)
        for key, value, source in assumed
    )
    return table(("input", "value", "source"), rows, caption="Assumed inputs, not given in the case")


def readout_html(state: LiveState) -> str:
    """The state under the sliders."""
    cells = [
        ("kink", f"{state.kink_deg:+z.3f}°", ""),
        ("tongue gap", f"{state.tongue_gap_mm:+z.2f} mm", ""),
        ("relief", f"{state.relief_mm:+z.2f} mm", ""),
        ("action", "strings off" if state.action_mm is None else f"{state.action_mm:.2f} mm", ""),
        ("nut rises", f"{state.nut_rise_mm:+z.2f} mm", ""),
        ("bolts", " ".join(f"{one:.0f}" for one in state.bolt_n) + " N", ""),
    ]
    if state.offset_deg is not None and not state.knobs.as_case:
        cells.append(("offset here", f"about {state.offset_deg:+z.2f}°", ""))
    return f'<dl class="readout">{_terms(cells)}</dl>'


def problems_html(problems: Sequence[str]) -> str:
    """Error messages, a sentence each."""
    if not problems:
        return ""
    plural = "s" if len(problems) > 1 else ""
    return f'<div class="problems" role="alert"><p>{len(problems)} error{plural}:</p>{listed(problems)}</div>'


def compare_html(first: Answer, second: Answer) -> str:
    """Two answers side by side, and the change from the first to the second."""
    rows = []
    for name, unit, digits, read in COMPARED:
        one, two = read(first), read(second)
        if one is two is None:
            continue
        form = "+" if unit == "deg" else ""
        cells = ["none" if value is None else f"{value:{form}.{digits}f}" for value in (one, two)]
        change = f"{two - one:+z.{digits}f}" if one is not None and two is not None else ""
        rows.append((f"{name} [{unit}]", *cells, change))
    names = (f"{letter}: {one.case}, {one.strings.set}" for letter, one in (("A", first), ("B", second)))
    head = ("", *names, "B minus A")
    return table(head, rows, caption="Two instruments", look="compare")


Reading = Callable[[Answer], float | None]
COMPARED: tuple[tuple[str, str, int, Reading], ...] = (
    ("preload offset", "deg", 2, lambda a: a.preload_offset_deg),
    ("shim taper", "deg", 2, lambda a: a.pocket.taper_deg if a.pocket else None),
    ("heel stretch", "deg", 2, lambda a: a.heel_stretch_deg),
    ("relief with the rod slack", "mm", 2, lambda a: a.relief.rod_slack_mm),
    ("nut rises", "mm", 2, lambda a: a.budget.nut_rise_mm),
    ("torque at the rod's nut", "N·m", 2, lambda a: a.rod.torque_n_m),
    ("shim transfer", "1", 2, lambda a: a.shim_transfer),
    ("string tension", "N", 0, lambda a: a.strings.total_tension_n),
    ("saddle above the glue line", "mm", 2, lambda a: a.saddle_height_mm),
)
"""Rows compared: name, unit, digits, value; a row without values is left out."""

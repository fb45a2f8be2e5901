"""The answer as HTML text: figures, pairs, warnings and what they rest on; every text is escaped here."""

from collections.abc import Callable, Iterable, Sequence
from html import escape

from cases.offset.answer import Answer, ShimAnswer
from cases.offset.preload import nearest_pair
from cases.offset.warnings import CAUTIONS
from cases.page.live import LiveState, Worked
from cases.show.style import signed
from cases.show.text.answer import rod_text

NO_MEASUREMENT = (
    "No published measurement of heel rotation under strings was found: calibrate on your own guitars."
)


def table(head: Sequence[str], rows: Iterable[Sequence[str]], *, caption: str, look: str = "") -> str:
    """A table with a row of heads; its first column heads the rows."""
    top = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    body = "".join(
        "<tr>"
        + f'<th scope="row">{escape(row[0])}</th>'
        + "".join(f"<td>{escape(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(caption)}">'
        f'<table class="{look}">'
        f"<caption>{escape(caption)}</caption><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def asked_for(answer: Answer) -> tuple[str, float, str]:
    """Name, value [deg] and meaning of the angle that the joint's kind asks for."""
    if answer.preload_offset_deg is not None:
        return "Preload offset", answer.preload_offset_deg, "lower minus upper shim"
    return "Shim taper", answer.upper_deg, "positive is thick towards the nut"


def headline_html(worked: Worked | None, *, about_deg: float | None, stale: bool) -> str:
    """The pair that goes in, in the largest type, and the angle it stands for."""
    if worked is None:
        return '<p class="figure">…</p><p class="quiet">Working out the first answer.</p>'
    answer = worked.answer
    name, value, meaning = asked_for(answer)
    if about_deg is not None:
        figure = (
            f'<p class="figure about"><small>about</small> <b id="offset">{signed(about_deg, 2)}°</b></p>'
        )
        meaning += "; a preview, the full answer follows"
        return f'<h2 class="eyebrow">{name}</h2>{figure}<p class="quiet">{meaning}</p>'
    figure = f'<p class="figure{" stale" if stale else ""}"><b id="offset">{signed(value, 3)}°</b></p>'
    return f'<h2 class="eyebrow">{name}</h2>{figure}<p class="quiet">{meaning}</p>{_chosen(answer)}'


def _chosen(answer: Answer) -> str:
    """The shims of the pair from stock that is nearest."""
    cells = "".join(
        f'<li><span class="eyebrow">{escape(shim.name)} shim</span><b>{shim.angle_deg:.2f}°</b>'
        f'<span class="quiet">{_edges(shim)}</span></li>'
        for shim in answer.shims
    )
    taper = answer.pocket is not None and answer.pocket.taper_on_stock_deg is not None
    where = "from stock" if answer.pairs or taper else "as found: stock has none"
    left = ""
    if answer.residual_tongue_gap_mm is not None:
        left = f"; leaves a tongue gap of {signed(answer.residual_tongue_gap_mm, 2)} mm at pitch"
    elif answer.pocket is not None and answer.pocket.action_error_mm is not None:
        left = (
            f"; leaves the action {signed(answer.pocket.action_error_mm, 2)} mm off until the saddle is set"
        )
    return f'<ul class="chosen">{cells}</ul><p class="quiet">{where}{left}</p>'


def _edges(shim: ShimAnswer) -> str:
    """How thick a shim is, and where."""
    if shim.thin_edge_mm == shim.thick_edge_mm:
        return f"{shim.thin_edge_mm:.2f} mm all over"
    return f"{shim.thin_edge_mm:.2f} to {shim.thick_edge_mm:.2f} mm, thick {escape(shim.thick_end)}"


def pairs_html(answer: Answer) -> str:
    """Every pair in stock; the one nearest to the upper angle aimed at is marked."""
    if not answer.pairs:
        return ""
    chosen = nearest_pair(answer.pairs, upper_deg=answer.upper_deg)
    cells = []
    for one in answer.pairs:
        mark = ' class="mark"' if one == chosen else ""
        cells.append(
            f"<tr{mark}><td>{one.upper_deg:.2f}</td><td>{one.lower_deg:.2f}</td>"
            f"<td>{signed(one.residual_tongue_gap_mm, 3)}</td></tr>"
        )
    return (
        '<div class="scroll pairs" tabindex="0" role="region" aria-label="Pairs in stock"><table>'
        "<caption>Pairs in stock; the reading of the pocket says which row</caption><thead><tr>"
        '<th scope="col">upper °</th><th scope="col">lower °</th><th scope="col">gap mm</th></tr></thead>'
        f"<tbody>{''.join(cells)}</tbody></table></div>"
    )


def figures_html(answer: Answer) -> str:
    """The other figures of the answer as a list of terms."""
    relief, band = answer.relief, answer.preload_offset_band_deg
    low, high = answer.heel_stretch_friction_band_deg
    rows = [
        ("Heel stretch", f"{signed(answer.heel_stretch_deg, 3)}°",
         f"{signed(low, 3)} to {signed(high, 3)} over the friction band"),
        ("Relief", f"{relief.set_mm:.2f} mm", f"{relief.rod_slack_mm:.2f} mm with the rod slack"),
        ("Rod", *_halves(rod_text(answer))),
        ("Action at fret 12", f"{answer.action_mm:.2f} mm", "mean of the strings"),
        ("Strings", f"{answer.strings.total_tension_n:.0f} N", " ".join(answer.strings.gauges)),
    ]  # fmt: skip
    if band is not None:
        rows.insert(
            0,
            ("90 % of necks", f"{signed(band[0], 2)} to {signed(band[1], 2)}°", "scatter of wood and set-up"),
        )
    if answer.anchored_offset_deg is not None:
        rows.insert(
            0,
            (
                "Anchored to your own",
                f"{signed(answer.anchored_offset_deg, 3)}°",
                "the shop's number plus the difference",
            ),
        )
    cells = "".join(
        f'<div><dt>{escape(name)}</dt><dd>{escape(value)}<span class="quiet">{escape(more)}</span></dd></div>'
        for name, value, more in rows
    )
    return f'<dl class="figures">{cells}</dl>'


def _halves(text: str) -> tuple[str, str]:
    first, _, rest = text.partition(", ")
    return first, rest


def warnings_html(answer: Answer) -> str:
    """Warnings, then the stand-ins and cautions that stand on every answer."""
    warned = "".join(f"<li>{escape(text)}</li>" for text in answer.warnings)
    first = f'<ul class="warnings">{warned}</ul>' if warned else ""
    calm = [*(f"Stand-in: {text}" for text in answer.standins), NO_MEASUREMENT]
    return (
        "<h2>Before you cut</h2>"
        + first
        + f'<ul class="warnings calm">{"".join(f"<li>{escape(text)}</li>" for text in CAUTIONS)}</ul>'
        + f"<details><summary>What stands in for measurements ({len(calm)})</summary>"
        + f'<ul class="warnings calm">{"".join(f"<li>{escape(text)}</li>" for text in calm)}</ul></details>'
    )


def joint_html(answer: Answer) -> str:
    """Bolts and shims at pitch."""
    bolts = table(
        ("bolt", "set N", "at pitch N", "torque N·m", "closes from N·m", "wood bears N·m"),
        (
            (one.name, f"{one.set_n:.0f}", f"{one.strung_n:.0f}", f"{one.torque_n_m:.2f}",
             "not closed" if one.torque_low_n_m is None else f"{one.torque_low_n_m:.2f}",
             f"{one.torque_high_n_m:.2f}")
            for one in answer.bolts
        ),
        caption="Bolts",
    )  # fmt: skip
    bearing = table(
        ("shim", "bears on %", "slips on %", "peak MPa", "wood MPa"),
        (
            (one.name, f"{100 * one.closed_fraction:.0f}", f"{100 * one.slipping_fraction:.0f}",
             f"{one.peak_pressure_mpa:.1f}", f"{one.strength_mpa:.1f}")
            for one in answer.contact
        ),
        caption="How the shims bear at pitch",
    )  # fmt: skip
    return bolts + bearing


def rests_html(answer: Answer) -> str:
    """What the answer rests on: proofs, and every key that was assumed."""
    checks = answer.checks
    proofs = table(
        ("proof", "value"),
        (
            ("residual", f"{checks.residual:.0e}"),
            ("forces in balance", f"{checks.force_balance:.0e}"),
            ("moments in balance", f"{checks.moment_balance:.0e}"),
            ("energy in balance", f"{checks.energy_balance:.0e}"),
            ("flex budget adds up", f"{checks.budget_closure:.0e}"),
            ("difference of two meshes", f"{checks.mesh_error_deg:.4f}°"),
        ),
        caption="The run proves itself",
    )
    return proofs


def assumed_html(assumed: Sequence[tuple[str, object, str]]) -> str:
    """Keys that the case leaves open."""
    rows = (
        (key, f"{value:g}" if isinstance(value, float) else str(value), source)
        for key, value, source in assumed
    )
    return table(("key", "value", "source"), rows, caption="Assumed, since the case does not give them")


def readout_html(state: LiveState) -> str:
    """What the sliders give, in figures that stand still while they change."""
    cells = [
        ("kink", f"{signed(state.kink_deg, 3)}°"),
        ("tongue gap", f"{signed(state.tongue_gap_mm, 2)} mm"),
        ("relief", f"{signed(state.relief_mm, 2)} mm"),
        ("action", "strings off" if state.action_mm is None else f"{state.action_mm:.2f} mm"),
        ("nut rises", f"{signed(state.nut_rise_mm, 2)} mm"),
        ("bolts", " ".join(f"{one:.0f}" for one in state.bolt_n) + " N"),
    ]
    if state.offset_deg is not None and not state.knobs.as_case:
        cells.append(("offset for this", f"about {signed(state.offset_deg, 2)}°"))
    return '<dl class="readout">' + "".join(
        f"<div><dt>{name}</dt><dd>{escape(value)}</dd></div>" for name, value in cells
    ) + "</dl>"  # fmt: skip


def problems_html(problems: Sequence[str]) -> str:
    """Everything wrong with the instrument, a sentence each, as the command says it."""
    if not problems:
        return ""
    items = "".join(f"<li>{escape(text)}</li>" for text in problems)
    return f'<div class="problems" role="alert"><p>{len(problems)} to put right:</p><ul>{items}</ul></div>'


def compare_html(first: Answer, second: Answer) -> str:
    """Two answers beside each other, and what changes from the first to the second."""
    rows = []
    for name, unit, digits, read in COMPARED:
        one, two = read(first), read(second)
        if one is None and two is None:
            continue
        form = "+" if unit == "deg" else ""
        cells = ["none" if value is None else f"{value:{form}.{digits}f}" for value in (one, two)]
        change = signed(two - one, digits) if one is not None and two is not None else ""
        rows.append((f"{name} [{unit}]", *cells, change))
    names = (f"{letter}: {one.case}, {one.strings.set}" for letter, one in (("A", first), ("B", second)))
    head = ("", *names, "B minus A")
    return table(head, rows, caption="Two instruments", look="compare")


Reading = Callable[[Answer], float | None]
COMPARED: tuple[tuple[str, str, int, Reading], ...] = (
    ("preload offset", "deg", 3, lambda a: a.preload_offset_deg),
    ("shim taper", "deg", 3, lambda a: a.pocket.taper_deg if a.pocket else None),
    ("heel stretch", "deg", 3, lambda a: a.heel_stretch_deg),
    ("relief with the rod slack", "mm", 2, lambda a: a.relief.rod_slack_mm),
    ("nut rises", "mm", 2, lambda a: a.budget.nut_rise_mm),
    ("torque at the rod's nut", "N·m", 2, lambda a: a.rod.torque_n_m),
    ("shim transfer", "1", 2, lambda a: a.shim_transfer),
    ("string tension", "N", 0, lambda a: a.strings.total_tension_n),
    ("saddle over the glue line", "mm", 2, lambda a: a.saddle_height_mm),
)
"""What is compared: name, unit, digits, where it stands; a row that neither has is left out."""

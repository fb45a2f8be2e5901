"""Sensitivities as text for a terminal."""

from collections import Counter
from collections.abc import Iterator

from cases.studies.sensitivity import SMALL_DEG, InputEffect, Sensitivities

SHOWN = 20
"""Number of inputs listed; the JSON and the CSV have all."""
SMALLEST_DEG = 0.0005
HEAD = (
    ("value", 9),
    ("step", 8),
    ("offset", 9),
    ("stretch", 9),
    ("relief", 9),
    ("uncertainty", 13),
    ("effect", 8),
)


def sensitivity_text(found: Sensitivities) -> str:
    """Text of sensitivities, about one terminal page."""
    return "\n".join(_lines(found))


def _lines(found: Sensitivities) -> Iterator[str]:
    shown = found.rows[:SHOWN]
    width = max(len(row.name) for row in shown)
    yield f"{found.case}: {found.asked} {found.offset_deg:+.3f} deg; effect of changing each input"
    word = found.word
    yield f"{'':{width}}" + "".join(f"{word if head == 'offset' else head:>{wide}}" for head, wide in HEAD)
    for row in shown:
        yield _line(row, width)
    small = sum(abs(row.change.offset_deg) < SMALLEST_DEG for row in found.rows)
    yield (
        f"{len(found.rows)} inputs, {small} of them with less than {SMALLEST_DEG} deg; all: --json or --csv"
    )
    origins = Counter(row.origin for row in found.rows)
    if origins["copied"]:
        words = {"measured": "measured or chosen here", "copied": "copied", "assumed": "assumed"}
        counts = ", ".join(f"{origins[kind]} {words[kind]}" for kind in words)
        yield f"of these {counts}: what was not measured here counts as a tenth uncertain"
    yield "step: 10 % larger, in the input's unit (0.1 if it is zero)"
    yield f"{word}, stretch [deg] and relief with the rod slack [mm]: change for one step"
    single = sum(not row.both_ways for row in found.rows)
    yield f"change: mean of a step up and a step down; one step alone for {single} inputs that change {word}"
    yield f"and stretch by less than {SMALL_DEG} deg, or that the case lets change in one direction only"
    yield f"uncertainty: one standard deviation; effect: on the {word}"
    yield ""
    yield "measure first:"
    for number, one in enumerate(found.measure_first, start=1):
        names = ", ".join(one.inputs[:3]) + (" ..." if len(one.inputs) > 3 else "")
        yield f"  {number}. {one.name}, effect {one.worth_deg:.3f} deg: {one.how}"
        if one.inputs != (one.name,):
            yield f"     determines {names}"
    yield f"rule: effect = change of the {word} per unit of an input x one standard deviation of that input;"
    yield "effect of a measurement = root of the sum of squares over the inputs that it determines"
    for name, sentence in found.skipped.items():
        yield f"left out: {name}: {sentence}"


def _line(row: InputEffect, width: int) -> str:
    change = row.change
    value = "" if row.value is None else f"{row.value:.4g}"
    step = f"{100 * row.step:.0f} %" if row.value is None else f"{row.step:.3g}"
    uncertainty = "-"
    if row.deviation is not None:
        uncertainty = f"{100 * row.deviation:.1f} %" if row.value is None else f"{row.deviation:.3g}"
    worth = "-" if row.worth_deg is None else f"{row.worth_deg:.3f}"
    return (
        f"{row.name:{width}}{value:>9}{step:>8}{change.offset_deg:>+9.3f}{change.stretch_deg:>+9.3f}"
        f"{change.relief_mm:>+9.3f}{uncertainty:>13}{worth:>8}"
    )

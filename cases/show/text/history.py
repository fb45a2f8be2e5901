"""A history of an instrument as text for a terminal."""

from collections.abc import Iterator

from cases.offset.warnings import CAUTIONS
from cases.show.text.answer import NO_MEASUREMENT
from cases.studies.history import History, HistoryPoint


def history_text(found: History) -> str:
    """A line for each step, then what is left at pitch, how far friction could go, and cautions."""
    return "\n".join([*_steps(found), *_left(found), *_notes(found)])


def _steps(found: History) -> Iterator[str]:
    shims = " and ".join(f"{angle:+z.3f}" for angle in found.angles_deg)
    yield f"{found.case}: bolted up on shims of {shims} deg, then step by step; the saddle stays"
    crushed = "  crushed mm" if found.crushing else ""
    yield ""
    yield f"  {'step':28}kink deg  last fret mm  relief mm  action mm  saddle line mm{crushed}"
    for point in found.points:
        yield _line(point) + (f"{point.crushed_mm:>12.3f}" if found.crushing else "")


def _line(point: HistoryPoint) -> str:
    action = "-" if point.action_mm is None else f"{point.action_mm:.2f}"
    name = f"{point.step}  {point.what}" if point.step else f"   {point.what}"
    return (
        f"  {name:28}{point.kink_deg:>+z8.3f}{point.tongue_gap_mm:>+z14.3f}{point.relief_mm:>z11.2f}"
        f"{action:>11}{point.saddle_line_mm:>+z16.2f}"
    )


def _left(found: History) -> Iterator[str]:
    first, *later = found.at_pitch or (None,)
    yield ""
    if first is None:
        yield "  never at pitch with the rod set"
    elif later:
        kinks = [one.kink_deg for one in later]
        yield (
            f"  at pitch the kink is {first.kink_deg:+z.3f} deg the first time, later {min(kinks):+z.3f} to "
            f"{max(kinks):+z.3f}"
        )
        changes = [change for one in later if (change := found.offset_change_deg(one)) is not None]
        if changes:
            yield f"  that changes the offset by {min(changes):+z.3f} to {max(changes):+z.3f} deg"
    for kink, what in (
        (found.kink_stuck_deg, "if nothing ever slipped"),
        (found.kink_smooth_deg, "after a moment without friction"),
    ):
        known = "the joint finds no rest" if kink is None else f"{kink:+z.3f} deg"
        yield f"  kink at pitch {what}: {known}"


def _notes(found: History) -> Iterator[str]:
    if found.crushing:
        yield "  wood that bears no more than its strength across the grain: an upper bound of the crushing"
    yield f"  {NO_MEASUREMENT}: calibrate on your guitars."
    for text in CAUTIONS:
        yield f"  CAUTION: {text}"

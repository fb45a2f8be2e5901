"""Limits of the truss rod and of bonded bars: both must lie inside the neck's wood."""

from collections.abc import Iterator

from cases.casefile.defaults import fret_position_mm, heel_start_position_mm
from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.limits.bounds import at_least, at_most

WOOD_UNDER_ROD_MM = 1.5


def _rod_run(values: Values) -> Iterator[Problem]:
    if values.text("rod.kind") == "none":
        return
    yield from at_least(
        values, "rod.end_mm", values.number("rod.start_mm") + 50, because="a rod needs a run of 50 mm"
    )
    scale = values.number("instrument.scale_mm")
    board_end = fret_position_mm(scale, values.number("instrument.last_fret")) + values.number(
        "instrument.overhang_mm"
    )
    yield from at_most(values, "rod.end_mm", board_end, because="the fretboard ends there")


def _rod_room(values: Values) -> Iterator[Problem]:
    kind = values.text("rod.kind")
    if kind == "none":
        return
    slot, diameter = values.number("rod.slot_depth_mm"), values.number("rod.diameter_mm")
    yield from at_most(
        values, "rod.diameter_mm", values.number("rod.slot_width_mm"), because="the rod lies in its channel"
    )
    need = diameter + (values.number("rod.arm_mm") if kind == "two-way" else 0.0)
    yield from at_least(values, "rod.slot_depth_mm", need, because=f"the rod is {need:.4g} mm high")
    yield from at_least(
        values, "rod.depth_ends_mm", slot / 2, because="the channel would cut into the fretboard"
    )
    yield from at_least(
        values, "rod.depth_middle_mm", slot / 2, because="the channel would cut into the fretboard"
    )


def neck_wood_mm(values: Values, x_mm: float, *, off_centre_mm: float) -> float:
    """Return the depth of neck wood under the glue line at a place of the shaft.

    Parameters
    ----------
    values : Values
        The case.
    x_mm : float
        Distance from the nut [mm].
    off_centre_mm : float
        Distance from the centre line [mm].

    Returns
    -------
    float
        Depth; negative where the neck is not that wide [mm].
    """
    scale = values.number("instrument.scale_mm")
    first, tenth = fret_position_mm(scale, 1), fret_position_mm(scale, 10)
    slope = (values.number("neck.depth_fret10_mm") - values.number("neck.depth_fret1_mm")) / (tenth - first)
    depth = (
        values.number("neck.depth_fret1_mm")
        + slope * (x_mm - first)
        - values.number("fretboard.thickness_mm")
    )
    joint = fret_position_mm(scale, values.number("instrument.body_joint_fret"))
    nut_width = values.number("neck.width_nut_mm")
    half = 0.5 * (nut_width + (values.number("neck.width_joint_mm") - nut_width) * x_mm / joint)
    if off_centre_mm >= half:
        return -1.0
    exponent = values.number("neck.profile_exponent")
    return float(depth * (1.0 - (off_centre_mm / half) ** exponent) ** (1.0 / exponent))


def _rod_through_back(values: Values) -> Iterator[Problem]:
    if values.text("rod.kind") == "none":
        return
    start, end = values.number("rod.start_mm"), values.number("rod.end_mm")
    shaft_end = min(end, heel_start_position_mm(values))
    half_slot, half_width = values.number("rod.slot_depth_mm") / 2, values.number("rod.slot_width_mm") / 2
    for key, places in (
        ("rod.depth_ends_mm", (start, shaft_end)),
        ("rod.depth_middle_mm", (0.5 * (start + end),)),
    ):
        wood = min(neck_wood_mm(values, min(x, shaft_end), off_centre_mm=half_width) for x in places)
        limit = round(wood - WOOD_UNDER_ROD_MM - half_slot, 2)
        yield from at_most(
            values,
            key,
            limit,
            because=f"the channel would come within {WOOD_UNDER_ROD_MM:g} mm of the back or out of it",
        )


def _bar(values: Values, label: str) -> Iterator[Problem]:
    path = f"bars.{label}"
    off, half_width = abs(values.number(f"{path}.y_mm")), values.number(f"{path}.width_mm") / 2
    start, half_height = values.number(f"{path}.start_mm"), values.number(f"{path}.height_mm") / 2
    yield from at_least(
        values, f"{path}.depth_mm", half_height, because="the bar would cut into the fretboard"
    )
    wood = neck_wood_mm(values, start, off_centre_mm=off + half_width)
    yield from at_most(
        values,
        f"{path}.depth_mm",
        round(wood - half_height - 1, 2),
        because="the bar would come through the back",
    )
    yield from at_least(values, f"{path}.end_mm", start + 10, because="a bar needs a run of 10 mm")
    if values.text("rod.kind") != "none" and off - half_width < values.number("rod.slot_width_mm") / 2:
        clear = values.number("rod.slot_width_mm") / 2 + half_width
        yield Problem(
            f"{path}.y_mm",
            f"{values.number(f'{path}.y_mm'):g}",
            "the bar would lie in the rod's channel",
            f"at least {clear:.4g} from the centre line",
            "move it out",
        )


CHECKS = (_rod_run, _rod_room, _rod_through_back)
BAR_CHECKS = (_bar,)

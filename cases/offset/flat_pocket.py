"""Answer of a flat pocket: taper of its one shim, the shim in stock, and a strip instead of the taper."""

from dataclasses import replace
from math import degrees, radians
from typing import Any

from cases.offset.answer import Band, PocketAnswer, StripAnswer
from cases.offset.build import MM
from cases.offset.joint_bearing import peak_pressure, row_slices
from cases.offset.solve import FINE, Solved
from cases.offset.stock_pairs import half_step, shim_answer
from fem.geometry.pad import Pad
from fem.results.reading import string_height
from fem.solve.condensation import condense
from fem.solve.offset import Pair, Question, find_offset, gains, pair

STRIP_MM = 12.0
"""Length of the strip compared with the full taper [mm]: common practice, no source."""
LEAST_DEG = 0.05
"""No strip is computed below this taper, where it would be thinner than paper [deg]."""
THINNEST_STRIP = 0.3e-3
"""Least thickness of a strip in the stiffness of its layer [m]."""


ABSENT = (
    *("shim_transfer", "aim_upper_deg", "residual_kink_deg", "residual_tongue_gap_mm"),
    *(f"preload_offset_{name}_deg" for name in ("linear", "band", "median", "friction_band", "on_stock")),
    *("preload_offset_deg", "offset_per_relief_deg_mm"),
)
"""Fields of the answer that are null for a flat pocket."""


def pocket_fields(
    solved: Solved, *, band_deg: Band, median_deg: float, friction_band_deg: Band
) -> dict[str, Any]:
    """Fields of the answer in which a two-shim joint has its offset and pairs."""
    on_stock = nearest_taper(solved)
    gain = gains(solved.question, solved.pair)
    taper_deg = degrees(solved.offset.offset)
    error = None if on_stock is None else action_error(solved.question, solved.pair, on_stock)
    return {
        **dict.fromkeys(ABSENT),
        "pairs": (),
        "shims": (shim_answer(solved.structure.pads[0], taper_deg if on_stock is None else on_stock),),
        "pocket": PocketAnswer(
            taper_deg=taper_deg,
            taper_linear_deg=degrees(solved.offset.offset_linear),
            taper_band_deg=band_deg,
            taper_median_deg=median_deg,
            taper_friction_band_deg=friction_band_deg,
            taper_on_stock_deg=on_stock,
            action_error_mm=error,
            pitch_per_shim=gain.pitch[0],
            kink_per_shim=gain.kink[0],
            saddle_wanted_mm=(solved.question.target_saddle or 0.0) / MM,
            strip=strip_answer(solved),
        ),
    }


def nearest_taper(solved: Solved) -> float | None:
    """Taper in stock nearest the one wanted; None if none lies within half a step of it [deg]."""
    angles, wanted = solved.case.stock.angles_deg(), degrees(solved.offset.offset)
    nearest = min(angles, key=lambda angle: (abs(angle - wanted), abs(angle)))
    return nearest if abs(nearest - wanted) <= half_step(angles) else None


def shortage(solved: Solved) -> str | None:
    """Warning if no taper in stock is near enough."""
    if nearest_taper(solved) is not None:
        return None
    return (
        f"No shim in stock is within half a step of the taper {degrees(solved.offset.offset):+.2f} deg. "
        "Cut one to size, add it to the stock, or set the saddles to the nearest shim."
    )


def action_error(question: Question, at: Pair, angle_deg: float) -> float:
    """Action over fret 12 on another taper, saddle as preset, minus the wanted action [mm]."""
    fixed = replace(question.wanted, height=None, saddle_height=question.target_saddle or 0.0)
    there = pair(replace(question, wanted=fixed), question.angles(radians(angle_deg), held=0.0), start=at)
    found = string_height(question, there.strung, question.wanted.height_x)
    return (found - (question.wanted.height or 0.0)) / MM


def strip_answer(solved: Solved) -> StripAnswer | None:
    """A strip under the thick end, for the same neck angle at pitch; None for next to no taper.

    The strip is cut to the neck's slope. The other end rests on the bare floor, packed to the height of the
    taper's thin edge, so that both necks are at the same height. Raises `ConvergenceError` if no strip gives
    that angle.
    """
    taper = solved.offset.offset
    if abs(degrees(taper)) < LEAST_DEG:
        return None
    shim, *others = solved.structure.pads
    strip, floor = strip_pads(shim, taper=taper)
    pads = (strip, floor, *others)
    structure = replace(solved.structure, pads=pads)
    flexibility, _ = condense(structure, FINE, reuse=solved.fields.bodies)
    question = replace(
        solved.question,
        flexibility=flexibility,
        pads=pads,
        friction=(solved.question.friction[0], *solved.question.friction),
    )
    found = find_offset(question, upper=0.0, lower=taper)
    strung, old = found.pair.strung, solved.question
    bare = row_slices(flexibility.points)[1]
    opening = strung.displacements[flexibility.at["opening"]][bare] - floor.lift

    heights, on_taper = question.heights(strung), old.heights(solved.pair.strung)
    return StripAnswer(
        at_end="front" if taper > 0.0 else "rear",
        length_mm=(strip.end - strip.start) / MM,
        thickness_mm=abs(found.offset) * abs(0.5 * (strip.start + strip.end) - _far_end(shim, taper)) / MM,
        gap_mm=float(max(opening.max(), 0.0)) / MM,
        peak_pressure_mpa=max(_pressure(question, found.pair, pad) for pad in (0, 1)),
        full_taper_pressure_mpa=_pressure(old, solved.pair, 0),
        bend_deg=degrees(question.kink(strung) - old.kink(solved.pair.strung)),
        bend_mm=(question.line.tongue_gap(heights) - old.line.tongue_gap(on_taper)) / MM,
    )


def _pressure(question: Question, at: Pair, pad: int) -> float:
    """Largest pressure on a pad at pitch [MPa]."""
    points = question.flexibility.points
    push = at.strung.contact.push[row_slices(points)[pad]]
    return peak_pressure(points[pad], push) / 1e6


def _far_end(shim: Pad, taper: float) -> float:
    """Thin end of a taper, where the heel rests on the floor beside a strip [m]."""
    return shim.end if taper > 0.0 else shim.start


def strip_pads(shim: Pad, *, taper: float) -> tuple[Pad, Pad]:
    """A strip under the thick end of a full-length shim, and the bare floor beside it.

    ``taper`` is the shim's angle [rad]; positive is thick towards the nut.
    """
    length = min(STRIP_MM * MM, 0.5 * (shim.end - shim.start))
    front = taper > 0.0
    first, last = (shim.start, shim.start + length) if front else (shim.end - length, shim.end)
    far = _far_end(shim, taper)
    strip = replace(
        shim,
        name="strip",
        start=first,
        end=last,
        middle=max(abs(taper) * abs(0.5 * (first + last) - far), THINNEST_STRIP),
    )
    bare = (last, shim.end) if front else (shim.start, first)
    floor = replace(
        shim, name="floor", start=bare[0], end=bare[1], middle=0.0, lift=-taper * (far - shim.pivot)
    )
    return strip, floor

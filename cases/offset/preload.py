"""The main question: preload offset, pairs of shims and uncertainty of a case (docs/theory-readings.md)."""

from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import version
from math import degrees, radians
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.files import load, opened
from cases.casefile.workshop import Workshop
from cases.offset import flat_pocket, results
from cases.offset.answer import Answer, InstrumentAnswer, JointAnswer, PairAnswer, Share
from cases.offset.assumed_effects import assumed_effects, copied_effects
from cases.offset.band import offset_band
from cases.offset.build import MM
from cases.offset.calibration import Calibration
from cases.offset.joint_bearing import bolt_answers, contact_answers
from cases.offset.joint_history import crushing, overshoot_change
from cases.offset.practice import unusual
from cases.offset.solve import Solved, one_thread, solve
from cases.offset.stock_pairs import StockPairs, shim_answer, stock_pairs
from cases.offset.warnings import warnings_of
from cases.offset.woods import wood_of
from fem.results.checks import supported

PAPER_MM = 0.10
"""Thickness of a sheet of 80 g/m2 paper [mm], see materials/sources.md."""


@one_thread
def preload(
    case: Case | str | Path, *, effects: bool = True, calibration: Calibration | None = None
) -> Answer:
    """Compute the preload offset of a case, the pairs of shims that give it, and its uncertainty.

    Parameters
    ----------
    case : instrument with strings and set-up, its name or file.
    effects : whether to compute the effect of each assumed number.
    calibration : corrections of a shop for offset and pairs; states and heel stretch stay the model's.

    Raises
    ------
    ModelError, ConvergenceError
        If the case cannot be solved.
    """
    case = opened(case)
    return answer_from(solve(case, calibration=calibration), case, effects=effects)


def answer_from(solved: Solved, case: Case, *, effects: bool) -> Answer:
    """The answer of a case from its solution; with a calibration it belongs to the case as given."""
    answer, calibration = answer_of(solved, effects=effects), solved.calibration
    if calibration is None:
        return answer
    warning = calibration.warning(case)
    return replace(
        answer,
        case_sha256=case.sha256,
        calibration_id=calibration.id,
        warnings=((warning,) if warning else ()) + answer.warnings,
    )


def answer_of(solved: Solved, *, effects: bool) -> Answer:
    """The answer of a solved case."""
    case = solved.case
    supported(solved.question, solved.pair)
    states = results.state_fields(solved)
    offset_fields, shortage = _offset_fields(solved, states)
    bolts, bolt_warning = bolt_answers(solved)
    crushed = crushing(solved)
    answer = Answer(
        version=version("neckpreload"),
        case=case.name,
        case_sha256=case.sha256,
        joint=JointAnswer(case.joint.kind),
        instrument=InstrumentAnswer(
            scale_mm=case.instrument.scale_mm,
            body_joint_fret=case.instrument.body_joint_fret,
            neck_wood=case.neck.wood,
            fretboard_wood=case.fretboard.wood,
        ),
        calibration_id=None,
        anchored_offset_deg=None,
        bolts=bolts,
        contact=contact_answers(solved, crushed.depth_mm),
        overshoot_change_deg=overshoot_change(solved),
        crushing_change_deg=crushed.change_deg,
        assumed=assumed_effects(solved) if effects else (),
        unusual=unusual(case, solved.structure.bolts),
        copied_from=case.copied_from,
        copied=copied_effects(solved) if effects else (),
        standins=_borrowed_data(case),
        warnings=(),
        **{**states, **offset_fields, **results.proof_fields(solved)},
    )
    extra = [text for text in (shortage, bolt_warning) if text]
    return replace(answer, warnings=warnings_of(solved, answer, extra=extra))


def _offset_fields(solved: Solved, states: dict[str, Any]) -> tuple[dict[str, Any], str | None]:
    """Offset and pairs, or taper, by the kind of joint; and a warning if stock has no such shim."""
    offset, pad = solved.offset.offset, solved.structure.pads[solved.question.varied]
    band, taper = offset_band(solved), offset * (pad.end - pad.start) / MM
    necks = (degrees(band.low), degrees(band.high))
    shared = {
        "taper_mm": taper,
        "paper_sheets": abs(taper) / PAPER_MM,
        "scatter": tuple(Share(name, degrees(own), degrees(more)) for name, own, more in band.scatter),
    }
    if solved.case.joint.kind == "flat-pocket":
        friction_band = states["preload_offset_friction_band_deg"]
        fields = flat_pocket.pocket_fields(
            solved, band_deg=necks, median_deg=degrees(band.median), friction_band_deg=friction_band
        )
        return {**shared, **fields}, flat_pocket.shortage(solved)
    on_stock = stock_pairs(solved)
    on_stock = replace(on_stock, pairs=tuple(_as_calibrated(solved, one) for one in on_stock.pairs))
    fields = {
        "shim_transfer": float(solved.offset.transfer),
        "aim_upper_deg": degrees(solved.upper),
        "preload_offset_deg": degrees(offset),
        "preload_offset_linear_deg": degrees(solved.offset.offset_linear),
        "preload_offset_band_deg": necks,
        "preload_offset_median_deg": degrees(band.median),
    }
    return {**shared, **fields, **_stock_fields(solved, on_stock)}, on_stock.shortage


def _as_calibrated(solved: Solved, one: PairAnswer) -> PairAnswer:
    """A pair with kink and gap as corrected by the calibration."""
    question, overlay = solved.question, solved.overlay
    at_target = degrees(question.kink(solved.pair.strung))
    kink = at_target - degrees(overlay.shift) + overlay.factor * (one.residual_kink_deg - at_target)
    lever = 1e3 * float(question.line.x[-1] - question.line.x[question.line.joint - 1])
    gap = one.residual_tongue_gap_mm + lever * radians(kink - one.residual_kink_deg)
    return replace(one, residual_kink_deg=kink, residual_tongue_gap_mm=gap)


def answer_for(
    case: Case, workshop: Workshop, *, effects: bool = True, calibration: Calibration | None = None
) -> Answer:
    """The answer of a case with a workshop's settings: its paper, and its known offset as anchor.

    The anchored offset is the shop's known offset plus the change that the model computes from its guitar to
    this one.
    """
    return in_workshop(preload(case, effects=effects, calibration=calibration), case, workshop)


def in_workshop(answer: Answer, case: Case, workshop: Workshop) -> Answer:
    """An answer with the fields that depend on a workshop's settings."""
    anchored = None
    two_shims = answer.pocket is None
    if two_shims and workshop.known_offset_deg is not None and workshop.known_case is not None:
        known = load(workshop.known_case, workshop=workshop)
        if workshop.known_strings is not None:
            known = known.with_values({"strings.set": workshop.known_strings})
        anchored = workshop.known_offset_deg + answer.offset_deg - preload(known, effects=False).offset_deg
    sheets = abs(answer.taper_mm) / workshop.paper_thickness_mm
    return replace(answer, anchored_offset_deg=anchored, paper_sheets=sheets)


def _borrowed_data(case: Case) -> tuple[str, ...]:
    tables = (case.neck, case.fretboard, case.block)
    return tuple(dict.fromkeys(text for table in tables for text in wood_of(case, table).standins))


def _stock_fields(solved: Solved, on_stock: StockPairs) -> dict[str, Any]:
    chosen = nearest_pair(on_stock.pairs, upper_deg=degrees(solved.upper))
    exact = tuple(degrees(angle) for angle in solved.pair.angles)
    angles = (chosen.upper_deg, chosen.lower_deg) if chosen else exact
    return {
        "preload_offset_on_stock_deg": on_stock.offset_on_stock,
        "residual_kink_deg": chosen.residual_kink_deg if chosen else None,
        "residual_tongue_gap_mm": chosen.residual_tongue_gap_mm if chosen else None,
        "pairs": on_stock.pairs,
        "shims": tuple(shim_answer(pad, a) for pad, a in zip(solved.structure.pads, angles, strict=True)),
    }


def nearest_pair(pairs: Sequence[PairAnswer], *, upper_deg: float) -> PairAnswer | None:
    """The pair with the nearest upper angle; None without pairs."""
    if not pairs:
        return None
    return min(pairs, key=lambda one: (abs(one.upper_deg - upper_deg), abs(one.residual_kink_deg)))

"""A fitted pair as the log stores it: the same entry from the command line and from the page."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from importlib.metadata import version

from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.validation import NewFit, validated
from cases.bench.shims.geometry import Geometry
from cases.bench.shims.readings import NO_SQUARES, Squares
from cases.casefile.case import Case
from cases.casefile.quantity import is_angle, parse_angle, parse_length
from cases.casefile.stringing import strings_of
from materials.errors import InputError

STEEPEST_TYPED_DEG = 10.0
"""Largest pocket angle that may be typed [deg]."""


def fit_entry(
    case: Case,
    pair_deg: tuple[float, float],
    predicted: Mapping[str, float],
    *,
    calibration_id: str | None,
    heights: Sequence[float] = (),
    squares: Squares = NO_SQUARES,
    rh_percent: float | None = None,
    around: Mapping[str, object],
) -> NewFit:
    """The entry of a pair with its prediction; raises `LogbookError` for a value that is not allowed.

    ``heights`` : readings of the bare pocket [mm], empty where the log has them from an earlier fit;
    ``around`` : serial, reason, model, wood batch, bench, who.
    """
    bare = [("reading", height) for height in heights]
    gaps = (("pocket_square", squares.pocket), ("heel_square", squares.heel))
    bare += [(kind, gap) for kind, gap in gaps if gap is not None]
    values = {
        **around,
        "case_sha256": case.sha256,
        "case_text": case.text or case.to_toml(),
        "strings": strings_of(case.strings).name,
        "upper_deg": pair_deg[0],
        "lower_deg": pair_deg[1],
        "predicted": dict(predicted),
        "model_version": version("neckpreload"),
        "calibration_id": calibration_id,
        "started_utc": datetime.now(UTC),
        "measurements": tuple(
            {"kind": kind, "state": "bare", "value": value, "unit": "mm", "rh_percent": rh_percent}
            for kind, value in bare
        ),
    }
    return validated(NewFit, values)


def next_entry(
    case: Case,
    last: Fit,
    pair_deg: tuple[float, float],
    predicted: Mapping[str, float],
    *,
    calibration_id: str | None,
) -> NewFit:
    """The entry of the pair that replaces the last one, at the same bench; the log has the pocket."""
    around = {"serial": last.serial, "reason": "swap", "bench": last.bench, "who": last.who}
    return fit_entry(case, pair_deg, predicted, calibration_id=calibration_id, around=around)


def reading_height(
    text: str,
    geometry: Geometry,
    *,
    name: str = "--reading",
    gauge_step_mm: float | None = None,
    bare_unit: str | None = None,
) -> float:
    """Height of the fretboard's underside carried to the saddle [mm], from a reading as typed.

    ``gauge_step_mm`` : height of the gauge's plane over the bare seat, None for a gauge on its full step;
    ``bare_unit`` : unit of a number without one. Raises `InputError` for a text that is no length or angle.
    """
    if is_angle(text):
        angle = parse_angle(text, name=name)
        if abs(angle) > STEEPEST_TYPED_DEG:
            raise InputError(f"{name} {text}: -10 to 10 degrees are allowed; check the unit.")
        return geometry.height_of(angle)
    height = parse_length(text, name=name, bare_unit=bare_unit)
    return height if gauge_step_mm is None else height + geometry.seat_depth - gauge_step_mm

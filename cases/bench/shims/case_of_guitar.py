"""Comparison of a command's input with the log of a guitar: its case, its pair, the reading of its pocket.

A contradiction is refused; where the log leaves it open there is a warning.
"""

from collections.abc import Sequence
from typing import Any

from cases.bench.logbook.current_rows import Fit, Measurement, without_struck_out
from cases.bench.logbook.logbook import case_text
from cases.bench.logbook.store import Logbook
from cases.bench.shims.geometry import Geometry
from cases.bench.shims.readings import Squares
from cases.casefile.case import Case
from cases.casefile.files import loads
from cases.casefile.toml_text import parse_toml
from cases.casefile.workshop import Workshop
from materials.errors import InputError

SAME_DEG = 0.005
"""Angles that differ by less are the same shim, rounded [deg]."""
HEAD = ("name", "note", "revision", "released_by", "released_on")
"""Keys without effect on the neck."""


def fit_with_case(found: Sequence[Fit]) -> Fit:
    """Last fit of a guitar with a case, else its last fit: swaps are often logged without a case."""
    return max(found, key=lambda fit: (fit.case_sha256 is not None, fit.attempt))


def fit_with_pocket(found: Sequence[Fit]) -> Fit:
    """Last fit of a guitar with its pocket measured, else its last fit: swaps do not change the pocket."""
    valid = [fit for fit in found if not fit.struck_out] or found[-1:]
    return without_struck_out(
        max(valid, key=lambda fit: (any(one.state == "bare" for one in fit.measurements), fit.attempt))
    )


def check_case(fit: Fit, text: str | None, case: Case, *, workshop: Workshop | None = None) -> str | None:
    """Refuse a guitar that was fitted on another case; return a warning if the case has changed since.

    A renamed case is the same case; another revision under the same name too, with a warning. Raises
    `InputError` if the log names another case.

    ``text`` : the case's text in the log, None where it has none.
    """
    if fit.case_sha256 is None:
        return f"The log does not say on which case {fit.serial} was fitted: check that it was {case.name}."
    if fit.case_sha256 == case.sha256:
        return None
    head = {} if text is None else _head(text)
    name = head.get("name")
    if text is None or name is None:
        return (
            f"According to the log {fit.serial} was fitted on a case with other values than {case.name} "
            "has now: check that it is the same instrument."
        )
    same = _same_neck(text, case, workshop)
    if name == case.name:
        if same and head.get("revision") == case.revision:
            return None
        changed = "" if same else " with other values"
        return (
            f"{fit.serial} was fitted on {name}{_revision(head.get('revision'))}{changed}; this result uses "
            f"the present {name}{_revision(case.revision)}."
        )
    if same:
        return f"{fit.serial} was fitted on this case under the name {name}."
    raise InputError(
        f"serial {fit.serial}: the log says that it was fitted on the case {name}, not on {case.name}; give "
        f"{name}, or leave --serial out and give --upper, --lower and --reading to use {case.name}."
    )


def _head(text: str) -> dict[str, Any]:
    try:
        return parse_toml(text, where="the case in the log")
    except InputError:
        return {}


def _revision(revision: str | None) -> str:
    return f" revision {revision}" if revision else ""


def _same_neck(text: str, case: Case, workshop: Workshop | None) -> bool:
    """Whether a text is the same case apart from `HEAD`; versions may differ in sha256."""
    try:
        was = loads(text, workshop=workshop)
    except InputError:
        # written by another version, or refers to a file that is missing here
        return False
    return _content(was) == _content(case)


def _content(case: Case) -> dict[str, object]:
    return {path: value for path, value in case.items() if path not in HEAD}


def pair_of(fit: Fit, upper_deg: float | None, lower_deg: float | None) -> tuple[float, float]:
    """Pair of a guitar according to the log; raises `InputError` if another pair is given."""
    given = (
        fit.upper_deg if upper_deg is None else upper_deg,
        fit.lower_deg if lower_deg is None else lower_deg,
    )
    if max(abs(given[0] - fit.upper_deg), abs(given[1] - fit.lower_deg)) > SAME_DEG:
        raise InputError(
            f"serial {fit.serial}: upper {given[0]:+.2f}, lower {given[1]:+.2f} deg is given, the log has "
            f"upper {fit.upper_deg:+.2f}, lower {fit.lower_deg:+.2f} deg; leave --upper and --lower out, or "
            "correct the log first: `neckpreload logbook amend` for a typing error, "
            "`neckpreload logbook add --reason swap` for a later swap."
        )
    return fit.upper_deg, fit.lower_deg


def reading_heights(fit: Fit, geometry: Geometry) -> list[float]:
    """Logged readings of the bare pocket, as heights at the saddle [mm]."""
    return [
        one.value if one.unit == "mm" else geometry.height_of(one.value)
        for one in fit.measurements
        if one.kind == "reading" and one.state == "bare"
    ]


def reading_of(fit: Fit, geometry: Geometry, given_mm: float | None, *, error_mm: float) -> float | None:
    """Mean reading of the bare pocket in the log [mm], else the given one.

    Raises `InputError` if the given reading differs from the log's by more than ``error_mm``.
    """
    heights = reading_heights(fit, geometry)
    if not heights:
        return given_mm
    logged = sum(heights) / len(heights)
    if given_mm is not None and abs(given_mm - logged) > error_mm + 1e-9:
        raise InputError(
            f"serial {fit.serial}: --reading {given_mm:.2f} mm is given, but the log has {logged:.2f} mm for "
            "its bare pocket; leave --reading out, or correct the log with `neckpreload logbook amend` first."
        )
    return logged


def squares_of(fit: Fit) -> Squares:
    """Logged gaps under both squares."""
    pocket, heel = (latest(fit, kind, "bare") for kind in ("pocket_square", "heel_square"))
    return Squares(pocket.value if pocket else None, heel.value if heel else None)


def latest(fit: Fit, kind: str, state: str) -> Measurement | None:
    """The measurement with the longest time at pitch, the last of equals."""
    found = [one for one in fit.measurements if one.kind == kind and one.state == state]
    return max(found, key=lambda one: (one.minutes_since_pitch or 0.0, one.id)) if found else None


def logged_cases(logbook: Logbook, found: Sequence[Fit]) -> dict[str, Case]:
    """Cases on which guitars were fitted, by sha256, without those that are missing or cannot be read."""
    cases = {}
    for sha256, fit in {fit.case_sha256: fit for fit in found}.items():
        text = None if sha256 is None else case_text(logbook, fit)
        if sha256 is None or text is None:
            continue
        try:
            cases[sha256] = loads(text)
        except InputError:
            # written by another version, or refers to a file that is missing here
            continue
    return cases

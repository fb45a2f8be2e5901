"""A guitar in the log held against what a command says of it: the case, the pair that is in it, the reading
of its bare pocket. What contradicts the log is refused, what cannot be told apart from it is said.
"""

from collections.abc import Sequence
from typing import Any

from cases.bench.logbook.current_rows import Fit, without_struck_out
from cases.bench.shims.geometry import Geometry
from cases.casefile.case import Case
from cases.casefile.files import loads
from cases.casefile.toml_text import parse_toml
from cases.casefile.workshop import Workshop
from materials.errors import InputError

SAME_DEG = 0.005
"""Angles nearer than half a hundredth are the same shim, however they were rounded [deg]."""
HEAD = ("name", "note", "revision", "released_by", "released_on")
"""Keys that name a case and change nothing in the neck."""


def naming_a_case(found: Sequence[Fit]) -> Fit:
    """Of a guitar's fits the last that names its case, else the last: a swap is often logged without one."""
    ordered = sorted(found, key=lambda fit: fit.attempt)
    return next((fit for fit in reversed(ordered) if fit.case_sha256 is not None), ordered[-1])


def measuring_the_pocket(found: Sequence[Fit]) -> Fit:
    """Of a guitar's fits the last with something read of its bare pocket, else the last: the pocket stays
    when a swap is logged, and nothing is read of it again.
    """
    ordered = sorted((fit for fit in found if not fit.struck_out), key=lambda fit: fit.attempt) or [found[-1]]
    read = (fit for fit in reversed(ordered) if any(one.state == "bare" for one in fit.measurements))
    return without_struck_out(next(read, ordered[-1]))


def check_case(fit: Fit, text: str | None, case: Case, *, workshop: Workshop | None = None) -> str | None:
    """Refuse a guitar that was fitted on another case; return what to say when it was the same with other
    values.

    The log keeps the sha256 of the case and its text. A case that was only renamed is the same one; so is
    another revision under the same name, with a warning.

    Parameters
    ----------
    text : the case's text in the log, None where it has none.

    Raises
    ------
    InputError
        With the case that the log names, and what to give.
    """
    if fit.case_sha256 is None:
        return f"The log does not say which case {fit.serial} was fitted on: see that it was {case.name}."
    if fit.case_sha256 == case.sha256:
        return None
    head = {} if text is None else _head(text)
    name = head.get("name")
    if text is None or name is None:
        return (
            f"The log says only that {fit.serial} was fitted on a case with other values than {case.name} "
            "has now: see that it is the same instrument."
        )
    same = _same_neck(text, case, workshop)
    if name == case.name:
        if same and head.get("revision") == case.revision:
            return None
        changed = "" if same else " before some key changed"
        return (
            f"{fit.serial} was fitted on {name}{_revision(head.get('revision'))}{changed}; it is judged here "
            f"on {name}{_revision(case.revision)} as it is now."
        )
    if same:
        return f"{fit.serial} was fitted on this case under the name {name}."
    raise InputError(
        f"serial {fit.serial}: the log says that it was fitted on the case {name}, not on {case.name}; give "
        f"{name}, or leave --serial out and give --upper, --lower and --reading to judge it on {case.name}."
    )


def _head(text: str) -> dict[str, Any]:
    try:
        return parse_toml(text, where="the case in the log")
    except InputError:
        return {}


def _revision(revision: str | None) -> str:
    return f" revision {revision}" if revision else ""


def _same_neck(text: str, case: Case, workshop: Workshop | None) -> bool:
    """Whether a text is the case but for the keys that name it, whatever sha256 another version gave it."""
    try:
        was = loads(text, workshop=workshop)
    except InputError:
        # made by another version, or with a file beside it that is not here: not to be told
        return False
    return _content(was) == _content(case)


def _content(case: Case) -> dict[str, object]:
    return {path: value for path, value in case.items() if path not in HEAD}


def pair_of(fit: Fit, upper_deg: float | None, lower_deg: float | None) -> tuple[float, float]:
    """The pair that the log says is in a guitar; refuse a command that says another.

    Raises
    ------
    InputError
        With both pairs.
    """
    said = (
        fit.upper_deg if upper_deg is None else upper_deg,
        fit.lower_deg if lower_deg is None else lower_deg,
    )
    if max(abs(said[0] - fit.upper_deg), abs(said[1] - fit.lower_deg)) > SAME_DEG:
        raise InputError(
            f"serial {fit.serial}: upper {said[0]:+.2f}, lower {said[1]:+.2f} deg is given, but the log says "
            f"that upper {fit.upper_deg:+.2f}, lower {fit.lower_deg:+.2f} deg went in; leave --upper and "
            "--lower out, or log what really is in it first: `neckpreload logbook amend` for a slip of the "
            "pen, `neckpreload logbook add --reason swap` for a swap since."
        )
    return fit.upper_deg, fit.lower_deg


def reading_of(fit: Fit, geometry: Geometry, given_mm: float | None, *, error_mm: float) -> float | None:
    """Mean reading of the bare pocket in the log [mm], else the one given, None without either.

    Parameters
    ----------
    error_mm : how far a reading may lie from the log's and be the same.

    Raises
    ------
    InputError
        If another reading is given than the log has.
    """
    heights = [
        one.value if one.unit == "mm" else geometry.height_of(one.value)
        for one in fit.measurements
        if one.kind == "reading" and one.state == "bare"
    ]
    if not heights:
        return given_mm
    logged = sum(heights) / len(heights)
    if given_mm is not None and abs(given_mm - logged) > error_mm + 1e-9:
        raise InputError(
            f"serial {fit.serial}: --reading {given_mm:.2f} mm is given, but the log has {logged:.2f} mm of "
            "its bare pocket; leave --reading out, or correct the log by `neckpreload logbook amend` first."
        )
    return logged

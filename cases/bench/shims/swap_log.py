"""Measurements at pitch in the log of a guitar: where none are typed, and those of earlier attempts."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.case_of_guitar import fit_with_pocket, latest, reading_of, squares_of
from cases.bench.shims.dry_log import since_new
from cases.bench.shims.readings import Conditions
from cases.bench.shims.strung_neck import Bench
from cases.bench.shims.swap import StrungMeasurements
from materials.errors import InputError

KINDS = {"action_bass": "action_bass", "action_treble": "action_treble", "relief": "relief"}
KINDS |= {"tongue_gap": "tongue_gap", "saddle": "saddle_height"}
"""Measurements at pitch by their names in the log."""
NOT_TYPED: Mapping[str, None] = MappingProxyType(dict.fromkeys((*KINDS, "reading")))
"""No measurement typed: all are the log's."""


def _logged(fit: Fit) -> dict[str, float | None]:
    """Measurements at pitch of a fit, each at the longest time at pitch."""
    read = {name: latest(fit, kind, "strung") for name, kind in KINDS.items()}
    return {name: None if one is None else one.value for name, one in read.items()}


def filled_in(typed: Mapping[str, float | None], found: Sequence[Fit], bench: Bench) -> StrungMeasurements:
    """Measurements typed; if no action was, those of the last fit; with the log's pocket and squares.

    Raises `InputError` without both actions, or if a reading is typed that contradicts the log.
    """
    values: dict[str, Any] = dict(typed)
    if found and typed["action_bass"] is None and typed["action_treble"] is None:
        values |= {name: value for name, value in _logged(found[-1]).items() if typed[name] is None}
    if values["action_bass"] is None or values["action_treble"] is None:
        raise InputError(
            "The action is missing: give --action-bass and --action-treble, measured over fret 12 at pitch, "
            "or --serial of a guitar with both in the log."
        )
    measured = StrungMeasurements(**values)
    if not found:
        return measured
    pocket = fit_with_pocket(found)
    error = bench.case.tolerance.reading_mm
    read = reading_of(pocket, bench.geometry, measured.reading, error_mm=error)
    return replace(measured, reading=read, squares=squares_of(pocket))


def attempts_measured(
    found: Sequence[Fit], now: StrungMeasurements
) -> list[tuple[tuple[float, float], StrungMeasurements]]:
    """Pairs tried before the one in the guitar, since it was new or came back, with what was measured.

    Only those with both actions and a tongue gap: without a gap, joint and body cannot be separated.
    """
    tried = []
    for fit in since_new(found)[:-1]:
        values: dict[str, Any] = _logged(fit)
        if None not in (values["action_bass"], values["action_treble"], values["tongue_gap"]):
            pair = (fit.upper_deg, fit.lower_deg)
            tried.append((pair, StrungMeasurements(**values, reading=now.reading, squares=now.squares)))
    return tried


def new_measurements(
    fit: Fit, typed: Mapping[str, float | None], conditions: Conditions
) -> list[dict[str, Any]]:
    """Typed measurements at pitch that the log of this fit lacks, for `NewMeasurement`."""
    logged = {(one.kind, one.value) for one in fit.measurements if one.state == "strung"}
    minutes = None if conditions.hours is None else 60.0 * conditions.hours
    around = {"state": "strung", "unit": "mm", "rh_percent": conditions.rh_percent}
    return [
        {"kind": kind, "value": value, "minutes_since_pitch": minutes, **around}
        for name, kind in KINDS.items()
        if (value := typed[name]) is not None and (kind, value) not in logged
    ]

"""Allowed ranges of measured values: outside them a value is probably a typing error.

The commands, the page and the logbook all check against them.
"""

from collections.abc import Mapping
from math import isfinite
from types import MappingProxyType

KINDS: Mapping[str, Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "reading": {"mm": (-50.0, 50.0), "deg": (-10.0, 10.0)},
        "pocket_square": {"mm": (-3.0, 3.0)},
        "heel_square": {"mm": (-3.0, 3.0)},
        "action_bass": {"mm": (0.0, 15.0)},
        "action_treble": {"mm": (0.0, 15.0)},
        "kink": {"deg": (-5.0, 5.0)},
        "tongue_gap": {"mm": (-5.0, 5.0)},
        "relief": {"mm": (-2.0, 3.0)},
        "saddle_line": {"mm": (-30.0, 50.0)},
        "saddle_height": {"mm": (0.0, 25.0)},
        "tuned_down_kink": {"deg": (-5.0, 5.0)},
        "advised_upper": {"deg": (-5.0, 5.0)},
        "advised_lower": {"deg": (-5.0, 5.0)},
    }
)
"""Kinds of measurement: kind -> unit -> range; with the pair that the program advised."""
STATES_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "reading": ("bare",),
        "pocket_square": ("bare",),
        "heel_square": ("bare",),
        "action_bass": ("strung",),
        "action_treble": ("strung",),
        "tuned_down_kink": ("bolted",),
        "advised_upper": ("bolted", "strung"),
        "advised_lower": ("bolted", "strung"),
    }
)
"""Kinds that can be measured in one state only: the pocket and its faces before the neck goes in, the action
at pitch, advice before or after the strings go on."""
HUMIDITY_PERCENT = (1.0, 100.0)


def humidity_error(percent: float) -> str | None:
    """Return why a relative humidity [%] is not allowed, None if it is."""
    low, high = HUMIDITY_PERCENT
    if low <= percent <= high:
        return None
    advice = "correct it"
    if 0.0 < percent < low:
        advice = f"{percent:g} looks like a fraction: write {100.0 * percent:g}"
    return f"relative humidity of {low:g} to {high:g} % is allowed; {advice}"


def time_error(value: float, *, unit: str) -> str | None:
    """Return why a time since pitch is not allowed, None if it is."""
    if isfinite(value) and value >= 0.0:
        return None
    return f"0 {unit} or more is allowed: leave it out if it is not known"

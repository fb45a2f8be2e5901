"""What a value of the bench may be; outside it is a slip of the keyboard, not a guitar. Commands, page and
logbook ask here.
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
    }
)
"""What is measured: kind -> unit -> range."""
STATES_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "reading": ("bare",),
        "pocket_square": ("bare",),
        "heel_square": ("bare",),
        "action_bass": ("strung",),
        "action_treble": ("strung",),
    }
)
"""States in which alone a kind can be measured: the pocket and its faces before the neck is in, the action
over strings at pitch."""
HUMIDITY_PERCENT = (1.0, 100.0)


def wrong_humidity(percent: float) -> str | None:
    """What is wrong with a relative humidity, None if nothing is."""
    low, high = HUMIDITY_PERCENT
    if low <= percent <= high:
        return None
    fraction = (
        f"; {percent:g} looks like a fraction: write {100.0 * percent:g}" if 0.0 < percent < low else ""
    )
    return f"relative humidity of {low:g} to {high:g} % is allowed{fraction or ': correct it'}"


def wrong_time(value: float, *, unit: str) -> str | None:
    """What is wrong with a time since pitch, None if nothing is."""
    if isfinite(value) and value >= 0.0:
        return None
    return f"0 {unit} or more is allowed: leave it out if it is not known"

"""Which end of a tapered shim is thick (signs: docs/glossary.md)."""

from types import MappingProxyType

ENDS = MappingProxyType(
    {"upper": ("nut", "sound hole"), "lower": ("heel cap", "fretboard"), "pocket": ("nut", "bridge")}
)
"""Of each shim the end that is thick where its angle is positive, and where it is negative."""
SIGNS = "+ is upper thick at the nut, lower thick at the heel cap; - is the other way round"


def thick_end(name: str, angle_deg: float) -> str | None:
    """The thick end of a shim by its name, None without a taper.

    >>> thick_end("lower", -0.12), thick_end("upper", 0.0)
    ('fretboard', None)
    """
    return None if abs(angle_deg) < 1e-9 else ENDS[name][angle_deg < 0.0]


def way_round(upper_deg: float, lower_deg: float) -> str:
    """The thick ends of a pair in words.

    >>> way_round(0.16, 0.0)
    'upper shim thick end towards the nut, lower shim not tapered'
    """
    ends = {"upper": thick_end("upper", upper_deg), "lower": thick_end("lower", lower_deg)}
    return ", ".join(
        f"{name} shim " + (f"thick end towards the {end}" if end else "not tapered")
        for name, end in ends.items()
    )

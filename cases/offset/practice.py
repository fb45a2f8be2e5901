"""Inputs that the limits allow, but far from common practice: said by `check` and above an answer."""

from collections.abc import Iterator

from cases.casefile.case import Case
from cases.offset.washers import lasting_tension
from fem.geometry.hardware import Bolt

INCH = 25.4
USUAL = {
    "targets.relief_mm": (0.05, 0.5),
    "setup.action_bass_mm": (1.2, 4.5),
    "setup.action_treble_mm": (0.8, 3.5),
    "setup.nut_height_bass_mm": (0.2, 1.0),
    "setup.nut_height_treble_mm": (0.1, 0.8),
    "setup.saddle_height_mm": (6.0, 22.0),
    "bridge.bridge_height_mm": (5.0, 14.0),
    "bridge.saddle_projection_mm": (1.0, 8.0),
}
"""Usual range of a key [mm], of guitars and basses together: common practice, no source."""
SMALLER_FIRST = (
    ("neck.depth_fret1_mm", "neck.depth_fret10_mm"),
    ("setup.action_treble_mm", "setup.action_bass_mm"),
    ("setup.nut_height_treble_mm", "setup.nut_height_bass_mm"),
)
"""Pairs of keys of which the first is not the larger one: common practice, no source."""


def unusual(case: Case, bolts: tuple[Bolt, ...]) -> tuple[str, ...]:
    """Sentences about inputs far from common practice.

    Parameters
    ----------
    bolts : the case's bolts in the model.
    """
    return (*_torques(case, bolts), *_beyond_usual(case), *_swapped(case))


def _torques(case: Case, bolts: tuple[Bolt, ...]) -> Iterator[str]:
    for table, bolt in zip(case.bolts, bolts, strict=True):
        per_tension = table.nut_factor * bolt.diameter
        torque, lasting = bolt.tension * per_tension, lasting_tension(case, bolt) * per_tension
        if torque > lasting:
            yield (
                f"Bolt {bolt.name}: {torque:.3g} N m is more than the {lasting:.3g} N m that the wood "
                "under its washer carries for years. Use a wider washer or less torque."
            )


def _beyond_usual(case: Case) -> Iterator[str]:
    values = dict(case.items())
    for key, (low, high) in USUAL.items():
        value = values[key]
        if not isinstance(value, float) or low <= value <= high:
            continue
        inches = f'; if it is in inches, write "{value:g}in"' if low <= value * INCH <= high else ""
        yield f"{key} = {value:g} mm is unusual ({low:g} to {high:g} mm is common): check it{inches}."


def _swapped(case: Case) -> Iterator[str]:
    values = dict(case.items())
    for small, large in SMALLER_FIRST:
        first, second = (float(str(values[key])) for key in (small, large))
        if first > second:
            yield f"{small} = {first:g} is larger than {large} = {second:g}: are the two swapped?"

"""The string set of a case."""

from cases.casefile.schema.playing import Strings
from materials.strings import (
    USUAL_TUNING,
    StringSet,
    own_set,
    own_string,
    parse_gauge,
    string_set,
)

NYLON_WRAP = "silver-plated-copper-on-nylon"
"""The wrap whose set has plain strings of nylon."""


def strings_of(strings: Strings) -> StringSet:
    """Return the string set that a case names or describes; its tuning is not applied to a named set.

    `MaterialError` if a name, gauge, weight or tuning is not one that strings can have.
    """
    if strings.set is not None:
        return string_set(strings.set)
    gauges = [gauge_text(gauge) for gauge in strings.gauges_in or ()]
    tuning = strings.tuning or USUAL_TUNING
    plain = "nylon" if strings.alloy == NYLON_WRAP else "plain-steel"
    if strings.unit_weights_kg_m is None:
        return own_set(gauges, tuning=tuning, plain_alloy=plain, wound_alloy=strings.alloy)
    weighed = []
    for text, weight in zip(gauges, strings.unit_weights_kg_m, strict=True):
        gauge, wound = parse_gauge(text)
        alloy = strings.alloy if wound else plain
        weighed.append(own_string(gauge_in=gauge, wound=wound, alloy=alloy, unit_weight_kg_m=weight))
    return own_set(weighed, tuning=tuning, wound_alloy=strings.alloy)


def gauge_text(gauge: str | float) -> str:
    """Return a gauge as text; a bare number is a plain string in inch."""
    return gauge if isinstance(gauge, str) else f"{gauge:g}"

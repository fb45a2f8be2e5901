"""Woods, what moisture and temperature do to them, and strings, against handbook and published values."""

from fem.geometry.outline import fret_positions
from materials.moisture import equilibrium_moisture, property_at, swelling, temperature_factor_along
from materials.pitch import note_frequency
from materials.strings import own_set, own_string, string_set, tension, tensions, total_tension
from materials.wood import wood

PSI = 6894.757
POUND = 4.4482216
INCH = 25.4e-3


def set_total(name: str) -> float:
    """Total of a set at 25.5 in scale in its own tuning [lbf]."""
    return total_tension(tensions(string_set(name), scale=25.5 * INCH)) / POUND


def light_12_54() -> float:
    """Total of a light bronze set with a 0.054 in 6th at 25.4 in scale [lbf]."""
    strings = own_set(["0.012", "0.016", "0.024w", "0.032w", "0.042w", "0.054w"], tuning="E2 A2 D3 G3 B3 E4")
    return total_tension(tensions(strings, scale=25.4 * INCH)) / POUND


def one_string(gauge: float, *, wound: bool, alloy: str, note: str) -> float:
    """Tension of one string at 25.5 in scale [lbf]."""
    string = own_string(gauge_in=gauge, wound=wound, alloy=alloy)
    return tension(string.unit_weight_kg_m, scale=25.5 * INCH, frequency=note_frequency(note)) / POUND


def partner_ratio(name: str) -> float:
    """nu_TL of a wood as its compliance matrix gives it, -S_LT / S_TT."""
    compliance = wood(name).compliance()
    return -float(compliance[0, 2] / compliance[2, 2])


def loss_per_percent(name: str) -> float:
    """Loss of E_L in per cent when moisture goes from 12 to 13 %."""
    dry = wood(name)
    return 100 * (1 - dry.at_moisture(13.0).e_l / dry.e_l)


OURS = {
    "materials-moisture-equation": lambda: property_at(103_000, 66_000, moisture=8, intersection=24),
    "materials-moisture-slope": lambda: loss_per_percent("birch-yellow"),
    "materials-equilibrium-60": lambda: equilibrium_moisture(0.60, 21.1),
    "materials-equilibrium-40": lambda: equilibrium_moisture(0.40, 21.0),
    "materials-modulus-along": lambda: wood("mahogany-honduran").e_l,
    "materials-reciprocity": lambda: partner_ratio("mahogany-honduran"),
    "materials-movement": lambda: swelling(wood("maple-sugar").shrink_t, from_moisture=8.0, to_moisture=9.0),
    "materials-temperature": lambda: temperature_factor_along(50.0),
    "materials-pitch-e4": lambda: note_frequency("E4"),
    "materials-pitch-e2": lambda: note_frequency("E2"),
    "materials-fret-14": lambda: float(fret_positions(1.0, 20)[13]),
    "materials-string-wound": lambda: one_string(0.046, wound=True, alloy="nickel-plated-steel", note="E2"),
    "materials-string-plain": lambda: one_string(0.010, wound=False, alloy="plain-steel", note="E4"),
    "materials-set-light-bronze": lambda: set_total("acoustic-light-80-20"),
    "materials-set-light-54": light_12_54,
    "materials-set-electric": lambda: set_total("electric-10-46"),
}
OUTSIDE = {
    "materials-modulus-along": 1.10 * 1.50e6 * PSI,
    "materials-set-electric": 46.96 * 9.80665 / POUND,
}

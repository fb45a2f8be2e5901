"""Woods, what moisture and temperature do to them, and strings, against handbook and published values."""

from fem.geometry.outline import fret_positions
from materials.moisture import equilibrium_moisture, property_at, swelling, temperature_factor_along
from materials.pitch import note_frequency
from materials.strings import own_string, string_set, tensions, total_tension
from materials.wood import wood

PSI = 6894.757
INCH = 25.4e-3


WEIGHED = {"E4": 0.405e-3, "B3": 0.693e-3, "G3": 1.174e-3, "D3": 2.373e-3, "A2": 4.404e-3, "E2": 7.140e-3}
"""Linear densities of an electric set 10-46, weighed by the metre [kg/m]."""


def set_total(name: str, scale: float) -> float:
    """Total of a set in its own tuning [N]."""
    return total_tension(tensions(string_set(name), scale=scale))


def weight(gauge: float, *, wound: bool) -> float:
    """Linear density of a string of an electric set [g/m]."""
    alloy = "nickel-plated-steel" if wound else "plain-steel"
    return 1e3 * own_string(gauge_in=gauge, wound=wound, alloy=alloy).unit_weight_kg_m


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
    "materials-string-plain": lambda: weight(0.010, wound=False),
    "materials-string-wound": lambda: weight(0.046, wound=True),
    "materials-set-electric": lambda: set_total("electric-10-46", 25.5 * INCH),
    "materials-set-nylon": lambda: set_total("classical-hard", 0.650),
}
OUTSIDE = {
    "materials-modulus-along": 1.10 * 1.50e6 * PSI,
    "materials-set-electric": sum(
        mu * (2 * 25.5 * INCH * 440 * 2 ** (semitones / 12)) ** 2
        for mu, semitones in zip(WEIGHED.values(), (-5, -10, -14, -19, -24, -29), strict=True)
    ),
}

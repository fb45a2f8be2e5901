"""Woods, what moisture and temperature do to them, and strings, against handbook and published values."""

from __future__ import annotations

from fem.geometry.outline import fret_positions
from materials.moisture import equilibrium_moisture, property_at, swelling, temperature_factor_along
from materials.pitch import note_frequency
from materials.strings import own_set, own_string, string_set, tension, tensions, total_tension
from materials.wood import wood
from tests.evidence_rows.mutation import Edited, Scaled
from tests.evidence_rows.row import Row

PSI = 6894.757
POUND = 4.4482216
INCH = 25.4e-3

NO_SHEAR_FACTOR = Scaled(
    "missing 1.10 between beam modulus and E_L", "materials.wood:SHEAR_DEFLECTION_FACTOR", 1 / 1.10
)
MOISTURE_SIGN = Edited(
    "moisture exponent with the sign reversed",
    "materials.moisture:property_at",
    "(REFERENCE_MOISTURE - min(moisture, intersection))",
    "(min(moisture, intersection) - REFERENCE_MOISTURE)",
)
MOISTURE_SPAN = Edited(
    "moisture exponent over Mp instead of Mp - 12",
    "materials.moisture:property_at",
    "/ (intersection - REFERENCE_MOISTURE)",
    "/ intersection",
)
NO_HYDRATION = Edited(
    "equilibrium moisture without its second term",
    "materials.moisture:equilibrium_moisture",
    "(kh / (1.0 - kh) + bound)",
    "(kh / (1.0 - kh))",
)
PERCENT_KH = Edited(
    "equilibrium moisture with K left out of K H",
    "materials.moisture:equilibrium_moisture",
    "kh = k * relative_humidity",
    "kh = relative_humidity",
)
SATURATION = Scaled("fibre saturation 27 % for 30 %", "materials.moisture:FIBRE_SATURATION", 0.9)
FAHRENHEIT = Edited(
    "degrees Celsius put into a law in degrees Fahrenheit",
    "materials.moisture:temperature_factor_along",
    "1.8 * celsius",
    "celsius",
)
RECIPROCITY = Edited(
    "Poisson's ratio taken for its partner (nu_LT used as nu_TL)",
    "materials.wood:_scaled_normal_block",
    "lt = -wood.nu_lt * math.sqrt(wood.e_t / wood.e_l)",
    "lt = -wood.nu_lt / math.sqrt(wood.e_t / wood.e_l) * 0.1",
)


HALF_LENGTH = Edited(
    "string length not doubled in T = mu (2 L f)^2", "materials.strings:tension", "2.0 * scale", "scale"
)
OCTAVE = Edited(
    "octave numbers counted from A instead of C",
    "materials.pitch:note_frequency",
    "(int(octave) - 4)",
    "(int(octave) - 4.1)",
)
TEMPERAMENT = Edited("eleven semitones to the octave", "materials.pitch:note_frequency", "/ 12.0", "/ 11.0")
SOLID_WRAP = Edited(
    "wrap counted as solid metal",
    "materials.string_density:wound_linear_density",
    "packing * wrap_density",
    "wrap_density",
)
LIGHT_CORE = Edited(
    "core left out of a wound string",
    "materials.string_density:wound_linear_density",
    "core_density * core_ratio**2 + packing",
    "packing",
)
FRET_RATIO = Edited("eleven frets to the octave", "fem.geometry.outline:fret_positions", "/ 12", "/ 11")


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


HANDBOOK = "Wood Handbook, FPL-GTR-282"

ROWS = [
    Row(
        "materials-moisture-equation [kPa]",
        "modulus of rupture of white ash at 8 % moisture from 103,000 kPa at 12 % and 66,000 kPa green",
        ours=lambda: property_at(103_000, 66_000, moisture=8, intersection=24),
        outside=119_500,
        tolerance="0.05 %: the book prints four digits",
        source="table: Wood Handbook, FPL-GTR-190, worked example to Eq. 5-3, p. 5-34",
        mutations=(MOISTURE_SIGN, MOISTURE_SPAN),
    ),
    Row(
        "materials-moisture-slope [per cent]",
        "loss of E_L of yellow birch for one per cent more moisture, from 12 %",
        ours=lambda: loss_per_percent("birch-yellow"),
        outside=2.0,
        tolerance="0.3 per cent: one decimal is printed, from a series of tests other than the one behind our table",
        source="table: ANC-18, Design of Wood Aircraft Structures (1951), as quoted in a book on boat building",
        mutations=(MOISTURE_SIGN, MOISTURE_SPAN),
    ),
    Row(
        "materials-equilibrium-60 [% moisture]",
        "equilibrium moisture at 60 % relative humidity and 21.1 degC",
        ours=lambda: equilibrium_moisture(0.60, 21.1),
        outside=11.1,
        tolerance="0.15 % moisture: the source gives the humidity, to a whole per cent, for a moisture of 10 % of wet mass: half a per cent of humidity is 0.1 % (0.1 was set first, taking it the other way round)",
        source="seen: examples of an equilibrium-moisture calculator after Simpson, FPL-RN-0268 (1998)",
        mutations=(NO_HYDRATION, PERCENT_KH),
    ),
    Row(
        "materials-equilibrium-40 [% moisture]",
        "equilibrium moisture at 40 % relative humidity and 21 degC",
        ours=lambda: equilibrium_moisture(0.40, 21.0),
        outside=7.7,
        tolerance="0.1 % moisture: one decimal is printed",
        source="table: table of equilibrium moisture quoted on a forum page, after the Wood Handbook",
        mutations=(NO_HYDRATION, PERCENT_KH),
    ),
    Row(
        "materials-modulus-along [Pa]",
        "E_L of Honduran mahogany, 1.10 times its beam modulus of 1.50e6 psi",
        ours=lambda: wood("mahogany-honduran").e_l,
        outside=1.10 * 1.50e6 * PSI,
        tolerance="0.4 %: the modulus is printed to three digits",
        source="seen: Wood Handbook (1999), Table 4-5b, as quoted on an engineers' mailing list; 1.10 from Table 4-1",
        mutations=(NO_SHEAR_FACTOR,),
    ),
    Row(
        "materials-reciprocity [-]",
        "nu_TL of Honduran mahogany as it follows from nu_LT, E_L and E_T",
        ours=lambda: partner_ratio("mahogany-honduran"),
        outside=0.034,
        tolerance="3 %: the table prints two digits (half a unit is 1.5 %) and is itself not quite symmetric",
        source=f"memory: {HANDBOOK}, Table 5-2",
        mutations=(RECIPROCITY,),
    ),
    Row(
        "materials-movement [-]",
        "tangential swelling of sugar maple (9.9 % green to dry) from 8 to 9 % moisture",
        ours=lambda: swelling(wood("maple-sugar").shrink_t, from_moisture=8.0, to_moisture=9.0),
        outside=0.00353,
        tolerance="3 %: the coefficient is one straight line for 6 to 14 %, referred to the size at 10 %",
        source="seen: dimensional change coefficient of hard maple, physical properties page of a flooring association",
        mutations=(SATURATION,),
    ),
    Row(
        "materials-temperature [-]",
        "E along the grain at 12 % moisture and 50 degC over that at 20 degC (lumber) against clear wood",
        ours=lambda: temperature_factor_along(50.0),
        outside=0.93,
        tolerance="0.02: two tables of one book, one for lumber and one for clear wood, printed to whole per cents",
        source=f"table: {HANDBOOK}, Table 5-15 (our law is Table 5-16)",
        mutations=(FAHRENHEIT,),
    ),
    Row(
        "materials-pitch-e4 [Hz]",
        "frequency of E4, five semitones under A4 = 440 Hz",
        ours=lambda: note_frequency("E4"),
        outside=329.6275569128,
        tolerance="1e-7 %: both sides follow one formula; the source prints more digits than that",
        source="seen: Online Encyclopedia of Integer Sequences, A329211 (E4 in equal temperament)",
        mutations=(TEMPERAMENT,),
    ),
    Row(
        "materials-pitch-e2 [Hz]",
        "frequency of E2, the low string of a guitar",
        ours=lambda: note_frequency("E2"),
        outside=82.407,
        tolerance="0.001 %: the table prints five digits",
        source="seen: table of note frequencies in equal temperament, public page (55 Hz base, step 7 above A1)",
        mutations=(TEMPERAMENT, OCTAVE),
    ),
    Row(
        "materials-fret-14 [-]",
        "distance of fret 14 from the nut over the scale",
        ours=lambda: float(fret_positions(1.0, 20)[13]),
        outside=0.554551,
        tolerance="0.0001 %: the table prints six digits",
        source="seen: table of fret factors, d = s - s / 2^(n/12), on a page about fret positioning",
        mutations=(FRET_RATIO,),
    ),
    Row(
        "materials-string-wound [lbf]",
        "tension of a 0.046 in nickel-wound string at E2, 25.5 in scale",
        ours=lambda: one_string(0.046, wound=True, alloy="nickel-plated-steel", note="E2"),
        outside=17.5,
        tolerance="2 %: unit weights of one gauge differ by about 2 % between makers",
        source="seen: worked figure on a string-tension page",
        mutations=(HALF_LENGTH,),
    ),
    Row(
        "materials-string-plain [lbf]",
        "tension of a 0.010 in plain steel string at E4, 25.5 in scale",
        ours=lambda: one_string(0.010, wound=False, alloy="plain-steel", note="E4"),
        outside=16.2,
        tolerance="1 %: three digits are printed, and steel wire differs by half a per cent in density",
        source="memory: tension printed by a maker of strings; a string-tension page confirms 'about 16 lb'",
        mutations=(HALF_LENGTH,),
    ),
    Row(
        "materials-set-light-bronze [lbf]",
        "total of the light acoustic set, 80/20 bronze, 25.5 in scale",
        ours=lambda: set_total("acoustic-light-80-20"),
        outside=159.0,
        tolerance="3 %: a rating for a pack whose 3rd and 6th gauge may differ by 0.001 in (2 to 4 % of those strings), rounded",
        source="table: ratings printed on string packs, quoted in a builder's article on truss rods",
        mutations=(HALF_LENGTH, SOLID_WRAP, LIGHT_CORE),
    ),
    Row(
        "materials-set-light-54 [lbf]",
        "total of a light bronze set with a 0.054 in 6th, 25.4 in scale",
        ours=light_12_54,
        outside=165.0,
        tolerance="3 %: the page names the outer gauges only and rounds to a pound",
        source="seen: repairer's notes on string tension (2015), table of scales for light strings",
        mutations=(HALF_LENGTH,),
    ),
    Row(
        "materials-set-electric [lbf]",
        "total of the electric set 10-46, 25.5 in scale",
        ours=lambda: set_total("electric-10-46"),
        outside=46.96 * 9.80665 / POUND,
        tolerance="2 %: the page's gauges are not stated; 10-46 is the usual set",
        source="table: university student's page on the neck of an electric guitar (2010): 46.96 kgf",
        mutations=(HALF_LENGTH,),
    ),
]

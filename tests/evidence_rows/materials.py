"""Woods and what moisture and temperature do to them, against handbook values."""

from __future__ import annotations

from materials.moisture import equilibrium_moisture, property_at, swelling, temperature_factor_along
from materials.wood import wood
from tests.evidence_rows.mutation import Edited, Scaled
from tests.evidence_rows.row import Row

PSI = 6894.757

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
        part="materials",
        key="materials-moisture-equation",
        what="modulus of rupture of white ash at 8 % moisture from 103,000 kPa at 12 % and 66,000 kPa green",
        unit="kPa",
        ours=lambda: property_at(103_000, 66_000, moisture=8, intersection=24),
        outside=119_500,
        tolerance=5e-4,
        reason="the book prints four digits",
        source="Wood Handbook, FPL-GTR-190, worked example to Eq. 5-3, p. 5-34",
        mark="table",
        mutations=(MOISTURE_SIGN, MOISTURE_SPAN),
    ),
    Row(
        part="materials",
        key="materials-moisture-slope",
        what="loss of E_L of yellow birch for one per cent more moisture, from 12 %",
        unit="per cent",
        ours=lambda: loss_per_percent("birch-yellow"),
        outside=2.0,
        tolerance=0.3,
        absolute=True,
        reason="one decimal is printed, from a series of tests other than the one behind our table",
        source="ANC-18, Design of Wood Aircraft Structures (1951), as quoted in a book on boat building",
        mark="table",
        mutations=(MOISTURE_SIGN, MOISTURE_SPAN),
    ),
    Row(
        part="materials",
        key="materials-equilibrium-60",
        what="equilibrium moisture at 60 % relative humidity and 21.1 degC",
        unit="% moisture",
        ours=lambda: equilibrium_moisture(0.60, 21.1),
        outside=11.1,
        tolerance=0.15,
        absolute=True,
        reason="the source gives the humidity, to a whole per cent, for a moisture of 10 % of wet mass: half a per cent of humidity is 0.1 % (0.1 was set first, taking it the other way round)",
        source="examples of an equilibrium-moisture calculator after Simpson, FPL-RN-0268 (1998)",
        mark="seen",
        mutations=(NO_HYDRATION, PERCENT_KH),
    ),
    Row(
        part="materials",
        key="materials-equilibrium-40",
        what="equilibrium moisture at 40 % relative humidity and 21 degC",
        unit="% moisture",
        ours=lambda: equilibrium_moisture(0.40, 21.0),
        outside=7.7,
        tolerance=0.1,
        absolute=True,
        reason="one decimal is printed",
        source="table of equilibrium moisture quoted on a forum page, after the Wood Handbook",
        mark="table",
        mutations=(NO_HYDRATION, PERCENT_KH),
    ),
    Row(
        part="materials",
        key="materials-modulus-along",
        what="E_L of Honduran mahogany, 1.10 times its beam modulus of 1.50e6 psi",
        unit="Pa",
        ours=lambda: wood("mahogany-honduran").e_l,
        outside=1.10 * 1.50e6 * PSI,
        tolerance=4e-3,
        reason="the modulus is printed to three digits",
        source="Wood Handbook (1999), Table 4-5b, as quoted on an engineers' mailing list; 1.10 from Table 4-1",
        mark="seen",
        mutations=(NO_SHEAR_FACTOR,),
    ),
    Row(
        part="materials",
        key="materials-reciprocity",
        what="nu_TL of Honduran mahogany as it follows from nu_LT, E_L and E_T",
        unit="-",
        ours=lambda: partner_ratio("mahogany-honduran"),
        outside=0.034,
        tolerance=0.03,
        reason="the table prints two digits (half a unit is 1.5 %) and is itself not quite symmetric",
        source=f"{HANDBOOK}, Table 5-2",
        mark="memory",
        mutations=(RECIPROCITY,),
    ),
    Row(
        part="materials",
        key="materials-movement",
        what="tangential swelling of sugar maple (9.9 % green to dry) from 8 to 9 % moisture",
        unit="-",
        ours=lambda: swelling(wood("maple-sugar").shrink_t, from_moisture=8.0, to_moisture=9.0),
        outside=0.00353,
        tolerance=0.03,
        reason="the coefficient is one straight line for 6 to 14 %, referred to the size at 10 %",
        source="dimensional change coefficient of hard maple, physical properties page of a flooring association",
        mark="seen",
        mutations=(SATURATION,),
    ),
    Row(
        part="materials",
        key="materials-temperature",
        what="E along the grain at 12 % moisture and 50 degC over that at 20 degC (lumber) against clear wood",
        unit="-",
        ours=lambda: temperature_factor_along(50.0),
        outside=0.93,
        tolerance=0.02,
        absolute=True,
        reason="two tables of one book, one for lumber and one for clear wood, printed to whole per cents",
        source=f"{HANDBOOK}, Table 5-15 (our law is Table 5-16)",
        mark="table",
        mutations=(FAHRENHEIT,),
    ),
]

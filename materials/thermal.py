"""Thermal expansion of wood at constant moisture; drying by heat shrinks it far more.

Sources by number in `sources.md`: [1] Wood Handbook, chapter 4.
"""

# Along the grain 3e-6 to 5e-6 per kelvin ([1] chapter 4: 3.1e-6 to 4.5e-6, from memory).
EXPANSION_ALONG = 4.0e-6


def expansion_radial(density: float) -> float:
    """Return the coefficient of thermal expansion across the rings [1/K] by density [kg/m3].

    (32.4 G + 9.9) 1e-6 with the ovendry specific gravity G, [1] chapter 4, from memory; other tables give
    about 30e-6 across the grain (second-hand). G is taken as the density at 12 % over 1120 kg/m3.
    """
    return (32.4 * density / 1120.0 + 9.9) * 1e-6


def expansion_tangential(density: float) -> float:
    """Return the coefficient of thermal expansion along the rings [1/K] by density [kg/m3].

    (32.4 G + 18.4) 1e-6, as `expansion_radial`; a public table gives 36e-6 for lumber (found).
    """
    return (32.4 * density / 1120.0 + 18.4) * 1e-6

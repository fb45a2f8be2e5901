"""A wood that is not in the table, from its density and its modulus along the grain."""

import math
from types import MappingProxyType

from materials.errors import MaterialError
from materials.moisture import REFERENCE_MOISTURE
from materials.wood import SHEAR_DEFLECTION_FACTOR, Wood, wood, wood_names

NOT_IN_TABLE = "not in the wood table"
"""Says in the borrowed data of an answer that a wood is the user's own."""
SOFTWOODS = ("cedar", "cypress", "douglas", "fir", "larch", "pine", "redcedar", "redwood", "spruce", "yew")
"""First words of the names of softwoods."""

# Strength across the grain [MPa] over gravity G: factor and power for compression and for tension,
# Table 5-11a of [1], from memory, as for the woods of the table.
STRENGTH = {"hardwood": ((21.6, 2.09), (10.1, 1.3)), "softwood": ((16.5, 1.57), (6.0, 1.11))}
MASS_OVER_GRAVITY = 1.12e3
"""Density at 12 % moisture over specific gravity [kg/m3], Eq 4-14 of [1]."""
USUAL_COV = 0.22
"""Coefficient of variation of the modulus of clear wood, [2] Table 5-6."""


def kind_of(name: str) -> str:
    """Return `softwood` or `hardwood`, by the first word of a wood's name.

    Examples
    --------
    >>> kind_of("spruce-white"), kind_of("koa")
    ('softwood', 'hardwood')
    """
    return "softwood" if first_word(name) in SOFTWOODS else "hardwood"


def first_word(name: str) -> str:
    """Return the first word of a wood's name, which woods of a family share: `maple` of `maple-red`."""
    return name.lower().split("-")[0]


def nearest_relative(name: str, *, density: float, kind: str | None = None) -> Wood:
    """Return the wood of the table whose ratios a wood takes that is not in it.

    Only woods whose own ratios are published count. Those with the same first word in their name, as all
    maples, go first; else all of its kind. Among them it is the nearest in density.

    Parameters
    ----------
    density : Density at 12 % moisture [kg/m3].
    kind : `hardwood` or `softwood`; by the name if None.
    """
    kind = kind or kind_of(name)
    published = [one for one in map(wood, wood_names()) if one.ratio_stand_in is None]
    family = [one for one in published if first_word(one.name) == first_word(name)]
    alike = family or [one for one in published if kind_of(one.name) == kind]
    return min(alike, key=lambda one: abs(math.log(one.density / density)))


def own_wood(
    name: str, *, density: float, e_l: float, relative: str | None = None, kind: str | None = None
) -> Wood:
    """Return a wood that is not in the table, at 12 % moisture.

    Elastic ratios, Poisson's ratios, shrinkage and intersection moisture are those of a relative in the
    table; strengths across the grain follow from the density.

    Parameters
    ----------
    density : Density [kg/m3].
    e_l : Young's modulus along the grain [Pa]; 1.10 times a published bending modulus.
    relative : Name of the relative; `nearest_relative` if None.
    kind : `hardwood` or `softwood`; by the name if None.

    Raises `MaterialError`: a name of the table, an unknown relative, or a value that no wood has.
    """
    if name.lower() in wood_names():
        raise MaterialError(f"'{name}' is a wood of the table; give your own wood another name")
    kind = kind or kind_of(name)
    kin = wood(relative) if relative else nearest_relative(name, density=density, kind=kind)
    across, along = STRENGTH[kind], e_l / kin.e_l
    gravity = density / MASS_OVER_GRAVITY
    compression, tension = (1e6 * factor * gravity**power for factor, power in across)
    given, borrowed = ("measured value", "given"), (f"as {kin.name}, a choice", "derived")
    group = first_word(name) if first_word(name) == first_word(kin.name) else kind
    taken = "as named" if relative else f"the {group} nearest in density whose ratios are published"
    moved = kin.scaled(along=along, across=along, shear=along)
    regression = (f"[1] Table 5-11a {kind} regression", "memory")
    fields = {key: getattr(moved, key) for key in ("e_l", "e_r", "e_t", "g_lr", "g_lt", "g_rt")}
    kept = ("nu_lr", "nu_lt", "nu_rt", "shrink_r", "shrink_t", "shrink_v")
    fields |= {key: getattr(kin, key) for key in kept}
    return Wood(
        name=name,
        common_name=name,
        botanical="given by the user",
        uses="own wood",
        density=density,
        compression_across=compression,
        tension_across=tension,
        moe=e_l / SHEAR_DEFLECTION_FACTOR,
        moe_green=None,
        moe_cov=USUAL_COV,
        moisture_percent=REFERENCE_MOISTURE,
        intersection_percent=kin.intersection_percent,
        ratio_stand_in=kin.name,
        standins=(
            f"{name}: {NOT_IN_TABLE}; density {density:g} kg/m3 and E_L {e_l / 1e9:g} GPa as given, "
            f"elastic ratios and shrinkage of {kin.name} ({kin.density:.0f} kg/m3), {taken}",
            f"{name}: strength across the grain is estimated from density",
        ),
        sources=MappingProxyType(
            dict.fromkeys(fields, borrowed)
            | {"density": given, "e_l": given, "moe": given, "intersection_percent": borrowed}
            | dict.fromkeys(("compression_across", "tension_across"), regression)
            | {"moe_cov": ("[2] Table 5-6", "found")}
        ),
        **fields,
    )

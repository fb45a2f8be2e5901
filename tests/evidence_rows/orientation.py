"""Wood turned into the axes of the neck, and creep, against rotation formulas and the code of practice."""

import math
from dataclasses import replace

import numpy as np

from materials.creep import CREEP_BAND, kelvin_chain
from materials.orientation import RING_ANGLES, plane_stress, section_moduli
from materials.wood import Wood, wood


def off_axis_wood() -> Wood:
    """The wood of the off-axis example: E_L 11, E_T 0.704, G_LT 0.946 GPa, nu_LT 0.533."""
    return replace(wood("mahogany-honduran"), e_l=11e9, e_t=0.704e9, e_r=1.177e9, g_lt=0.946e9, nu_lt=0.533)


def off_axis_compliance(row: int, degrees: float) -> float:
    """Strain `row` (xx, zz, xz) for unit stress along x, quarter sawn, grain at an angle [1/MPa]."""
    stiffness = plane_stress(off_axis_wood(), depth_axis=0.0, runout=math.radians(degrees))
    return 1e6 * float(np.linalg.inv(stiffness)[row, 0])


def depth_modulus(name: str, ring: str) -> float:
    """Modulus through the depth of a neck [Pa]."""
    stiffness = plane_stress(wood(name), depth_axis=RING_ANGLES[ring])
    return 1 / float(np.linalg.inv(stiffness)[1, 1])


def rift_formula(name: str) -> float:
    """E at 45 degrees between R and T, from the four moduli of that plane [Pa]."""
    w = wood(name)
    return 4 / (1 / w.e_r + 1 / w.e_t + 1 / w.g_rt - 2 * w.nu_rt / w.e_r)


OURS = {
    "materials-off-axis-modulus": lambda: 1 / off_axis_compliance(0, 30.0),
    "materials-off-axis-shear": lambda: off_axis_compliance(2, 30.0),
    "materials-rift": lambda: depth_modulus("spruce-sitka", "rift"),
    "materials-quarter-shear": lambda: (
        section_moduli(wood("maple-sugar"), RING_ANGLES["quarter"])[2] / wood("maple-sugar").e_l
    ),
    "materials-creep-final": lambda: 1 + kelvin_chain(k_def=CREEP_BAND[1]).at(50.0),
}
OUTSIDE = {
    "materials-rift": lambda: rift_formula("spruce-sitka"),
}

"""The stiffness of a wood in the axes of the neck: x from nut to bridge, y across, z up towards the strings.

The ring angle is the direction of the growth rings: 0 = quarter sawn (z tangential), pi/2 = flat sawn (z
radial), between = rift. All functions rotate the compliance tensor, as in Mascia and Lahr, *Materials
Research* 9 (2006) 301-310 (abstract seen).
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from materials.errors import MaterialError
from materials.wood import Wood

Matrix = NDArray[np.float64]
Grain = Literal["vertical", "lengthwise", "across"]

RING_ANGLES = {"quarter": 0.0, "rift": math.pi / 4.0, "flat": math.pi / 2.0}
# No neck has more runout, and the limit catches degrees given for radians.
RUNOUT_LIMIT = math.radians(30.0)

# Index pairs in the order xx, yy, zz, yz, xz, xy (for the wood: LL, RR, TT, RT, LT, LR).
_PAIRS = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
_PLACES = [3 * i + j for i, j in _PAIRS]
_PAIR_AT = [_PAIRS.index((min(i, j), max(i, j))) for i in range(3) for j in range(3)]
# An engineering shear strain is twice that of the tensor.
_TWICE = np.array([1 if i == j else 2 for i, j in _PAIRS])
_COUNTED = np.outer(_TWICE, _TWICE)
_IN_PLANE = np.ix_((0, 2, 4), (0, 2, 4))


def ring_angle(name: str) -> float:
    """Return the ring angle [rad] of `quarter`, `rift` or `flat` sawn wood.

    Raises `MaterialError`: another name.
    """
    if name not in RING_ANGLES:
        raise MaterialError(f"unknown ring orientation '{name}'; take one of {', '.join(RING_ANGLES)}")
    return RING_ANGLES[name]


def rotated_compliance(wood: Wood, axes: Matrix) -> Matrix:
    """Return the compliance in other axes, order xx, yy, zz, yz, xz, xy, shape (6, 6) [1/Pa].

    Shear strain is the engineering one.

    Parameters
    ----------
    wood : The wood.
    axes : Rows: unit vectors x, y, z in terms of L, R, T, shape (3, 3).
    """
    # the tensor as a matrix over the nine index pairs, turned by the Kronecker square of the axes
    tensor = (wood.compliance() / _COUNTED)[np.ix_(_PAIR_AT, _PAIR_AT)]
    turn = np.kron(axes, axes)[_PLACES]
    return np.asarray(turn @ tensor @ turn.T * _COUNTED)


def lengthwise_compliance(wood: Wood, *, depth_axis: float, runout: float = 0.0) -> Matrix:
    """Return the compliance of a neck or board, order xx, yy, zz, yz, xz, xy, shape (6, 6) [1/Pa].

    Parameters and errors as `plane_stress`.
    """
    if not abs(runout) <= RUNOUT_LIMIT:
        raise MaterialError(
            f"grain runout {runout:g} rad is beyond 30 degrees; give a runout of at most 30 degrees"
        )
    return rotated_compliance(wood, _lengthwise_axes(depth_axis, runout))


def _lengthwise_axes(ring: float, runout: float) -> Matrix:
    """Return x, y, z in terms of L, R, T for grain along the neck, tilted by the runout from x towards z."""
    depth = np.array([0.0, math.sin(ring), math.cos(ring)])
    along = np.array([1.0, 0.0, 0.0])
    x = math.cos(runout) * along - math.sin(runout) * depth
    z = math.sin(runout) * along + math.cos(runout) * depth
    return np.array([x, np.cross(z, x), z])


def plane_stress(wood: Wood, *, depth_axis: float, runout: float = 0.0) -> Matrix:
    """Return the plane-stress stiffness of a neck in its side view, order xx, zz, xz, shape (3, 3) [Pa].

    The compliance is turned about L by the ring angle, then in the x-z plane by the runout; its in-plane
    part is inverted. Rift wood would also shear out of the plane; that strain is free, as always in plane
    stress.

    Parameters
    ----------
    wood : The wood.
    depth_axis : Ring angle [rad]: 0 quarter sawn (z tangential), pi/2 flat sawn (z radial).
    runout : Angle of the grain from x towards z [rad], -30 to 30 degrees.

    Raises `MaterialError`: runout out of range.
    """
    compliance = lengthwise_compliance(wood, depth_axis=depth_axis, runout=runout)
    return np.asarray(np.linalg.inv(compliance[_IN_PLANE]), dtype=np.float64)


def block_plane_stress(wood: Wood, *, grain: Grain, ring_angle: float = 0.0) -> Matrix:
    """Return the plane-stress stiffness of the neck block, order xx, zz, xz, shape (3, 3) [Pa].

    Parameters and errors as `block_compliance`.
    """
    compliance = block_compliance(wood, grain=grain, ring_angle=ring_angle)
    return np.asarray(np.linalg.inv(compliance[_IN_PLANE]), dtype=np.float64)


def block_compliance(wood: Wood, *, grain: Grain, ring_angle: float = 0.0) -> Matrix:
    """Return the compliance of the neck block, order xx, yy, zz, yz, xz, xy, shape (6, 6) [1/Pa].

    Parameters
    ----------
    wood : The wood.
    grain : Direction of L: `vertical` along z, `lengthwise` along x, `across` along y.
    ring_angle : Turn about L [rad]. At 0 the tangential direction is z (`lengthwise`, `across`) or x
      (`vertical`); at pi/2 the radial direction is.

    Raises `MaterialError`: another grain direction.
    """
    cross = np.array([0.0, math.sin(ring_angle), math.cos(ring_angle)])
    along = np.array([1.0, 0.0, 0.0])
    if grain == "lengthwise":
        axes = _lengthwise_axes(ring_angle, 0.0)
    elif grain == "vertical":
        axes = np.array([cross, np.cross(along, cross), along])
    elif grain == "across":
        axes = np.array([np.cross(along, cross), along, cross])
    else:
        raise MaterialError(f"unknown grain direction '{grain}'; take one of vertical, lengthwise, across")
    return rotated_compliance(wood, axes)


def section_moduli(wood: Wood, ring_angle: float) -> tuple[float, float, float]:
    """Return the moduli of a neck's cross-section: E_x, and G_xy, G_xz for shear across and up [Pa].

    Grain along x. Each shear modulus holds for zero shear stress in the other direction (1 / G_xz = cos^2 /
    G_LT + sin^2 / G_LR), as in a section without a lateral shear force. Quarter sawn: G_xz = G_LT.
    """
    compliance = rotated_compliance(wood, _lengthwise_axes(ring_angle, 0.0))
    return (
        float(1.0 / compliance[0, 0]),
        float(1.0 / compliance[5, 5]),
        float(1.0 / compliance[4, 4]),
    )

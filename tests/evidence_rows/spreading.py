"""The block's yielding across its width against elastic half-planes and layers of isotropic material."""

from __future__ import annotations

import numpy as np

from fem.joint.local_indentation import half_plane
from tests.evidence_rows.mutation import Edited
from tests.evidence_rows.row import Row

YOUNG, POISSON = 12e9, 0.3

PLANE_STRESS = Edited(
    "plane stress in the place of plane strain",
    "fem.joint.local_indentation:half_plane",
    "compliance[i, j] - compliance[i, held] * compliance[held, j] / compliance[held, held]",
    "compliance[i, j]",
)
ONE_ROOT = Edited(
    "one decay rate forgotten",
    "fem.joint.local_indentation:HalfPlane.under_pressure",
    "self.along * self.product * self.total",
    "self.along * self.product",
)
NO_FLOOR = Edited(
    "free face below a layer left out",
    "fem.joint.local_indentation:HalfPlane.layer",
    "if depth > 12.0",
    "if depth > 0.0",
)


def isotropic() -> np.ndarray:
    """Compliance of an isotropic solid, (6, 6) [1/Pa]."""
    shear = 2.0 * (1.0 + POISSON)
    compliance = np.diag([1.0, 1.0, 1.0, shear, shear, shear])
    compliance[:3, :3] -= POISSON * (1.0 - np.eye(3))
    return compliance / YOUNG


def layer_on_nothing(depth: float) -> float:
    """Movement of a free layer's face under a wave of pressure, by stress functions of the layer [1/Pa]."""
    sinh, cosh = np.sinh(depth), np.cosh(depth)
    return float(2.0 * (1.0 - POISSON**2) / YOUNG * (sinh * cosh + depth) / (sinh**2 - depth**2))


ROWS = [
    Row(
        "contact-wave-half-plane [1/Pa]",
        "movement of a half-plane's face under a wave of pressure, per height and wavelength/2 pi; E 12 GPa, nu 0.3",
        ours=lambda: half_plane(isotropic(), into=0, along=1).under_pressure,
        outside=2.0 * (1.0 - POISSON**2) / YOUNG,
        tolerance="1e-7 %: both are closed forms",
        source="memory: 2 (1 - nu^2) p/(E k): Johnson, Contact Mechanics, ch. 13 (wavy surfaces)",
        mutations=(PLANE_STRESS, ONE_ROOT),
    ),
    Row(
        "contact-wave-layer [1/Pa]",
        "the same for a layer 15 mm deep and a wave 80 mm long, its lower face free",
        ours=lambda: half_plane(isotropic(), into=0, along=1).layer(2.0 * np.pi * 15.0 / 80.0),
        outside=lambda: layer_on_nothing(2.0 * np.pi * 15.0 / 80.0),
        tolerance="0.001 %: equal decay rates are parted by 1e-4 of themselves, which enters squared",
        source="memory: stress function of a layer under a sine load, Timoshenko & Goodier, Theory of Elasticity, art. 24, solved here",
        mutations=(PLANE_STRESS, NO_FLOOR),
    ),
]

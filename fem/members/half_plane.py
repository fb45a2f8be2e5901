"""A wood under waves of load on its face (docs/theory-joint.md, section 5).

Lekhnitskii [lekhnitskii1963], from memory: the stress function of a
wave decays into the wood at two rates.
"""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array

DEEP = 12.0
"""Wave number times depth from which the far face of a layer is out of reach."""


def shear_place(i: int, j: int) -> int:
    """Position of a shear in the order xx, yy, zz, yz, xz, xy."""
    return 6 - i - j


@dataclass(frozen=True)
class HalfPlane:
    """A wood under waves of load on its face, in plane strain.

    Compliances normal to (``into``) and along the face, between the two, and in shear [1/Pa].
    """

    into: float
    along: float
    between: float
    shear: float

    @property
    def product(self) -> float:
        """Product of the two decay rates of a wave into the wood, per wave number."""
        return float(np.sqrt(self.into / self.along))

    @property
    def total(self) -> float:
        """Sum of the two decay rates."""
        return float(np.sqrt(2.0 * self.product + (2.0 * self.between + self.shear) / self.along))

    @property
    def rates(self) -> Array:
        """The two decay rates per wave number, (2,) complex.

        Equal rates would need other functions; rates set this little apart give the same results.
        """
        apart = np.sqrt(complex(self.total**2 - 4.0 * self.product))
        if abs(apart) < 1e-4 * self.total:
            apart = complex(1e-4 * self.total)
        return 0.5 * np.array([self.total + apart, self.total - apart])

    @property
    def under_pressure(self) -> float:
        """Displacement under a wave of pressure per amplitude and wavelength / 2 pi [1/Pa]."""
        return self.along * self.product * self.total

    @property
    def under_shear(self) -> float:
        """Displacement along the face under a wave of shear, likewise [1/Pa]."""
        return self.along * self.total

    def layer(self, depth: Array) -> tuple[Array, Array]:
        """``under_pressure`` of a layer with a free face below, on the pressed face and, as a size, on the
        free one, shape of ``depth`` (n,), which is wave number times thickness.
        """
        near, far = np.full(len(depth), self.under_pressure), np.zeros(len(depth))
        rates, shallow = self.rates, depth <= DEEP
        fade = np.exp(-np.outer(depth[shallow], rates))
        one = np.ones_like(fade)
        # stress function of waves that decay from either face: value and slope at both faces
        system = np.stack(
            [
                np.hstack([one, fade]),
                np.hstack([-rates * one, rates * fade]),
                np.hstack([fade, one]),
                np.hstack([-rates * fade, rates * one]),
            ],
            axis=1,
        )
        parts = np.linalg.solve(system, np.eye(4)[:, :1])[:, :, 0]
        pressed = np.hstack([-(rates**3) * one, rates**3 * fade])
        free = np.hstack([-(rates**3) * fade, rates**3 * one])
        near[shallow] = np.real(self.along * np.sum(pressed * parts, axis=1))
        far[shallow] = np.abs(np.real(self.along * np.sum(free * parts, axis=1)))
        return near, far

    def buried(self) -> Array:
        """Parts of the face's displacement under a load below it that fade with each rate, (2,), adding to 1.

        By reciprocity: those of the displacement at that depth under a load on the face.
        """
        one, two = self.rates
        parts = np.array(
            [
                self.into * two / one - self.between * one * two,
                self.between * one * two - self.into * one / two,
            ]
        )
        return np.asarray(parts / parts.sum())

    def reached(self, half_width: Array) -> Array:
        """Mean stress across a strip whose two faces are pressed in waves along it, per stress on the faces,
        shape of ``half_width`` (wave number times half the strip's width): 1 for long waves, 0 for short.
        """
        one, two = self.rates
        first, second = np.tanh(one * half_width), np.tanh(two * half_width)
        slope = half_width * (two * second - one * first)
        return np.asarray(np.real(first * second * (two**2 - one**2) / (one * two) / slope))


def half_plane(compliance: Array, *, into: int, along: int) -> HalfPlane:
    """Half-plane of a wood of compliance (6, 6), order xx, yy, zz, yz, xz, xy [1/Pa].

    Axes (0 x, 1 y, 2 z) ``into`` the face and ``along`` it; no strain along the third.
    """
    held = 3 - into - along

    def flat(i: int, j: int) -> float:
        return float(compliance[i, j] - compliance[i, held] * compliance[held, j] / compliance[held, held])

    shear = float(compliance[shear_place(into, along), shear_place(into, along)])
    return HalfPlane(flat(into, into), flat(along, along), flat(into, along), shear)

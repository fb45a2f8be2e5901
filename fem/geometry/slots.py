"""Stiffness left in the slotted top layer of a fretboard."""

from __future__ import annotations

import math

from materials.errors import InputError


def slot_fraction(depth: float, spacing: float, *, young: float, shear: float) -> float:
    """Fraction of its moduli that a slotted layer keeps [-]; 1 for a depth of zero.

    A layer of thickness `depth`, cut through at every `spacing` and bonded to a strained substrate, takes up
    stress again by shear within a few thicknesses from each cut (shear lag). Derivation: the displacement of
    the layer relative to the substrate is taken as a parabola over its thickness t, free of shear at the top,
    ``u = 3/2 m(x) (2 z/t - (z/t)^2)`` with m its mean over the thickness. The shear stress at the bond is
    ``q = 3 G m/t``. With the substrate's strain e the mean stress is ``s = E (e + m')`` and equilibrium
    ``t s' = q`` gives ``m'' = m/lambda^2``, ``lambda = t sqrt(E/(3 G))``; between free ends at x = ±a/2
    (a the spacing) ``s = E e (1 - cosh(x/lambda)/cosh(a/(2 lambda)))``, whose mean over the spacing is
    ``eta E e`` with ``eta = 1 - tanh(a/(2 lambda))/(a/(2 lambda))``.

    Range: within 10 % of plane-stress finite elements for spacings of six depths or more and E/G up to 18;
    at four depths it can be a quarter too low. A fret's tang wedged into the slot gives some stiffness back
    in compression, which is neglected.

    Parameters
    ----------
    depth, spacing : of the slots [m].
    young, shear : moduli of the board along the neck, and between the neck's length and z [Pa].

    Raises `InputError`: the depth is negative, or spacing or a modulus is not above zero.

    Examples
    --------
    >>> round(slot_fraction(2.5e-3, 25e-3, young=14e9, shear=1.2e9), 3)
    0.611
    """
    if not (math.isfinite(depth) and depth >= 0.0):
        raise InputError(
            f"The slot depth is {depth!r} m; it must be zero or more: give zero for a board without slots."
        )
    for name, value in (
        ("slot spacing", spacing),
        ("board's Young's modulus", young),
        ("board's shear modulus", shear),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"The {name} is {value!r}; it must be a finite number above zero: correct it.")
    if depth == 0.0:
        return 1.0
    lag_length = depth * math.sqrt(young / (3.0 * shear))
    ratio = spacing / (2.0 * lag_length)
    if ratio < 1e-4:
        return ratio**2 / 3.0  # the difference of two nearly equal numbers below would lose its digits
    return 1.0 - math.tanh(ratio) / ratio

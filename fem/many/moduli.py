"""The moduli of one neck as multiples of the reduced model's own, and their ratios.

A stiffness is linear in all moduli together: one modulus of each body scales exactly, only ratios need a fit.
"""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array

NAMES = (
    "neck along",
    "neck across",
    "neck shear",
    "board along",
    "board rest",
    "block along",
    "block across",
    "block shear",
)
"""Columns of an array of multiples: moduli along the grain, across it (both directions alike), and in shear;
the board's across and shear moduli go together."""


def neck_ratios(multiples: Array, *, bars: bool) -> Array:
    """Logarithms of the neck's ratios, (k, 4) or with bars (k, 5): across, shear and board over neck along,
    the rest of the board over board along, bars over neck along.
    """
    log = np.log(multiples)
    ratios = [log[:, 1] - log[:, 0], log[:, 2] - log[:, 0], log[:, 3] - log[:, 0], log[:, 4] - log[:, 3]]
    return np.stack(ratios + ([-log[:, 0]] if bars else []), axis=1)


def block_ratios(multiples: Array) -> Array:
    """Logarithms of the block's ratios, (k, 2): across and shear over along."""
    log = np.log(multiples)
    return np.stack([log[:, 6] - log[:, 5], log[:, 7] - log[:, 5]], axis=1)


def from_ratios(neck: Array, block: Array) -> Array:
    """Multiples (8,) with the given ratios; neck (without bars) and block along the grain are 1."""
    along = np.exp(-neck[4]) if len(neck) > 4 else 1.0
    across, shear, board, rest = (np.exp(one) for one in neck[:4])
    of_neck = [along, along * across, along * shear, along * board, along * board * rest]
    return np.array([*of_neck, 1.0, np.exp(block[0]), np.exp(block[1])])


@dataclass(frozen=True)
class Box:
    """Half-widths of the trained box, as logarithms of `neck_ratios` (4,), or (5,) with bars, and
    `block_ratios` (2,).
    """

    neck: Array
    block: Array

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
    """Logarithms of the neck's ratios, (k, 4) or with bars (k, 5): the mean of across and shear over along,
    half of across over shear, board over neck along, the rest of the board over board along, bars over neck
    along.
    """
    log = np.log(multiples)
    mean, apart = _mean_and_apart(log[:, :3])
    ratios = [mean, apart, log[:, 3] - log[:, 0], log[:, 4] - log[:, 3]]
    return np.stack(ratios + ([-log[:, 0]] if bars else []), axis=1)


def block_ratios(multiples: Array) -> Array:
    """Logarithms of the block's ratios, (k, 2), the first two of `neck_ratios`."""
    return np.stack(_mean_and_apart(np.log(multiples[:, 5:])), axis=1)


def _mean_and_apart(log: Array) -> tuple[Array, Array]:
    return 0.5 * (log[:, 1] + log[:, 2]) - log[:, 0], 0.5 * (log[:, 1] - log[:, 2])


def from_ratios(neck: Array, block: Array) -> Array:
    """Multiples (8,) with the given ratios; neck (without bars) and block along the grain are 1."""
    along = np.exp(-neck[4]) if len(neck) > 4 else 1.0
    board = np.exp(neck[2])
    of_neck = [1.0, np.exp(neck[0] + neck[1]), np.exp(neck[0] - neck[1]), board, board * np.exp(neck[3])]
    return np.array([*(along * np.array(of_neck)), 1.0, np.exp(block.sum()), np.exp(block[0] - block[1])])


@dataclass(frozen=True)
class Box:
    """Half-widths of the trained box, as logarithms of `neck_ratios` (4,), or (5,) with bars, and
    `block_ratios` (2,); zero for a ratio that stays as in the case.
    """

    neck: Array
    block: Array

"""The Gaussian update of a few numbers from many residuals: what the data can tell apart, what they cannot,
and whether they contradict the model.

Textbook: Gelman et al., Bayesian Data Analysis, chapter 14 (from memory); the directions are those of the
information in units of the prior.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
UNTOLD = 0.9
"""A direction whose posterior spread is more than this part of its prior one is left at its prior."""
PRIOR_GUITARS = 20.0
"""What the model's own scatter weighs beside the log's, in guitars (our choice, no source)."""
LEAST_SCALE = 0.3
SURPRISE = 0.01
"""Chi-square probability below which, at either end, the log contradicts the model (our choice)."""


@dataclass(frozen=True)
class Direction:
    """A direction in the parameters, in units of their prior spread: its weights, posterior over prior
    spread, and whether the log tells it.
    """

    weights: tuple[float, ...]
    ratio: float
    told: bool


@dataclass(frozen=True)
class Learned:
    """Posterior of the parameters.

    Attributes
    ----------
    mean : posterior less prior mean, (parameters,).
    covariance : (parameters, parameters).
    ratios : posterior over prior spread of each parameter by itself.
    directions : from the best told to the least.
    chi_square, probability : misfit of all residuals, and the chance of a larger one if the model holds.
    count : residuals used.
    before, after : residuals without and with what was learned, (guitars, kinds), nan where not measured.
    scale : scatter of each kind over what the model says, at most 1, (kinds,).
    extra : scatter that comes on top of the model's, one standard deviation, 0 where there is none, (kinds,).
    """

    mean: Array
    covariance: Array
    ratios: Array
    directions: tuple[Direction, ...]
    chi_square: float
    probability: float
    count: int
    before: Array
    after: Array
    scale: Array
    extra: Array

    @property
    def contradicts(self) -> bool:
        """Whether the residuals are larger, or smaller, than the model allows."""
        return not SURPRISE <= self.probability <= 1.0 - SURPRISE


def learn(residuals: Array, rows: Array, scatter: Array, errors: Array, prior: Array) -> Learned:
    """Update a prior about zero.

    Parameters
    ----------
    residuals : (guitars, kinds) measured less predicted, nan where not measured.
    rows : (guitars, kinds, parameters) sensitivities.
    scatter : (guitars, kinds, kinds) covariance of the residuals that the model has for them.
    errors : (guitars, kinds) measuring errors, one standard deviation.
    prior : (parameters, parameters) covariance.
    """
    from scipy.stats import chi2

    covariance = scatter + np.einsum("gk,kl->gkl", errors**2, np.eye(errors.shape[1]))
    root = np.linalg.cholesky(prior)
    information, pull = np.zeros_like(prior), np.zeros(len(prior))
    weighed = [_measured(*one) for one in zip(residuals, rows, covariance, strict=True)]
    for seen, found, row, inverse in weighed:
        if seen.any():
            information += row.T @ inverse @ row
            pull += row.T @ inverse @ found
    told, vectors = np.linalg.eigh(root.T @ information @ root)
    ratio = 1.0 / np.sqrt(1.0 + np.maximum(told, 0.0))
    kept = np.where(ratio <= UNTOLD, np.maximum(told, 0.0), 0.0)
    towards = vectors.T @ (root.T @ pull)
    mean = root @ (vectors @ np.where(kept > 0.0, towards / (1.0 + kept), 0.0))
    posterior = root @ (vectors / (1.0 + kept)) @ vectors.T @ root.T
    after = residuals - rows @ mean
    chi_square = float(mean @ np.linalg.solve(prior, mean))
    for one in zip(after, rows, covariance, strict=True):
        seen, found, _, inverse = _measured(*one)
        chi_square += float(found @ inverse @ found) if seen.any() else 0.0
    count = int(np.isfinite(residuals).sum())
    order = np.argsort(ratio)
    scale, extra = _surplus(after, np.einsum("gkk->gk", scatter), errors**2)
    return Learned(
        mean=mean,
        covariance=posterior,
        ratios=np.sqrt(np.diag(posterior) / np.diag(prior)),
        directions=tuple(
            Direction(tuple(float(v) for v in vectors[:, k]), float(ratio[k]), bool(ratio[k] <= UNTOLD))
            for k in order
        ),
        chi_square=chi_square,
        probability=float(chi2.sf(chi_square, max(count, 1))),
        count=count,
        before=residuals,
        after=after,
        scale=scale,
        extra=extra,
    )


def _measured(found: Array, row: Array, covariance: Array) -> tuple[NDArray[np.bool_], Array, Array, Array]:
    """Of one guitar: which kinds were measured, their residuals, rows and inverse covariance."""
    seen = np.isfinite(found)
    inverse = np.linalg.inv(covariance[np.ix_(seen, seen)]) if seen.any() else np.zeros((0, 0))
    return seen, found[seen], row[seen], inverse


def _surplus(after: Array, own: Array, measuring: Array) -> tuple[Array, Array]:
    """By how much residuals scatter less than the model says (a factor), or more (a further scatter).

    More comes from something that the model does not have, so it is added; less means that its own sources
    scatter less. The model counts as `PRIOR_GUITARS` guitars, so that a short log changes little.
    """
    seen = np.isfinite(after)
    over = np.where(seen, np.nan_to_num(after) ** 2 - own - measuring, 0.0)
    count = PRIOR_GUITARS + seen.sum(axis=0)
    mean_over = over.sum(axis=0) / count
    less = (over / own).sum(axis=0) / count
    scale = np.sqrt(np.clip(1.0 + less, LEAST_SCALE**2, 1.0))
    return np.where(mean_over < 0.0, scale, 1.0), np.sqrt(np.maximum(mean_over, 0.0))


def words(direction: Direction, names: Sequence[str]) -> str:
    """Name of a direction: its parameters, the heaviest first, those below a third left out."""
    order = sorted(range(len(names)), key=lambda k: -abs(direction.weights[k]))
    heavy = [k for k in order if abs(direction.weights[k]) > 0.33]
    sign = np.sign(direction.weights[heavy[0]])
    text = names[heavy[0]]
    for k in heavy[1:]:
        text += f" {'with' if sign * direction.weights[k] > 0 else 'against'} {names[k]}"
    return text

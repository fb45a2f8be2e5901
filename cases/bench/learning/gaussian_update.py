"""Gaussian update of a few parameters from many residuals, with its identifiable directions and chi-square.

Source: Gelman and others [gelman2013], chapter 14 (from memory). Directions are the eigenvectors of
the information in units of the prior.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IDENTIFIED = 0.9
"""Largest ratio of posterior to prior spread of an identified direction; others stay at their prior."""
PRIOR_GUITARS = 20.0
"""Weight of the model's own scatter, as a number of guitars (our choice, no source)."""
SMALLEST_SCALE = 0.3
SURPRISE = 0.01
"""Chi-square probability, at either end, below which the log contradicts the model (our choice)."""


@dataclass(frozen=True)
class Direction:
    """A direction in the parameters, with weights in units of their prior spread.

    ``ratio`` : posterior over prior spread; ``identified`` : whether the log determines it.
    """

    weights: tuple[float, ...]
    ratio: float
    identified: bool


@dataclass(frozen=True)
class Posterior:
    """Posterior of the parameters.

    Attributes
    ----------
    mean : posterior minus prior mean, (parameters,).
    covariance : (parameters, parameters).
    ratios : posterior over prior spread of each parameter.
    directions : by falling information.
    chi_square, probability : of all residuals, and the chance of a larger value if the model is right.
    count : number of residuals.
    before, after : residuals with prior and posterior mean, (guitars, kinds), nan where not measured.
    scale : scatter of each kind relative to the model, at most 1, (kinds,).
    extra : scatter in addition to the model's, one standard deviation, (kinds,).
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
        """Whether the residuals are larger or smaller than the model allows."""
        return not SURPRISE <= self.probability <= 1.0 - SURPRISE

    def not_identifiable(self, names: Sequence[str]) -> tuple[str, ...]:
        """Names of the directions that stay at their prior."""
        return tuple(direction_name(one, names) for one in self.directions if not one.identified)


def learn(residuals: Array, rows: Array, scatter: Array, errors: Array, prior: Array) -> Posterior:
    """Update a prior with mean zero.

    Parameters
    ----------
    residuals : (guitars, kinds) measured minus predicted, nan where not measured.
    rows : (guitars, kinds, parameters) sensitivities.
    scatter : (guitars, kinds, kinds) covariance of the residuals in the model.
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
    values, vectors = np.linalg.eigh(root.T @ information @ root)
    ratio = 1.0 / np.sqrt(1.0 + np.maximum(values, 0.0))
    kept = np.where(ratio <= IDENTIFIED, np.maximum(values, 0.0), 0.0)
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
    return Posterior(
        mean=mean,
        covariance=posterior,
        ratios=np.sqrt(np.diag(posterior) / np.diag(prior)),
        directions=tuple(
            Direction(tuple(float(v) for v in vectors[:, k]), float(ratio[k]), bool(ratio[k] <= IDENTIFIED))
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
    """Measured kinds of one guitar, with their residuals, rows and inverse covariance."""
    seen = np.isfinite(found)
    inverse = np.linalg.inv(covariance[np.ix_(seen, seen)]) if seen.any() else np.zeros((0, 0))
    return seen, found[seen], row[seen], inverse


def _surplus(after: Array, own: Array, measuring: Array) -> tuple[Array, Array]:
    """Scatter of the residuals relative to the model: a factor if smaller, an additional scatter if larger.

    Additional scatter has causes outside the model, so it is added; smaller scatter scales the model's own
    sources. The model counts as `PRIOR_GUITARS` guitars, so that a short log changes little.
    """
    seen = np.isfinite(after)
    over = np.where(seen, np.nan_to_num(after) ** 2 - own - measuring, 0.0)
    count = PRIOR_GUITARS + seen.sum(axis=0)
    mean_over = over.sum(axis=0) / count
    less = (over / own).sum(axis=0) / count
    scale = np.sqrt(np.clip(1.0 + less, SMALLEST_SCALE**2, 1.0))
    return np.where(mean_over < 0.0, scale, 1.0), np.sqrt(np.maximum(mean_over, 0.0))


def direction_name(direction: Direction, names: Sequence[str]) -> str:
    """Name of a direction: its parameters by falling weight, without those below a third."""
    order = sorted(range(len(names)), key=lambda k: -abs(direction.weights[k]))
    heavy = [k for k in order if abs(direction.weights[k]) > 0.33]
    sign = np.sign(direction.weights[heavy[0]])
    text = names[heavy[0]]
    for k in heavy[1:]:
        text += f" {'with' if sign * direction.weights[k] > 0 else 'against'} {names[k]}"
    return text

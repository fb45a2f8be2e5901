"""The reduced model: the flexibility of an instrument as a polynomial in the ratios of its moduli.

Layers, friction, bolts, strings, rod and shim angles enter exactly, by the equations of the full model.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from fem.errors import ConvergenceError, OutsideBoxError
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.many.matrix_fit import MatrixFit, Shares, fit, training_points
from fem.many.moduli import Box, block_ratios, from_ratios, neck_ratios
from fem.many.pressure_shape import pressure_shape
from fem.many.substructure import (
    Layout,
    MeshedInstrument,
    block_flexibility,
    grounded,
    layout,
    mesh_instrument,
    neck_flexibility,
)
from fem.solve.condensation import condense
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Offset, Question, find_offset

DEGREE = 2.0
"""Degree of the polynomials in a ratio that hardly varies."""
TRIALS, TRIAL_DISTANCE = 5, 0.65
"""Points solved in full for the error estimate, and their distance from the case's own ratios in half-widths
of the box: three standard deviations."""
CAUTION = 2.0
"""Factor on the errors at the trial points for the error estimate."""
OTHERS_DEG = 4e-4
"""Error by what the moduli do not say: layers and bolts change the pressure as well [deg]. Measured: with it
the estimate covers the drawn held-out necks of fourteen-mahogany and all but one of long-baritone's."""


Item = TypeVar("Item")
Found = TypeVar("Found")


class Model(Protocol):
    """An instrument with variable moduli and other inputs."""

    def structure(self, multiples: Array) -> Structure:
        """The instrument with its moduli multiplied, see `fem.many.moduli.NAMES`."""

    def question(self, flexibility: Flexibility) -> Question:
        """The instrument's question on another flexibility."""

    def with_values(self, values: Mapping[str, object]) -> "tuple[Model, Array]":
        """The instrument with some keys set, and its multiples (8,); refuses keys that change the shape."""

    @property
    def upper(self) -> float:
        """The upper shim angle [rad]."""


@dataclass(frozen=True)
class ReducedAnswer:
    """Answer of a reduced model, and the expected error of its offset [deg]."""

    question: Question
    offset: Offset
    error_estimate_deg: float


@dataclass(frozen=True)
class ValidityRange:
    """Validity range of a reduced model and the expected error of its offset, without its matrices.

    ``centre_error_deg`` is the estimate at the case's own woods, ``degrees_per_square`` the further one per
    squared distance from there, in half-widths of the box: a frozen pressure errs to second order [deg].
    """

    neck: Shares
    block: Shares
    degrees_per_square: float
    centre_error_deg: float

    @property
    def bars(self) -> bool:
        """Whether bars add a ratio, bars over neck along."""
        return len(self.neck.half) > 4

    def inside(self, multiples: Array) -> NDArray[np.bool_]:
        """Whether moduli (k, 8) lie in the trained box, (k,)."""
        neck, block = neck_ratios(multiples, bars=self.bars), block_ratios(multiples)
        return np.asarray(self.neck.inside(neck) & self.block.inside(block))

    def error_estimate_deg(self, multiples: Array) -> Array:
        """Expected error of the offset for moduli (k, 8), (k,) [deg]."""
        far = self.distance_squared(neck_ratios(multiples, bars=self.bars), block_ratios(multiples))
        return np.asarray(self.centre_error_deg + self.degrees_per_square * far)

    def distance_squared(self, neck: Array, block: Array) -> Array:
        """Squared distance of ratios (k, d) from the case's own, in half-widths of the box, (k,)."""
        return self.neck.distance_squared(neck) + self.block.distance_squared(block)


@dataclass(frozen=True)
class ReducedModel:
    """Fits of the flexibilities of neck and block; error as in `ValidityRange`."""

    model: Model
    layout: Layout
    neck: MatrixFit
    block: MatrixFit
    degrees_per_square: float
    centre_error_deg: float

    @property
    def validity(self) -> ValidityRange:
        """Validity range and expected error."""
        return ValidityRange(
            self.neck.shares, self.block.shares, self.degrees_per_square, self.centre_error_deg
        )

    def flexibility(self, multiples: Array) -> Flexibility:
        """Grounded flexibility for moduli (8,), no flex budget; `OutsideBoxError` outside the trained box."""
        here = np.atleast_2d(multiples)
        if not self.validity.inside(here)[0]:
            raise OutsideBoxError(_outside(self, here))
        neck = self.neck(neck_ratios(here, bars=self.validity.bars))[0] / multiples[0]
        return grounded(self.layout, neck + self.block(block_ratios(here))[0] / multiples[5])

    def answer(self, values: Mapping[str, object]) -> ReducedAnswer:
        """Answer the main question with some keys set, such as ``{"neck.e_l_gpa": 11.0, "joint.friction":
        0.2}``.

        Raises `OutsideBoxError`: a ratio of moduli lies outside the trained box; nothing is extrapolated.
        """
        model, multiples = self.model.with_values(values)
        question = model.question(self.flexibility(multiples))
        offset = find_offset(question, upper=model.upper)
        return ReducedAnswer(question, offset, float(self.validity.error_estimate_deg(multiples[None])[0]))


def _outside(reduced: ReducedModel, multiples: Array) -> str:
    neck, block = neck_ratios(multiples, bars=reduced.validity.bars)[0], block_ratios(multiples)[0]
    ratios, half = (
        np.concatenate([neck, block]),
        np.concatenate([reduced.neck.shares.half, reduced.block.shares.half]),
    )
    of_neck = ("neck across and shear", "neck across over shear", "fretboard", "fretboard across", "bars")[
        : len(neck)
    ]
    worst = int(np.argmax(np.abs(ratios) - half))
    name = (*of_neck, "block across and shear", "block across over shear")[worst]
    more = "a larger [scatter]" if half[worst] else "a lower scatter.ratio_correlation"
    return (
        f"The ratio of moduli '{name}' is {np.exp(ratios[worst]):.2f} times the case's own; "
        f"this reduced model holds {np.exp(-half[worst]):.2f} to {np.exp(half[worst]):.2f} times. "
        f"Solve this case in full, or build the reduced model with {more}."
    )


def build(
    model: Model,
    box: Box,
    *,
    size: MeshSize | None = None,
    degree: float = DEGREE,
    workers: int = 1,
    progress: Callable[[float], None] = lambda share: None,
) -> ReducedModel:
    """Solve the training points and fit; with ``workers`` > 1 on several processes.

    ``progress`` is called with the finished fraction, 0 to 1.

    Raises `ModelError`: the instrument cannot be modelled.
    """
    size = size or MeshSize()
    at, own = _meshed(model, size)
    points = _with_middle(training_points(box.neck, degree=degree))
    necks = mapped(
        partial(_held_neck, model, at),
        list(points),
        workers=workers,
        progress=lambda share: progress(0.8 * share),
    )
    neck = fit(points[1:], np.array(necks[1:]), necks[0], half=box.neck, degree=degree)
    points = _with_middle(training_points(box.block, degree=degree))
    same = np.zeros(len(box.neck))
    blocks = [block_flexibility(at, model.structure(from_ratios(same, one)).block_wood) for one in points]
    block = fit(points[1:], np.array(blocks[1:]), blocks[0], half=box.block, degree=degree)
    plain = ReducedModel(model, layout(at), neck, block, 0.0, 0.0)
    trial = _trial_points(np.concatenate([box.neck, box.block]))
    errors = mapped(partial(_error_deg, plain, size), list(trial), workers=workers)
    progress(1.0)
    # with no equilibrium there is no sample
    far = float(np.median([one for one in errors if one is not None]))
    centre = abs(np.degrees(_offset(model, plain.flexibility(np.ones(8))).offset - own.offset))
    return replace(
        plain,
        degrees_per_square=CAUTION * far / TRIAL_DISTANCE**2,
        centre_error_deg=float(centre) + OTHERS_DEG,
    )


def mapped(
    task: Callable[[Item], Found],
    items: Sequence[Item],
    *,
    workers: int,
    progress: Callable[[float], None] = lambda share: None,
) -> list[Found]:
    """The task of each item, in order; with ``workers`` > 1 on several processes."""
    found: list[Found] = []
    with ProcessPoolExecutor(workers) if workers > 1 else nullcontext() as pool:
        each = pool.map(task, items, chunksize=len(items) // (4 * workers) + 1) if pool else map(task, items)
        for one in each:
            found.append(one)
            progress(len(found) / len(items))
    return found


def _with_middle(points: Array) -> Array:
    return np.concatenate([np.zeros((1, points.shape[1])), points])


def _meshed(model: Model, size: MeshSize) -> tuple[MeshedInstrument, Offset]:
    """The instrument meshed, with the pressure across its pads at the offset found, and that offset."""
    structure = model.structure(np.ones(8))
    question = model.question(condense(structure, size)[0])
    found = find_offset(question, upper=model.upper)
    return mesh_instrument(structure, size, pressure_shape(question, found.pair, structure)), found


def _held_neck(model: Model, at: MeshedInstrument, ratios: Array) -> Array:
    """Flexibility of the held neck times its modulus at ratios (d,), (n, n)."""
    multiples = from_ratios(ratios, np.zeros(2))
    with threadpool_limits(1):
        return neck_flexibility(at, model.structure(multiples)) * multiples[0]


def _trial_points(half: Array) -> Array:
    """Untrained points for the error estimate, all at `TRIAL_DISTANCE`, (k, d)."""
    directions = np.random.default_rng(20).standard_normal((TRIALS, len(half))) * (half > 0.0)
    return np.asarray(half * TRIAL_DISTANCE * directions / np.linalg.norm(directions, axis=1, keepdims=True))


def _error_deg(reduced: ReducedModel, size: MeshSize, ratios: Array) -> float | None:
    """Size of the error of the offset at ratios (d,), from the full model [deg]; None without equilibrium."""
    multiples = from_ratios(*np.split(ratios, [len(reduced.neck.shares.half)]))
    with threadpool_limits(1):
        full, _ = condense(reduced.model.structure(multiples), size)
        try:
            found = [_offset(reduced.model, one) for one in (full, reduced.flexibility(multiples))]
        except ConvergenceError:
            return None
    return float(abs(np.degrees(found[1].offset - found[0].offset)))


def _offset(model: Model, flexibility: Flexibility) -> Offset:
    return find_offset(model.question(flexibility), upper=model.upper)

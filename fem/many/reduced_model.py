"""The reduced model: the flexibility of an instrument as a polynomial in the ratios of its moduli.

Layers, friction, bolts, strings, rod and shim angles enter exactly, by the equations of the full model.
"""

from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext, suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from fem.errors import ConvergenceError, OutsideBoxError
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.many.matrix_fit import MatrixFit, Shares, fit, training_points
from fem.many.moduli import Box, block_ratios, from_ratios, neck_ratios
from fem.many.pressure_shape import PressureShape, pressure_shape
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

CHUNK = 16
"""Training points per task."""

CAUTION = 4.0
"""Factor on the errors at the trial points for the error estimate."""
OTHERS_DEG = 4e-4
"""Error by what the moduli do not say: layers and bolts change the pressure as well [deg]. Measured: with it
the estimate covers the drawn held-out necks of fourteen-mahogany and all but one of long-baritone's."""


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
    neck = neck_ratios(multiples, bars=reduced.validity.bars)[0] / reduced.neck.shares.half
    names = ("neck across", "neck shear", "fretboard", "fretboard across", "bars")[: len(neck)]
    ratios = np.concatenate([neck, block_ratios(multiples)[0] / reduced.block.shares.half])
    worst = int(np.argmax(np.abs(ratios)))
    name = (*names, "block across", "block shear")[worst]
    return (
        f"The ratio of moduli '{name}' lies {abs(ratios[worst]):.2f} half-widths from the middle of the "
        "trained box. "
        "Solve this case in full, or build the reduced model with a larger [scatter]."
    )


def build(
    model: Model,
    box: Box,
    *,
    size: MeshSize | None = None,
    degree: int = 5,
    workers: int = 1,
    progress: Callable[[float], None] = lambda share: None,
) -> ReducedModel:
    """Solve the training points and fit; with ``workers`` > 1 on several processes.

    ``progress`` is called with the finished fraction, 0 to 1.

    Raises `ModelError`: the instrument cannot be modelled.
    """
    size = size or MeshSize()
    at = _meshed(model, size)
    points = training_points(box.neck, degree=degree)
    trial = _trial_points(box)
    whole = np.concatenate([np.zeros((1, len(box.neck))), points])
    matrices = _solved_necks(model, size, at.shape, whole, workers=workers, progress=progress)
    neck = fit(points, matrices[1:], matrices[0], half=box.neck, degree=degree)
    block_points = training_points(box.block, degree=degree)
    blocks = np.array(
        [
            block_flexibility(at, model.structure(from_ratios(np.zeros(len(box.neck)), y)).block_wood)
            for y in [np.zeros(2), *block_points]
        ]
    )
    block = fit(block_points, blocks[1:], blocks[0], half=box.block, degree=degree)
    plain = ReducedModel(model, layout(at), neck, block, 0.0, 0.0)
    centre, slope = _calibrated(plain, trial, size)
    return replace(plain, degrees_per_square=slope, centre_error_deg=centre)


def _meshed(model: Model, size: MeshSize) -> MeshedInstrument:
    """The instrument meshed, with the pressure across its pads at the offset found."""
    structure = model.structure(np.ones(8))
    question = model.question(condense(structure, size, energies=False)[0])
    found = find_offset(question, upper=model.upper)
    return mesh_instrument(structure, size, pressure_shape(question, found.pair, structure))


def _solved_necks(
    model: Model,
    size: MeshSize,
    shape: PressureShape,
    ratios: Array,
    *,
    workers: int,
    progress: Callable[[float], None],
) -> Array:
    """Flexibilities of the held neck times its modulus at ratios (k, d), (k, n, n)."""
    chunks = np.array_split(ratios, max(1, len(ratios) // CHUNK))
    task = partial(_solved_chunk, model, size, shape)
    done: list[Array] = []
    with ProcessPoolExecutor(workers) if workers > 1 else nullcontext() as pool:
        for result in pool.map(task, chunks) if pool else map(task, chunks):
            done.append(result)
            progress(len(done) / len(chunks))
    return np.concatenate(done)


def _solved_chunk(model: Model, size: MeshSize, shape: PressureShape, ratios: Array) -> Array:
    each = [from_ratios(one, np.zeros(2)) for one in ratios]
    with threadpool_limits(1):
        at = mesh_instrument(model.structure(np.ones(8)), size, shape)
        return np.array([neck_flexibility(at, model.structure(one)) * one[0] for one in each])


def _trial_points(box: Box) -> Array:
    """Untrained points for the error estimate: corners of the box and an inner set, (k, d)."""
    half = np.concatenate([box.neck, box.block])
    corners = np.array(list(product((-1.0, 1.0), repeat=len(half))))
    # every eighth corner, in an order that changes each sign often
    some = corners[:: max(1, len(corners) // 12)]
    rng = np.random.default_rng(20)
    inner = rng.uniform(-0.8, 0.8, (12, len(half)))
    return np.concatenate([some, inner]) * half


def _calibrated(reduced: ReducedModel, trial: Array, size: MeshSize) -> tuple[float, float]:
    """Error in the middle of the box with `OTHERS_DEG` [deg], and `CAUTION` times its median per squared
    distance at the trial points, from the full model.
    """
    d = len(reduced.neck.shares.half)
    centre = _error_deg(reduced, np.zeros(trial.shape[1]), size)
    slopes = []
    for ratios in trial:
        far = float(reduced.validity.distance_squared(ratios[None, :d], ratios[None, d:])[0])
        with suppress(ConvergenceError):
            # with no equilibrium this far out there is no sample
            slopes.append(_error_deg(reduced, ratios, size) / far)
    return centre + OTHERS_DEG, CAUTION * float(np.median(slopes))


def _error_deg(reduced: ReducedModel, ratios: Array, size: MeshSize) -> float:
    """Size of the error of the offset at ratios (d,) [deg]."""
    multiples = from_ratios(*np.split(ratios, [len(reduced.neck.shares.half)]))
    full, _ = condense(reduced.model.structure(multiples), size, energies=False)
    found = [_offset(reduced.model, one) for one in (full, reduced.flexibility(multiples))]
    return float(abs(np.degrees(found[1].offset - found[0].offset)))


def _offset(model: Model, flexibility: Flexibility) -> Offset:
    return find_offset(model.question(flexibility), upper=model.upper)

"""Solves many drawn guitars in chunks, here or on an executor; every finished chunk is stored."""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.monte_carlo.draws import Draws, draw
from cases.monte_carlo.full_model import FullNeck, full_outcome
from cases.monte_carlo.npz_cache import store_arrays, stored_arrays
from cases.offset.solve import one_thread
from fem.geometry.outline import Array
from fem.many.batch import Bench, taken
from fem.many.offsets import Outcome, outcomes
from fem.many.reduced_model import ValidityRange
from fem.many.start import Start
from materials.errors import InputError

Edge = tuple[int, int]
PIECE = 500
"""Guitars per chunk; chunks, and so results, do not depend on the executor."""
RELATIVE, LEAST_DEG = 0.005, 0.001
"""A guitar is solved in full if its error estimate exceeds this part of its offset and this angle."""


@dataclass(frozen=True)
class Task:
    """Data of every chunk: case, bench, initial state, angles of the pair in pad order [rad], saddle [m] and
    seed of the draws; whether each guitar's offset is wanted, and its bolts carry their stated tension.
    """

    case: Case
    validity: ValidityRange
    on: Bench
    start: Start
    angles: tuple[float, ...]
    saddle: float
    seed: int
    offset: bool = True
    stated_bolts: bool = False

    def draws(self, first: int, last: int) -> Draws:
        """Guitars ``first`` to ``last`` - 1 of the sequence."""
        found = draw(self.case, last - first, seed=self.seed, first=first)
        return replace(found, bolts=np.ones_like(found.bolts)) if self.stated_bolts else found


@dataclass(frozen=True)
class SolvedNecks:
    """Outcomes of all guitars, and whether each was solved in full."""

    outcome: Outcome
    in_full: NDArray[np.bool_]


@dataclass(frozen=True)
class Pieces:
    """Drawn guitars being solved in chunks.

    Attributes
    ----------
    task, edges : what is solved; first guitar of each chunk and the one after its last.
    missing : edges of the chunks that are not stored in the folder.
    results : outcomes of the missing chunks, in their order.
    folder, label : folder of the stored chunks, and hash of their inputs.
    """

    task: Task
    edges: list[Edge]
    missing: list[Edge]
    results: Iterator[SolvedNecks]
    folder: Path | None
    label: str

    def solved(self, progress: Callable[[int], None] = lambda done: None) -> SolvedNecks:
        """Wait for all guitars; ``progress`` is called with the number done. May raise `InputError`.

        Every number goes straight to its place: memory grows by 90 bytes a guitar.
        """
        count = self.edges[-1][1]
        columns = {
            one.name: np.empty(count, dtype=bool if one.name == "settled" else float)
            for one in fields(Outcome)
        }
        whole = SolvedNecks(Outcome(**columns), np.empty(count, dtype=bool))
        missing = set(self.missing)
        done = count - sum(last - first for first, last in missing)
        for first, last in self.edges:
            if (first, last) in missing:
                found = next(self.results)
                _store(self.folder, self.label, first, found)
                done += last - first
                progress(done)
            else:
                found = _stored(self.folder, self.label, first, last) or _piece(self.task, (first, last))
            whole.in_full[first:last] = found.in_full
            for name, column in columns.items():
                column[first:last] = getattr(found.outcome, name)
        return whole


def begun(
    task: Task,
    count: int,
    *,
    executor: Executor | None = None,
    send: Callable[[Any], Any] = lambda data: data,
    folder: Path | None = None,
    label: str = "",
) -> Pieces:
    """Start solving drawn guitars on an executor, or without one here, in `Pieces.solved`.

    ``send`` brings data to all workers of the executor at once, by default with every chunk. ``folder`` is
    for finished chunks, from which an interrupted run resumes; ``label`` is the hash of the inputs.

    Raises `InputError` if the folder has chunks with another label.
    """
    if _alike(task.draws(0, 2)):
        return Pieces(task, [(0, count)], [(0, count)], iter([_repeated(task, count)]), None, label)
    edges = [(first, min(first + PIECE, count)) for first in range(0, count, PIECE)]
    missing = [edge for edge in edges if _stored(folder, label, *edge) is None]
    each = (map if executor is None else executor.map)(_piece, [send(task)] * len(missing), missing)
    return Pieces(task, edges, missing, iter(each), folder, label)


def _alike(draws: Draws) -> bool:
    """Whether guitars are mechanically equal."""
    acting = (draws.multiples, draws.layer, draws.bedding, draws.bolts, draws.tension, draws.shim, draws.seat)
    return all(bool(np.all(values == values[:1])) for values in acting)


def _repeated(task: Task, count: int) -> SolvedNecks:
    """One guitar solved in full and repeated: without scatter every guitar is the case itself."""
    number = np.arange(count)
    return SolvedNecks(taken(_in_full(task, task.draws(0, 1)), 0 * number), number == 0)


def limit_deg(offset_deg: Array) -> Array:
    """Largest error that an offset may have without being solved in full, shape of the offset [deg]."""
    return np.maximum(LEAST_DEG, RELATIVE * np.abs(offset_deg))


def beyond_limit(validity: ValidityRange, estimate_deg: Array, offset_deg: Array) -> NDArray[np.bool_]:
    """Guitars to be solved in full for their error estimate, (k,).

    None where the estimate for the case itself takes more than half of the limit: then nearly all would be,
    and the held-out guitars say how rough the rates are instead.
    """
    close = validity.centre_error_deg <= 0.5 * limit_deg(offset_deg)
    return np.asarray((estimate_deg > limit_deg(offset_deg)) & close)


@one_thread
def _piece(task: Task, edge: Edge) -> SolvedNecks:
    """Draw and solve one chunk, where the work is done: nothing but its edges travels there."""
    return solved_here(task, task.draws(*edge))


def solved_here(task: Task, draws: Draws) -> SolvedNecks:
    """Solve guitars with the reduced model, and in full those outside its validity."""
    inside = task.validity.inside(draws.multiples)
    # guitars outside the box take its middle here and are solved in full below
    safe = replace(draws, multiples=np.where(inside[:, None], draws.multiples, 1.0))
    necks = safe.necks(task.on.question, task.angles)
    found = outcomes(task.on, necks, saddle=task.saddle, start=task.start, offset=task.offset)
    estimate = task.validity.error_estimate_deg(safe.multiples)
    offset = np.nan_to_num(np.degrees(np.abs(found.offset))) if task.offset else np.zeros(len(draws))
    in_full = ~inside | ~found.settled | beyond_limit(task.validity, estimate, offset)
    columns = {name: values.copy() for name, values in vars(found).items()}
    for row in np.flatnonzero(in_full):
        whole = _in_full(task, draws.take(np.array([row])))
        for name, values in columns.items():
            values[row] = getattr(whole, name)[0]
    return SolvedNecks(Outcome(**columns), in_full)


def _in_full(task: Task, draws: Draws) -> Outcome:
    return full_outcome(FullNeck(task.case, draws), task.angles, saddle=task.saddle)


def _store(folder: Path | None, label: str, first: int, result: SolvedNecks) -> None:
    if folder is None:
        return
    path = folder / f"necks-{first:07d}.npz"
    try:
        store_arrays(path, {"label": np.array(label), "in_full": result.in_full, **vars(result.outcome)})
    except OSError as error:
        raise InputError(
            f"{path} cannot be written ({error.strerror}); name another folder or leave it out."
        ) from None


def _stored(folder: Path | None, label: str, first: int, last: int) -> SolvedNecks | None:
    if folder is None:
        return None
    path = folder / f"necks-{first:07d}.npz"
    found = stored_arrays(path)
    if found is None:
        return None
    if str(found.pop("label")) != label:
        raise InputError(
            f"{path} belongs to another run (another case, seed, number of necks or version); "
            "name an empty folder, or delete that file."
        )
    in_full = found.pop("in_full")
    return SolvedNecks(Outcome(**found), in_full) if len(in_full) == last - first else None

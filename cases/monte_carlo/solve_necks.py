"""Solves many drawn guitars in chunks, here or on an executor; every finished chunk is stored."""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.monte_carlo.draws import Draws
from cases.monte_carlo.full_model import FullNeck, full_outcome
from cases.monte_carlo.npz_cache import store_arrays, stored_arrays
from cases.offset.solve import one_thread
from fem.geometry.outline import Array
from fem.many.batch import Bench, taken
from fem.many.offsets import Outcome, outcomes
from fem.many.reduced_model import ValidityRange
from fem.many.start import Start
from materials.errors import InputError

PIECE = 500
"""Guitars per chunk; chunks, and so results, do not depend on the executor."""
RELATIVE, LEAST_DEG = 0.005, 0.001
"""A guitar is solved in full if its error estimate exceeds this part of its offset and this angle."""


@dataclass(frozen=True)
class Task:
    """Data of every chunk: case, bench, initial state, angles of the pair in pad order [rad], saddle [m]."""

    case: Case
    validity: ValidityRange
    on: Bench
    start: Start
    angles: tuple[float, ...]
    saddle: float
    offset: bool = True


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
    edges : first guitar of each chunk and the one after its last.
    kept : stored chunks by their first guitar; ``missing`` has the edges of the others.
    results : outcomes of the missing chunks, in their order.
    folder, label : folder of the stored chunks, and hash of their inputs.
    """

    edges: list[tuple[int, int]]
    kept: dict[int, SolvedNecks]
    missing: list[tuple[int, int]]
    results: Iterator[SolvedNecks]
    folder: Path | None
    label: str

    def solved(self, progress: Callable[[int], None] = lambda done: None) -> SolvedNecks:
        """Wait for all guitars; ``progress`` is called with the number done. May raise `InputError`."""
        solved = dict(self.kept)
        done = self.edges[-1][1] - sum(last - first for first, last in self.missing)
        for (first, last), result in zip(self.missing, self.results, strict=True):
            solved[first] = result
            if self.folder is not None:
                _store(self.folder, self.label, first, result)
            done += last - first
            progress(done)
        return _joined([solved[first] for first, _ in self.edges])


def begun(
    task: Task,
    draws: Draws,
    *,
    executor: Executor | None = None,
    folder: Path | None = None,
    label: str = "",
) -> Pieces:
    """Start solving drawn guitars on an executor, or without one here, in `Pieces.solved`.

    ``folder`` is for finished chunks, from which an interrupted run resumes; ``label`` is the hash of the
    inputs. Raises `InputError` if the folder has chunks with another label.
    """
    count = len(draws)
    if _alike(draws):
        return Pieces([(0, count)], {0: _repeated(task, draws)}, [], iter(()), None, label)
    edges = [(first, min(first + PIECE, count)) for first in range(0, count, PIECE)]
    found = {first: _stored(folder, label, first, last) for first, last in edges} if folder else {}
    kept = {first: one for first, one in found.items() if one is not None}
    missing = [(first, last) for first, last in edges if first not in kept]
    work = partial(_piece, task)
    parts = [draws.take(slice(first, last)) for first, last in missing]
    results = map(work, parts) if executor is None else executor.map(work, parts)
    return Pieces(edges, kept, missing, iter(results), folder, label)


def _alike(draws: Draws) -> bool:
    """Whether all guitars are mechanically equal."""
    acting = (draws.multiples, draws.layer, draws.bedding, draws.bolts, draws.tension, draws.shim, draws.seat)
    return all(bool(np.all(values == values[:1])) for values in acting)


def _repeated(task: Task, draws: Draws) -> SolvedNecks:
    """One guitar solved in full and repeated: without scatter every guitar is the case itself."""
    number = np.arange(len(draws))
    return SolvedNecks(taken(_in_full(task, draws.take(slice(0, 1))), 0 * number), number == 0)


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
def _piece(task: Task, draws: Draws) -> SolvedNecks:
    """Solve one chunk with the reduced model, and in full the guitars outside its validity."""
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


def _joined(parts: list[SolvedNecks]) -> SolvedNecks:
    columns = {
        one.name: np.concatenate([getattr(part.outcome, one.name) for part in parts])
        for one in fields(Outcome)
    }
    return SolvedNecks(Outcome(**columns), np.concatenate([part.in_full for part in parts]))


def _store(folder: Path, label: str, first: int, result: SolvedNecks) -> None:
    path = folder / f"necks-{first:07d}.npz"
    try:
        store_arrays(path, {"label": np.array(label), "in_full": result.in_full, **vars(result.outcome)})
    except OSError as error:
        raise InputError(
            f"{path} cannot be written ({error.strerror}); name another folder or leave it out."
        ) from None


def _stored(folder: Path, label: str, first: int, last: int) -> SolvedNecks | None:
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

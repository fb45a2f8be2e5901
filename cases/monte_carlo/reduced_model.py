"""The reduced model of a case: built once, stored in the user's cache folder under a hash of its inputs."""

import hashlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
import platformdirs
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.monte_carlo.draws import Draws, box_of, draw
from cases.monte_carlo.full_model import FullNeck, solve_fully
from cases.monte_carlo.npz_cache import store_arrays, stored_arrays
from cases.monte_carlo.varied_case import VariedCase, shape
from cases.offset.build import structure_of
from cases.offset.solve import FINE, one_thread
from fem.geometry.outline import Array
from fem.joint.shim_layer import PadPoints
from fem.many.matrix_fit import MatrixFit, Shares
from fem.many.moduli import Box
from fem.many.reduced_model import ReducedModel, build, mapped
from fem.many.substructure import Layout
from materials.errors import NeckpreloadError

FORMAT = 9
HELD_OUT = 10
HELD_OUT_SEED = 20_240_611


@dataclass(frozen=True)
class HeldOut:
    """Guitars not used for building, and their offsets in full [rad]."""

    draws: Draws
    offsets: Array


@dataclass(frozen=True)
class Built:
    """A reduced model with its held-out guitars; time to get both, and whether they came from the cache."""

    model: ReducedModel
    held_out: HeldOut
    seconds: float
    cached: bool


def cache_folder() -> Path:
    """Folder of this user's reduced models."""
    return Path(platformdirs.user_cache_dir("neckpreload"))


def reduced_model(
    case: Case,
    *,
    workers: int = 1,
    folder: Path | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Built:
    """The reduced model of a case, from the cache or newly built; raises what solving the case raises."""
    began = perf_counter()
    folder = cache_folder() if folder is None else folder
    box = box_of(case)
    varied = VariedCase(case, case)
    key = _key(case, box)
    path = folder / f"reduced-{key}.npz"
    model = _read(path, varied)
    cached = model is not None
    if model is None:
        model = build(varied, box, size=FINE, workers=workers, progress=lambda share: progress(0.7 * share))
        _write(path, _arrays(model))
    checks = folder / f"held-out-{key}-{case.sha256[:16]}.npz"
    draws = draw(case, HELD_OUT, seed=HELD_OUT_SEED)
    found = stored_arrays(checks)
    if found is not None:
        offsets, rows = found["offsets"], found["rows"]
    else:
        cached = False
        offsets, rows = _held_out(case, draws, workers, progress=lambda share: progress(0.7 + 0.3 * share))
        _write(checks, {"offsets": offsets, "rows": rows})
    return Built(model, HeldOut(draws.take(rows), offsets), perf_counter() - began, cached)


def _held_out(
    case: Case, draws: Draws, workers: int, *, progress: Callable[[float], None]
) -> tuple[Array, NDArray[np.int64]]:
    """Offsets in full of the guitars with an equilibrium, and their rows."""
    tasks = [FullNeck(case, draws.take(np.array([row]))) for row in range(len(draws))]
    solved = mapped(_full_offset, tasks, workers=workers, progress=progress)
    rows = np.array([row for row, value in enumerate(solved) if value is not None], dtype=np.int64)
    return np.array([value for value in solved if value is not None]), rows


@one_thread
def _full_offset(task: FullNeck) -> float | None:
    try:
        return solve_fully(task).offset
    except NeckpreloadError:
        return None


def _key(case: Case, box: Box) -> str:
    """Hash of the inputs of the fits: shape, woods, box, mesh and version."""
    structure = structure_of(case)
    woods = [structure.neck, structure.board, structure.block_wood]
    numbers = [
        [*one.moduli.ravel(), one.section.young, one.section.shear_xy, one.section.shear_xz]
        + ([] if one.solid is None else [*one.solid.ravel()])
        for one in woods
    ]
    limits = (box.neck.tolist(), box.block.tolist())
    text = repr((FORMAT, version("neckpreload"), FINE, shape(structure), numbers, *limits))
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def _write(path: Path, arrays: dict[str, NDArray[Any]]) -> None:
    """Store arrays; if the folder cannot be written, the next run builds them again."""
    with suppress(OSError):
        store_arrays(path, arrays)


_SHARES = ("half", "powers")
_FIT = ("modes", "centre", "size")


def _arrays(model: ReducedModel) -> dict[str, NDArray[Any]]:
    found: dict[str, NDArray[Any]] = {
        "worth": np.array([model.degrees_per_square, model.centre_error_deg]),
        "rigid": model.layout.rigid,
        "reference": model.layout.reference,
        "layers": model.layout.layers,
    }
    for name, fit in (("neck", model.neck), ("block", model.block)):
        found |= {f"{name} {key}": np.asarray(getattr(fit, key)) for key in _FIT}
        found |= {f"{name} {key}": np.asarray(getattr(fit.shares, key)) for key in _SHARES}
    for kind, rows in model.layout.at.items():
        found[f"at {kind}"] = rows
    for number, points in enumerate(model.layout.points):
        found[f"points {number}"] = np.stack([points.s, points.area])
    return found


def _read(path: Path, varied: VariedCase) -> ReducedModel | None:
    """A model from its file; None if it is missing or damaged."""
    stored = stored_arrays(path)
    if stored is None:
        return None

    def fit(name: str) -> MatrixFit:
        parts: dict[str, Any] = {key: stored[f"{name} {key}"] for key in _SHARES}
        shares = Shares(**parts)
        modes, centre, size = (stored[f"{name} {key}"] for key in _FIT)
        return MatrixFit(shares, modes, centre, int(size))

    pads = sorted(key for key in stored if key.startswith("points "))
    layout = Layout(
        at={key[3:]: rows for key, rows in stored.items() if key.startswith("at ")},
        points=tuple(PadPoints(*stored[key]) for key in pads),
        rigid=stored["rigid"],
        reference=stored["reference"],
        layers=stored["layers"],
    )
    slope, centre = stored["worth"]
    return ReducedModel(varied, layout, fit("neck"), fit("block"), float(slope), float(centre))

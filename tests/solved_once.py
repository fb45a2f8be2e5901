"""A case that many tests solve is solved once for all of them, with its answer and its bench."""

import functools
import pickle
from collections import OrderedDict
from collections.abc import Callable
from types import ModuleType
from typing import Any

KEPT = 12
"""Results kept at a time of each function."""


def solve_once() -> None:
    """Put a cache by value before the functions that solve a case; call it before others import their names.

    Each has a `cache_clear`, as in `tests.condensed_once`. What breaks the mechanics empties them first:
    `tests.evidence_rows.mutation.forget_cached_results`.
    """
    from cases.offset import solve as solving

    def meshes() -> tuple[object, object]:
        return solving.FINE, solving.COARSE

    _keep(solving, "solve", lambda case, calibration=None: pickle.dumps((case, calibration, meshes())))

    from cases.offset import preload as answering

    # what has a number as its key is kept with the result, so that nothing else can have that number
    _keep(answering, "answer_of", lambda solved, effects: (id(solved), effects))

    from cases.bench.shims import strung_neck

    _keep(
        strung_neck,
        "bench_of",
        lambda case, calibration=None, tuned_down=None, solved=None: pickle.dumps(
            (case, calibration, tuned_down, id(solved), meshes())
        ),
    )
    _keep(strung_neck.Bench, "effects", lambda bench, *angles: (id(bench), angles))
    _keep(strung_neck.Bench, "prior", lambda bench, effects: (id(bench), id(effects)))


def _keep(module: ModuleType | type, name: str, key_of: Callable[..., Any]) -> None:
    plain = getattr(module, name)
    kept: OrderedDict[Any, tuple[Any, Any]] = OrderedDict()

    @functools.wraps(plain)
    def once(*given: Any, **more: Any) -> Any:
        key = key_of(*given, **more)
        if key not in kept:
            kept[key] = (plain(*given, **more), (given, more))
        kept.move_to_end(key)
        while len(kept) > KEPT:
            kept.popitem(last=False)
        return kept[key][0]

    once.cache_clear = kept.clear  # type: ignore[attr-defined]
    setattr(module, name, once)

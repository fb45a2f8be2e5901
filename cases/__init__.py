"""Instruments and their answers: load a case, compute its preload offset, compare, follow, rank and draw it.

>>> from cases import load, preload
>>> case = load("fourteen-mahogany").with_values({"strings.set": "acoustic-medium"})
>>> answer = preload(case, effects=False)
>>> round(answer.offset_deg, 2)
-0.17

``print(answer)`` shows what the command prints, ``answer.plot()`` draws it, ``answer.table()`` and
``answer.to_dict()`` hold its numbers. All public names are in ``__all__``.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from cases import result
from cases.show import views

if TYPE_CHECKING:
    from cases.casefile.case import Case
    from cases.casefile.files import library_names, load, loads, save
    from cases.casefile.workshop import load_workshop
    from cases.monte_carlo.spread import Spread, spread
    from cases.offset.answer import Answer
    from cases.offset.preload import preload
    from cases.studies.compare import Comparison, compare
    from cases.studies.drift import Drift, drift
    from cases.studies.flex import Flex, flex
    from cases.studies.history import History, history
    from cases.studies.neck_woods import NeckWoods, neck_woods
    from cases.studies.sensitivity import Sensitivities, sensitivity

__all__ = [
    "Answer",
    "Case",
    "Comparison",
    "Drift",
    "Flex",
    "History",
    "NeckWoods",
    "Sensitivities",
    "Spread",
    "compare",
    "drift",
    "flex",
    "history",
    "library_names",
    "load",
    "load_workshop",
    "loads",
    "neck_woods",
    "preload",
    "save",
    "sensitivity",
    "spread",
]

# Loaded on first use, so that a command imports only the modules it needs.
_NAMES = {
    "casefile.case": ("Case",),
    "casefile.files": ("library_names", "load", "loads", "save"),
    "casefile.workshop": ("load_workshop",),
    "offset.answer": ("Answer",),
    "offset.preload": ("preload",),
    "studies.compare": ("Comparison", "compare"),
    "studies.drift": ("Drift", "drift"),
    "studies.flex": ("Flex", "flex"),
    "studies.history": ("History", "history"),
    "studies.neck_woods": ("NeckWoods", "neck_woods"),
    "studies.sensitivity": ("Sensitivities", "sensitivity"),
    "monte_carlo.spread": ("Spread", "spread"),
}
_FOUND_IN = {name: f"cases.{module}" for module, names in _NAMES.items() for name in names}

result.VIEWS.update(views.VIEWS)


def __getattr__(name: str) -> Any:
    if name not in _FOUND_IN:
        raise AttributeError(f"module 'cases' has no attribute {name!r}")
    return getattr(import_module(_FOUND_IN[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)

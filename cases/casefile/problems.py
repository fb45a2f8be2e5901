"""Validation errors of the schema, put into sentences that a person can act on."""

import difflib
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import replace
from typing import Any

from pydantic import BaseModel, ValidationError

from cases.casefile.errors import Problem
from cases.casefile.key_values import LISTS, item_label
from cases.casefile.wrong_value import as_float, limits_of, outside, shown, unit_of, wrong_kind
from materials.table import nearest_names

ALL_KEYS = "docs/case-file.md lists all keys"


def nearest(word: str, names: Iterable[str], *, count: int = 3, cutoff: float = 0.55) -> tuple[str, ...]:
    """Return the names most like a word.

    Examples
    --------
    >>> nearest("mahogony", ["mahogany", "maple"])
    ('mahogany',)
    """
    return tuple(difflib.get_close_matches(word, list(names), n=count, cutoff=cutoff))


def _nearest_keys(path: str, known: Sequence[str]) -> tuple[str, ...]:
    """Return the keys that a wrong one may stand for: like it in its table, else of its name in others."""
    table, _, key = path.rpartition(".")
    beside = {name.rpartition(".")[2]: name for name in known if name.rpartition(".")[0] == table}
    close = [beside[name] for name in nearest(key, beside, cutoff=0.7)]
    close += [name for name in known if name.rpartition(".")[2] == key]
    return tuple(close[:5]) or nearest(path, known)


def _no_item(path: str, kind: str, name: str, names: Sequence[str]) -> Problem:
    close = nearest(name, names, count=1)
    given = f"add it to the case file under [[{kind}]], with its name and the keys of docs/case-file.md"
    taken = f"write {path.replace(name, close[0], 1)}, or " if close else "take one of these, or "
    return Problem(
        path,
        "",
        f"the case has no {kind.removesuffix('s')} of the name {name}",
        ", ".join(names) or f"none, for it has no {kind}",
        f"{taken if names else ''}{given}",
    )


def unknown_key(path: str, known: Sequence[str]) -> Problem:
    """Say that a key does not exist, with the nearest ones that do."""
    under = [key for key in known if key.startswith(f"{path}.")]
    if under:
        allowed = ", ".join(under[:5]) + (" and more" if len(under) > 5 else "")
        return Problem(
            path, "", "keys stand under this heading; it is none itself", allowed, "write one of its keys"
        )
    table, item = (*path.split("."), "")[:2]
    labels = tuple(dict.fromkeys(key.split(".")[1] for key in known if key.startswith(f"{table}.")))
    if table in LISTS and path.count(".") > 1 and item not in labels:
        return _no_item(path, table, item, labels)
    close = _nearest_keys(path, known)
    if not close:
        beside = [key for key in known if key.rpartition(".")[0] == path.rpartition(".")[0]]
        allowed = ", ".join(sorted(beside or {key.split(".")[0] for key in known})[:12])
        return Problem(path, "", "there is no such key", allowed, f"take the key away ({ALL_KEYS})")
    remedy = f"write {close[0]}" if len(close) == 1 else f"write {close[0]} or another of them"
    home, _, key = close[0].rpartition(".")
    if home and home != path.rpartition(".")[0]:
        remedy += f" (in a file: {key} under [{home}])"
    return Problem(
        path, "", "there is no such key", ", ".join(close), f"{remedy}, or take the key away", meant=close[0]
    )


def unknown_heading(name: str, value: object, models: Mapping[str, type[BaseModel]]) -> Problem:
    """Say that a heading does not exist, with the one whose keys stand under it or that is spelt like it."""
    inside = value if isinstance(value, Mapping) else (value or ({},))[0]  # type: ignore[index]
    keys = set(inside) if isinstance(inside, Mapping) else set()
    shared = {table: len(keys & set(model.model_fields)) for table, model in models.items()}
    alike = nearest(name.lower(), models, count=1)
    best = max(models, key=lambda table: (shared[table], table in alike))
    close = best if 2 * shared[best] > len(keys) else next(iter(alike), "")
    written = f"[{name}]" if isinstance(value, Mapping) else f"[[{name}]]"
    if not close:
        allowed = ", ".join(_heading(table) for table in models)
        return Problem(
            written,
            "",
            "there is no such heading",
            allowed,
            "correct the heading, or take it away with its keys",
        )
    right = _heading(close)
    return Problem(
        written, "", "there is no such heading", f"{right} is the nearest", f"write {right}", meant=close
    )


def _heading(table: str) -> str:
    return f"[[{table}]]" if table in LISTS else f"[{table}]"


def unknown_name(path: str, value: str, names: Sequence[str], *, listed_by: str = "") -> Problem:
    """Say that a name is not in its table, with the nearest ones that are, or with all where they are few."""
    close = nearest_names(value, names)
    if not listed_by:
        remedy = f"write {close[0]} or another of them" if close else "write one of them"
        return Problem(path, shown(value), "there is no such name", ", ".join(names), remedy)
    allowed = "nearest are " + ", ".join(close) if close else f"the {len(names)} names of its table"
    remedy = f"write one of them; {listed_by} lists all" if close else f"{listed_by} lists all"
    return Problem(path, shown(value), "there is no such name", allowed, remedy)


def translate(
    error: ValidationError,
    *,
    content: Mapping[str, Any],
    models: Mapping[str, type[BaseModel]],
    top: Sequence[str],
    own: type[BaseModel],
    under: str = "",
) -> list[Problem]:
    """Put every error of a validation into one sentence.

    Parameters
    ----------
    error : ValidationError
        What the schema found.
    content : mapping
        What was validated, defaults included.
    models : mapping
        The class of each table.
    top : sequence of str
        The keys at the top of a file.
    own : type
        The class of the whole file.
    under : str
        The table that was validated by itself, if it was not the whole file.

    Returns
    -------
    list of Problem
        In the order of the file's keys, each path once.
    """
    found: dict[str, Problem] = {}
    missing: set[str] = set()
    for detail in error.errors(include_url=False):
        path = _path((under, *detail["loc"]) if under else detail["loc"], content)
        problem = _problem(detail, path=path, models=models, top=top, own=own)
        if problem is not None:
            found.setdefault(problem.path, problem)
            missing |= {path} if detail["type"] == "missing" else set()
    return list(_as_meant(found, missing).values())


def _as_meant(found: Mapping[str, Problem], missing: Set[str]) -> dict[str, Problem]:
    """Drop what is missing only because it is mistyped, and say so where it is."""
    kept = dict(found)
    for path, problem in found.items():
        lost = {key for key in missing if key == problem.meant or key.startswith(f"{problem.meant}.")}
        if not problem.meant or not lost:
            continue
        for key in lost:
            kept.pop(key, None)
        if problem.meant in missing:
            key = problem.meant.rpartition(".")[2]
            kept[path] = replace(
                problem,
                wrong=f"there is no such key, and {problem.meant} is missing",
                remedy=f"write {key} in its place"
                if key != path
                else f"put the heading [{problem.meant.partition('.')[0]}] on a line above it",
            )
    return kept


def _path(location: tuple[int | str, ...], content: Mapping[str, Any]) -> str:
    parts = list(location)
    if len(parts) > 1 and parts[0] in LISTS and isinstance(parts[1], int):
        entry = content[str(parts[0])][parts[1]]
        label = item_label(entry, position=parts[1] + 1) if isinstance(entry, Mapping) else f"#{parts[1] + 1}"
        return ".".join([str(parts[0]), label, *(str(part) for part in parts[2:3])])
    return ".".join(str(part) for part in parts[:2])


def _problem(
    detail: Any, *, path: str, models: Mapping[str, type[BaseModel]], top: Sequence[str], own: type[BaseModel]
) -> Problem | None:
    kind, value = detail["type"], detail["input"]
    table, _, key = path.rpartition(".")
    model = models.get(path.split(".")[0])
    fields = (model.model_fields if model is not None else {}) if table else own.model_fields
    field = fields.get(key)
    if kind == "extra_forbidden":
        return _unknown(path, value, models=models, top=top)
    if kind == "missing":
        return _missing(path, field)
    if kind in ("greater_than_equal", "less_than_equal"):
        low, high = limits_of(field)
        return outside(path, as_float(value), low=low, high=high)
    if kind == "literal_error":
        allowed = str(detail.get("ctx", {}).get("expected", "")).replace("'", '"')
        return Problem(path, shown(value), "there is no such choice", allowed, "write one of them")
    if model is not None and (path in models or key.startswith("#")):
        heading = _heading(path.split(".")[0])
        return Problem(
            path,
            shown(value),
            "this is the name of a heading, under which its keys stand",
            f"{heading} with its keys",
            f"write {heading} on a line of its own" + (", once for each item" if "[[" in heading else ""),
        )
    return wrong_kind(kind, path, value=value, field=field)


def _unknown(
    path: str, value: object, *, models: Mapping[str, type[BaseModel]], top: Sequence[str]
) -> Problem:
    table = path.rpartition(".")[0]
    listed = isinstance(value, list | tuple) and value and isinstance(value[0], Mapping)
    if not table and (isinstance(value, Mapping) or listed):
        return unknown_heading(path, value, models)
    model = models.get(path.split(".")[0]) if table else None
    known = [f"{table}.{name}" for name in model.model_fields] if model is not None else list(top)
    others = [
        f"{name}.{key}" for name, other in models.items() if name not in LISTS for key in other.model_fields
    ]
    return unknown_key(path, list(dict.fromkeys(known + others)))


def _missing(path: str, field: Any) -> Problem | None:
    if path in LISTS or (field is not None and field.json_schema_extra):
        return None  # a default that could not be worked out: its cause is reported by itself
    table, _, key = path.rpartition(".")
    meaning = (field.description or "") if field is not None else ""
    low, high = limits_of(field)
    span = f"{low:g} to {high:g} {unit_of(path)}".rstrip() if low is not None and high is not None else ""
    words = meaning.rstrip(".") or "a value"
    allowed = f"{span} ({words})" if span else words
    remedy = f"add {key} under [{table}]" if table else f"add {path}"
    return Problem(path, "", "this key is missing", allowed, remedy)

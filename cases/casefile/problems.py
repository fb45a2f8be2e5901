"""Validation errors of the schema as sentences that a person can act on."""

from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from typing import Any

from pydantic import BaseModel, ValidationError

from cases.casefile.defaults import table_models
from cases.casefile.errors import Problem
from cases.casefile.key_values import LISTS, item_label
from cases.casefile.wrong_value import as_float, limits_of, outside, shown, span, wrong_kind
from materials.table import nearest_names

ALL_KEYS = "docs/case-file.md lists all keys"
Models = Mapping[str, type[BaseModel]]


def _nearest_keys(path: str, known: Sequence[str]) -> tuple[str, ...]:
    """Return the keys that were probably meant: similar ones of the same table, the same name in others."""
    table, _, key = path.rpartition(".")
    beside = {name.rpartition(".")[2]: name for name in known if name.rpartition(".")[0] == table}
    begun = [
        name
        for name in known
        if name.rpartition(".")[2].startswith(f"{key}_") and not name.startswith("scatter.")
    ]
    similar = [beside[name] for name in nearest_names(key, beside, count=3)]
    same_name = [name for name in known if name.rpartition(".")[2] == key]
    close = same_name or [name for name in begun if name in beside.values()] or begun
    close = similar + close if table else close + similar
    return tuple(dict.fromkeys(close))[:5] or nearest_names(path, known, count=3)


def _no_item(path: str, kind: str, name: str, names: Sequence[str]) -> Problem:
    close = nearest_names(name, names, count=1)
    add = f"add it to the case file under [[{kind}]], with its name and the keys of docs/case-file.md"
    take = f"write {path.replace(name, close[0], 1)}, or " if close else "choose one of these, or "
    wrong = f"the case has no {kind.removesuffix('s')} of the name {name}"
    allowed = ", ".join(names) or f"none, for it has no {kind}"
    return Problem(path, "", wrong, allowed, f"{take if names else ''}{add}")


def unknown_key(path: str, known: Sequence[str]) -> Problem:
    """Say that a key does not exist, with the nearest ones that do."""
    under = [key for key in known if key.startswith(f"{path}.")]
    if under:
        allowed = ", ".join(under[:5]) + (" and more" if len(under) > 5 else "")
        return Problem(path, "", "this is a heading, not a key", allowed, "write one of its keys")
    table, item = (*path.split("."), "")[:2]
    labels = tuple(dict.fromkeys(key.split(".")[1] for key in known if key.startswith(f"{table}.")))
    if table in LISTS and path.count(".") > 1 and item not in labels:
        return _no_item(path, table, item, labels)
    own_table = path.rpartition(".")[0]
    close = _nearest_keys(path, known)
    if not close:
        beside = [key for key in known if key.rpartition(".")[0] == own_table]
        allowed = ", ".join(sorted(beside or {key.split(".")[0] for key in known})[:12])
        return Problem(path, "", "there is no such key", allowed, f"remove the key ({ALL_KEYS})")
    remedy = f"write {close[0]}" if len(close) == 1 else f"write {close[0]} or another of them"
    home, _, key = close[0].rpartition(".")
    if home and home != own_table:
        remedy += f" (in a file: {key} under [{home}])"
    allowed, remedy = ", ".join(close), f"{remedy}, or remove the key"
    return Problem(path, "", "there is no such key", allowed, remedy, meant=close[0])


def _heading(table: str) -> str:
    return f"[[{table}]]" if table in LISTS else f"[{table}]"


def unknown_heading(name: str, value: object, models: Models) -> Problem:
    """Say that a heading does not exist, with the one that has its keys or a similar name."""
    inside = value if isinstance(value, Mapping) else (value or ({},))[0]  # type: ignore[index]
    keys = set(inside) if isinstance(inside, Mapping) else set()
    shared = {table: len(keys & set(model.model_fields)) for table, model in models.items()}
    alike = nearest_names(name, models, count=1)
    best = max(models, key=lambda table: (shared[table], table in alike))
    close = best if 2 * shared[best] > len(keys) else next(iter(alike), "")
    written = f"[{name}]" if isinstance(value, Mapping) else f"[[{name}]]"
    wrong = "there is no such heading"
    if not close:
        remedy = "correct the heading, or remove it with its keys"
        return Problem(written, "", wrong, ", ".join(map(_heading, models)), remedy)
    right = _heading(close)
    return Problem(written, "", wrong, f"{right} is the nearest", f"write {right}", meant=close)


def unknown_name(path: str, value: str, names: Sequence[str], *, listed_by: str = "") -> Problem:
    """Say that a name is not in its table, with the nearest ones that are, or with all of a short table."""
    close = nearest_names(value, names)
    if not listed_by:
        allowed = ", ".join(names)
        remedy = f"write {close[0]} or another of them" if close else "write one of them"
    else:
        allowed = "nearest are " + ", ".join(close) if close else f"the {len(names)} names of its table"
        remedy = f"{'write one of them; ' if close else ''}{listed_by} lists all"
    return Problem(path, shown(value), "there is no such name", allowed, remedy)


def translate(error: ValidationError, *, content: Mapping[str, Any], own: type[BaseModel]) -> list[Problem]:
    """Return one problem for each error of a validation, in the order of the file's keys.

    Parameters
    ----------
    error : what the schema found.
    content : what was validated, defaults included.
    own : the class of the whole file.
    """
    found: dict[str, Problem] = {}
    missing: set[str] = set()
    for detail in error.errors(include_url=False):
        path = _path(detail["loc"], content)
        problem = _problem(detail, path=path, models=table_models(own), own=own)
        if problem is not None:
            found.setdefault(problem.path, problem)
            missing |= {path} if detail["type"] == "missing" else set()
    return list(_as_meant(found, missing).values())


def _as_meant(found: Mapping[str, Problem], missing: Set[str]) -> dict[str, Problem]:
    """Join the problem of a mistyped key with that of the key it was meant for, which is missing."""
    kept = dict(found)
    for path, problem in found.items():
        lost = {key for key in missing if key == problem.meant or key.startswith(f"{problem.meant}.")}
        if not problem.meant or not lost:
            continue
        for key in lost:
            kept.pop(key, None)
        if problem.meant in missing:
            table, _, key = problem.meant.rpartition(".")
            wrong = f"there is no such key, and {problem.meant} is missing"
            above = f"put the heading [{table}] on a line above it"
            remedy = above if key == path else f"write {key} in its place"
            kept[path] = replace(problem, wrong=wrong, remedy=remedy)
    return kept


def _path(location: tuple[int | str, ...], content: Mapping[str, Any]) -> str:
    parts = list(location)
    if len(parts) > 1 and parts[0] in LISTS and isinstance(parts[1], int):
        entry = content[str(parts[0])][parts[1]]
        label = item_label(entry, position=parts[1] + 1) if isinstance(entry, Mapping) else f"#{parts[1] + 1}"
        return ".".join([str(parts[0]), label, *(str(part) for part in parts[2:3])])
    return ".".join(str(part) for part in parts[:2])


def _problem(detail: Any, *, path: str, models: Models, own: type[BaseModel]) -> Problem | None:
    kind, value = detail["type"], detail["input"]
    table, _, key = path.rpartition(".")
    model = models.get(path.split(".")[0])
    fields = (model.model_fields if model is not None else {}) if table else own.model_fields
    field = fields.get(key)
    if kind == "extra_forbidden":
        return _unknown(path, value, models=models, top=tuple(own.model_fields))
    if kind == "missing":
        return _missing(path, field)
    if kind in ("greater_than_equal", "less_than_equal"):
        low, high = limits_of(field) or (-float("inf"), float("inf"))
        return outside(path, as_float(value), low=low, high=high)
    if kind == "literal_error":
        choices = str(detail["ctx"]["expected"]).replace("'", '"')
        return Problem(path, shown(value), "there is no such choice", choices, "write one of them")
    if model is not None and (path in models or key.startswith("#")):
        heading = _heading(path.split(".")[0])
        remedy = f"write {heading} on a line of its own" + (", once for each item" if "[[" in heading else "")
        return Problem(path, shown(value), "this is a heading, not a key", f"{heading} with its keys", remedy)
    return wrong_kind(kind, path, value=value, field=field)


def _unknown(path: str, value: object, *, models: Models, top: Sequence[str]) -> Problem:
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
        return None  # a default that could not be computed: its cause is reported by itself
    table, _, key = path.rpartition(".")
    words = ((field.description or "") if field is not None else "").rstrip(".") or "a value"
    limits = span(path, limits_of(field)) if field is not None else ""
    allowed = f"{limits} ({words})" if limits else words
    list_name, _, item = table.partition(".")
    remedy = f"add {key} under [{table}]" if table else f"add {path}"
    if item.startswith("#"):
        remedy = f"add {key} to the {list_name.removesuffix('s')} number {item[1:]}, under [[{list_name}]]"
    elif item:
        remedy = f'add {key} under the [[{list_name}]] that has name = "{item}"'
    return Problem(path, "", "this key is missing", allowed, remedy)

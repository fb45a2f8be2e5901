"""The case: one instrument with its woods, strings and set-up, checked and complete."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import Field, PrivateAttr, ValidationError

from cases.casefile.copied import HEADING, Copied, copied_of
from cases.casefile.defaults import BOLT_SOURCES, SHIM_SOURCE, field_source, table_models, with_defaults
from cases.casefile.errors import CaseError, Problem
from cases.casefile.heel_file import HeelFile, read_heel_file
from cases.casefile.key_values import LISTS, Values, flatten, marked, unshared
from cases.casefile.limits import broken_limits
from cases.casefile.limits.alternatives import both_given, excluded_by
from cases.casefile.problems import translate, unknown_key
from cases.casefile.schema.instrument import Fretboard, Frets, Instrument, Neck, OwnWood
from cases.casefile.schema.joint import Block, Bolt, Heel, Hollow, Joint, Shim, Tongue
from cases.casefile.schema.key import Table
from cases.casefile.schema.playing import Body, Bridge, Setup, Strings, Targets
from cases.casefile.schema.rod import Bar, Rod
from cases.casefile.schema.shop import Scatter, Stock, Tolerance
from cases.casefile.toml_place import placed
from cases.casefile.typed_units import Typed, with_numbers

EMPTY = Problem(
    *("the case", "", "the file contains only comments or nothing"),
    allowed="a case, with at least the twelve keys of docs/case-file.md",
    remedy="start from a complete one: neckpreload new NAME",
)


class Case(Table):
    """A complete case, defaults included; made by `resolve` or `cases.casefile.files.load`."""

    name: str = Field(
        description="Name of the instrument, by which its files are called: letters, digits, spaces and "
        ". , + - _ ( ), a letter or digit first, no space or dot last.",
        min_length=1,
        max_length=80,
        pattern=r"^\w([\w .,+()-]*[\w+()-])?$",
    )
    note: str | None = Field(default=None, description="A remark.")
    revision: str | None = Field(default=None, description="Revision of the case, for released ones.")
    released_by: str | None = Field(default=None, description="Who released it for the bench.")
    released_on: date | None = Field(default=None, description="When it was released, as 2026-03-31.")
    instrument: Instrument
    neck: Neck
    fretboard: Fretboard
    frets: Frets
    heel: Heel
    tongue: Tongue
    block: Block
    joint: Joint
    shims: tuple[Shim, ...]
    bolts: tuple[Bolt, ...]
    rod: Rod
    bars: tuple[Bar, ...]
    hollows: tuple[Hollow, ...]
    woods: tuple[OwnWood, ...]
    strings: Strings
    setup: Setup
    bridge: Bridge
    body: Body
    targets: Targets
    tolerance: Tolerance
    stock: Stock
    scatter: Scatter

    _raw: dict[str, Any] = PrivateAttr(default_factory=dict)
    _text: str | None = PrivateAttr(default=None)
    _house: dict[str, Any] = PrivateAttr(default_factory=dict)
    _folder: Path | None = PrivateAttr(default=None)
    _heel_file: HeelFile | None = PrivateAttr(default=None)
    _record: Copied | None = PrivateAttr(default=None)
    _typed: tuple[Typed, ...] = PrivateAttr(default=())

    @property
    def heel_file(self) -> HeelFile | None:
        """The heel's outline or mesh from its file, or None."""
        return self._heel_file

    @property
    def text(self) -> str | None:
        """The text of the file the case was read from, or None."""
        return self._text

    @property
    def given(self) -> frozenset[str]:
        """The paths of the keys that the file gave."""
        return frozenset(path for path, _ in flatten(self._raw))

    @property
    def copied_from(self) -> str | None:
        """The name of the case that this one was started from, or None."""
        return self._record.source if self._record is not None else None

    @property
    def copied(self) -> Mapping[str, object]:
        """The keys that still have the value copied from another case, with it."""
        return self._record.still(self._raw) if self._record is not None else {}

    def origin(self, path: str) -> str:
        """Return where a value comes from: `measured` (or chosen, for this case), `copied` or `assumed`."""
        if path in self.copied:
            return "copied"
        return "measured" if path in self.given else "assumed"

    @property
    def typed(self) -> tuple[Typed, ...]:
        """The values that the file gives with a unit, as text and as number."""
        return self._typed

    @property
    def sha256(self) -> str:
        """SHA-256 of the complete content: equal for two files of the same meaning; a heel's file enters with
        its content, not its name.
        """
        content = self.model_dump(mode="json")
        file = {key: content["heel"].pop(key) for key in ("outline_csv", "mesh")}
        if self._heel_file is not None:
            content["heel"]["file"] = [key for key in file if file[key]] + [self._heel_file.sha256]
        canonical = json.dumps(content, sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(canonical.encode()).hexdigest()

    def shim(self, name: str) -> Shim:
        """Return a shim by its name; `KeyError` if there is none."""
        return {shim.name: shim for shim in self.shims}[name]

    def items(self) -> Iterator[tuple[str, object]]:
        """Give every key path with its value, items of lists by their names."""
        yield from self._by_path.items()

    @cached_property
    def _by_path(self) -> Mapping[str, object]:
        return dict(flatten(self.model_dump()))

    def value(self, path: str) -> object:
        """Return the value at a key path.

        Raises
        ------
        CaseError
            If there is no such key.
        """
        if path not in self._by_path:
            raise unknown_key(path, tuple(self._by_path)).error(self.name)
        return self._by_path[path]

    def numeric_keys(self) -> tuple[str, ...]:
        """Return the paths of all keys that hold a number."""
        return tuple(
            path
            for path, value in self.items()
            if isinstance(value, int | float) and not isinstance(value, bool)
        )

    def assumed(self) -> tuple[tuple[str, object, str], ...]:
        """Return the defaults that the case relies on: (key path, value, source)."""
        given = self.given
        models = table_models(Case)
        house = {path for path, _ in flatten(self._house)}
        listed = {name for name in LISTS if name in self._raw}
        found = []
        for path, value in self.items():
            parts = path.split(".")
            if path in given or value is None or len(parts) == 1 or parts[-1] == "name":
                continue
            field = models[parts[0]].model_fields[parts[-1]]
            default = None if field.is_required() else field.default
            source = field_source(field)
            if path in house:
                source = "the workshop's settings"
            if parts[0] == "bolts" and "bolts" not in listed and value != default:
                source = BOLT_SOURCES[self.joint.kind]
            found.append((path, value, source or SHIM_SOURCE))
        return tuple(found)

    def with_values(self, values: Mapping[str, object]) -> "Case":
        """Return a checked copy with some keys set; defaults that follow from them are recomputed.

        A key replaces those that it excludes (torque and tension, set and own gauges ...); two such keys set
        at once are refused.

        Parameters
        ----------
        values : key path to value, for example `{"neck.e_l_gpa": 11.0, "bolts.heel-top.torque_n_m": 1.5}`.

        Raises
        ------
        CaseError
            If a key does not exist, a value is not allowed, or two of them exclude one another.
        """
        raw = unshared(self._raw)
        known = self._by_path
        problems = [
            unknown_key(path, tuple(known)) for path in values if path not in known and not _of_own_wood(path)
        ]
        problems += _set_at_once([path for path, value in values.items() if value is not None])
        if problems:
            raise CaseError(self.name, problems)
        for path, value in values.items():
            self._set(raw, path, list(value) if isinstance(value, tuple) else value)
        if self._record is not None:
            raw[HEADING] = self._record.table(self._raw)
        made = resolve(raw, where=self.name, name=self.name, house=self._house, folder=self._folder)
        made._typed += tuple(one for one in self._typed if one.path not in values)
        return made

    def to_toml(self) -> str:
        """Return the case as TOML: the keys given and the workshop's settings, no other defaults.

        Comments of the file it came from are not kept; `text` holds those.
        """
        record = {} if self._record is None else {HEADING: self._record.table(self._raw)}
        return tomli_w.dumps(_plain({"name": self.name, **under_house(self._raw, self._house), **record}))

    def _set(self, raw: dict[str, Any], path: str, value: object) -> None:
        parts = path.split(".")
        key = parts[-1]
        if parts[0] in LISTS:
            if parts[0] not in raw:
                # The default list becomes the file's own, so that one of its items can be changed.
                dumped = getattr(self, parts[0])
                raw[parts[0]] = [item.model_dump(exclude_none=True) for item in dumped]
            table = next((item for item in raw[parts[0]] if item.get("name") == parts[1]), None)
            if table is None:
                table = {"name": parts[1]}
                raw[parts[0]].append(table)
        else:
            if parts[0] == "stock" and parts[0] not in raw:
                raw[parts[0]] = self.stock.model_dump(exclude_none=True)
            table = raw.setdefault(parts[0], {}) if len(parts) > 1 else raw
        if value is None:
            table.pop(key, None)
            return
        for excluded in excluded_by(path):
            table.pop(excluded.rpartition(".")[2], None)
        table[key] = value


def _of_own_wood(path: str) -> bool:
    """Whether a path is a key of a wood of one's own, which a change may add."""
    table, _, key = path.rpartition(".")
    return table.startswith("woods.") and key in OwnWood.model_fields


def _set_at_once(paths: Sequence[str]) -> Iterator[Problem]:
    """Give a problem for each key that excludes one set before it."""
    for position, path in enumerate(paths):
        other = next((found for found in excluded_by(path) if found in paths[:position]), None)
        if other is not None:
            yield both_given(path, other)


def resolve(
    raw: Mapping[str, Any],
    *,
    where: str,
    name: str = "unnamed",
    text: str | None = None,
    house: Mapping[str, Any] | None = None,
    folder: Path | None = None,
) -> Case:
    """Make a case from nested tables: fill in defaults, check every key and every limit.

    `CaseError` with one sentence for each error.

    Parameters
    ----------
    raw : content of the file.
    where : the file, or another name for messages.
    name : the case's name if `raw` has none.
    text : text of the file.
    house : tables of the workshop's settings, which apply where `raw` has none.
    folder : start of paths in the case; default: the current folder.
    """
    if not raw:
        raise EMPTY.error(where)
    raw, typed, problems = with_numbers(raw, Case)
    record, wrong_record = copied_of(raw)
    problems += wrong_record
    full = {"name": name, **under_house(raw, house or {})}
    content = with_defaults(full, Case)
    defaults = {path for path, value in flatten(content) if value is not None}
    defaults -= {path for path, _ in flatten(full)}
    case: Case | None = None
    try:
        case = Case.model_validate(content)
    except ValidationError as error:
        said = {problem.path for problem in problems}
        found = translate(error, content=content, own=Case)
        problems += [problem for problem in found if problem.path not in said]
    wrong = {problem.path for problem in problems} - defaults | {problem.meant for problem in problems}

    def values_without(more: Set[str]) -> Values:
        bad = wrong | more
        return Values(with_defaults(marked(full, bad), Case) if bad else content)

    problems += broken_limits(values_without, defaults=defaults)
    if problems or case is None:
        raise CaseError(where, placed(_causes(problems, defaults=defaults), text or ""))
    case._raw = unshared(raw)
    case._record = record
    case._typed = tuple(typed)
    case._text = text
    case._house = unshared(dict(house or {}))
    case._folder = folder
    case._heel_file = read_heel_file(case.heel, folder=folder)
    return case


def _causes(problems: Sequence[Problem], *, defaults: Set[str]) -> list[Problem]:
    """Drop errors that only follow from others.

    A default computed from a wrong value is wrong too, but only the value in the file gets a sentence. If the
    file's own values are right, each default that does not fit gets one.
    """
    own = [problem for problem in problems if problem.path not in defaults]
    first = {problem.path: problem for problem in reversed(problems)}
    remedy = "this is the default, which does not fit here: give the key, or change what limits it"
    return own or [replace(problem, remedy=remedy) for problem in reversed(first.values())]


def under_house(raw: Mapping[str, Any], house: Mapping[str, Any]) -> dict[str, Any]:
    """Merge a case's tables with those of the workshop; the case goes first, its stock replaces the whole."""
    merged = dict(raw)
    for table, settings in house.items():
        own = merged.get(table)
        if own is None:
            merged[table] = dict(settings)
        elif table != "stock" and isinstance(own, dict):
            merged[table] = {**settings, **own}
    return merged


def _plain(value: Any) -> Any:
    """Return nested tables with `None` left out and tuples as lists, as TOML can hold them."""
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items() if item is not None}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value

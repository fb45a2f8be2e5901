"""A case file to start from, made from another case: short, or with every key and its meaning."""

from collections.abc import Mapping, Set
from pathlib import Path
from textwrap import wrap

from cases.casefile.case import Case
from cases.casefile.copied import FROM, HEADING
from cases.casefile.defaults import table_models
from cases.casefile.describe import KeyRow, table_rows, toml_value, top_rows
from cases.casefile.errors import CaseError, Problem
from cases.casefile.files import loads
from cases.casefile.key_values import LISTS
from cases.casefile.measurements import measurement_of, to_measure
from cases.casefile.toml_text import toml_path

WIDTH = 110
NOTES = ("note", "revision", "released_by", "released_on")
"""Keys of the other case that say nothing about the new one."""
EVERY = (
    "# Lines without # are set; remove the # of a line to set it too. docs/case-file.md explains each key.",
)
SHORT = (
    "# Measure your guitar and write your values over these; the letters are those of the drawing in",
    "# docs/what-to-measure.md. Every other key has a usual value: `neckpreload check` with --assumed lists",
    "# those, `neckpreload new` with --all writes every key, and docs/case-file.md explains them.",
)
UNITS = (
    "# A number stands alone in the unit of its key, or in quotes with its own unit, as",
    '# "5/64in", "0.008in", "163 lbf" or "9 in-lb".',
)
CAUTION = "# Wear eye protection; slacken all strings before you undo a neck bolt."


def new_case(name: str, *, like: Case, every: bool = False, measured: Set[str] = frozenset()) -> str:
    """Return the text of a new case file that means the same as `like`, but for the name.

    The short form gives the values to measure, then what else `like` has other than usual. A record at the
    end tells values that still stand as copied from those changed since.

    Parameters
    ----------
    like : the case to start from.
    every : whether to write every key, those not given as comments.
    measured : keys whose value was measured for the new case.
    """
    source = like.name
    # The workshop's stock is written out, so that the new file needs no workshop file.
    stock = {f"stock.{key}" for key in like.stock.model_dump(exclude_none=True)}
    values = {**dict(like.items()), "name": name}
    given = set(like.given | stock | {"name"}) - set(NOTES[1:])
    head = EVERY if every else SHORT
    if not every:
        given = _needed(name, like=like, values=values, given=given - {"note"})
    body = (_all_keys if every else _short)(like, values, given)
    own = set(measured) | (stock - like.given) | {key for key in given if key.endswith("name")}
    copied = {key: values[key] for key in values if key in given - own and "." in key}
    start = f"# {name}: a case for neckpreload, started from {source}."
    text = "\n".join([start, *head, *UNITS, CAUTION, *body, *_record(source, copied)]) + "\n"
    loads(text, where=name)
    return text


def _needed(name: str, *, like: Case, values: Mapping[str, object], given: Set[str]) -> set[str]:
    """Keys of a short file: those to measure, and those without which it would mean something else."""
    kept = {key for key, _ in to_measure(like)}
    kept |= {key for key in given if "." not in key or _stands(key, values[key])}
    shared = {key for key in values if key in given or not key.startswith("tolerance.")} - set(NOTES)
    while True:
        try:
            made = dict(loads("\n".join(_short(like, values, kept)), where=name).items())
        except CaseError:  # one of the keys left out stands in the limits of one kept
            return kept | given
        other = {key for key in shared - kept if made.get(key) != values[key]}
        if not other:
            return kept
        # what the other case gives goes first: the rest may follow from it
        kept |= (other & given) or other


def _stands(key: str, value: object) -> bool:
    """Whether a key must be given, or chooses a kind other than usual."""
    field = table_models(Case)[key.partition(".")[0]].model_fields[key.rpartition(".")[2]]
    if field.is_required():
        return not field.json_schema_extra
    return isinstance(value, str) and value != field.default


def _short(like: Case, values: Mapping[str, object], kept: Set[str]) -> list[str]:
    """Lines of the keys kept, each with how to measure it, or with its meaning; of items once."""
    lines = ["", f"name = {toml_value(values['name'])}"]
    for table, model in table_models(Case).items():
        said: set[str] = set()
        for start, heading in _headings(like, table).items():
            own = [
                row
                for row in table_rows(model)
                if f"{start}.{row.key}" in kept
                or (start != table and row.default == "required" and _any(kept, start))
            ]
            lines += ["", heading] if own else []
            for row in own:
                lines += [] if row.key in said else _wrapped(f"# {_how(f'{start}.{row.key}', row)}")
                lines.append(f"{row.key} = {toml_value(values[f'{start}.{row.key}'])}")
                said.add(row.key)
    return lines


def _how(key: str, row: KeyRow) -> str:
    one = measurement_of(key)
    return row.meaning if one is None else one.line


def _any(paths: Set[str], start: str) -> bool:
    return any(path.startswith(f"{start}.") for path in paths)


def _headings(like: Case, table: str) -> dict[str, str]:
    """The start of the key paths of a table or of each item of a list, with its heading."""
    if table not in LISTS:
        return {table: f"[{table}]"}
    return {f"{table}.{item.name}": f"[[{table}]]" for item in getattr(like, table)}


def _all_keys(like: Case, values: Mapping[str, object], given: Set[str]) -> list[str]:
    """Lines of every key with its meaning; those not given are comments."""
    lines = [""]
    for row in top_rows():
        value = None if row.key in NOTES[1:] else values.get(row.key)
        lines += _key_lines(row, value, given=row.key in given)
    for table, model in table_models(Case).items():
        headings = _headings(like, table)
        for start, heading in (headings or {table: f"[[{table}]]"}).items():
            set_here = table not in LISTS or _any(given, start)
            lines += ["", heading if set_here else f"# {heading}"]
            for row in table_rows(model):
                path = f"{start}.{row.key}"
                lines += _key_lines(row, values.get(path), given=path in given)
    return lines


def _record(source: str, copied: Mapping[str, object]) -> list[str]:
    """The record of what was copied."""
    return [
        "",
        f"# What was copied from {source}: nothing to edit here.",
        "# A value above that still equals its line here counts as copied, any other as your own.",
        "# Remove a line if you measured exactly that value.",
        f"[{HEADING}]",
        f"{FROM} = {toml_value(source)}",
        *(f"{toml_value(key)} = {toml_value(value)}" for key, value in copied.items()),
    ]


def _key_lines(row: KeyRow, value: object, *, given: bool) -> list[str]:
    lines = ["", *_wrapped(f"# {row.meaning}")]
    if given and value is not None:
        return [*lines, f"{row.key} = {toml_value(value)}"]
    if row.source:
        lines += _wrapped(f"# Default: {row.source}.")
    return [*lines, f"# {row.key} = {toml_value(value)}" if value is not None else f"# {row.key} ="]


def _wrapped(comment: str) -> list[str]:
    return wrap(comment, WIDTH, subsequent_indent="# ", break_long_words=False, break_on_hyphens=False)


def case_path(name: str, folder: Path) -> Path:
    """Return the path of a new case; `CaseError` if no case can have the name, or the file exists."""
    if not name or len(name) > 60 or not all(char.isalnum() or char in "-_" for char in name):
        wrong, allowed = "this cannot be the name of a case", "1 to 60 letters, digits, - and _"
        raise Problem("NAME", f'"{name}"', wrong, allowed, "choose another").error()
    return toml_path(folder / f"{name}.toml")

"""A case file to start from: every key with its meaning, taken from another case."""

from pathlib import Path

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.casefile.describe import KeyRow, table_rows, toml_value, top_rows
from cases.casefile.errors import Problem
from cases.casefile.files import loads
from cases.casefile.key_values import LISTS
from cases.casefile.toml_text import write_text

WIDTH = 110


def new_case(name: str, *, like: Case) -> str:
    """Return the text of a new case file: the keys that `like` gives, and its other keys as comments.

    But for the name, the TOML means the same as `like`.
    """
    # The workshop's stock is written out, so that the new file needs no workshop file.
    stock = {f"stock.{key}" for key in like.stock.model_dump(exclude_none=True)}
    given = like.given | stock | {"name"}
    values = {**dict(like.items()), "name": name}
    released = ("revision", "released_by", "released_on")
    lines = [
        "# A case for neckpreload. Lines without # are set; remove the # of a line to set it too.",
        f"# Started from {like.name}. docs/case-file.md explains each key.",
        "",
    ]
    for row in top_rows():
        value = None if row.key in released else values.get(row.key)
        lines += _key_lines(row, value, given=row.key in given)
    for table, model in table_models(Case).items():
        rows = tuple(table_rows(model))
        headings = {table: f"[{table}]"}
        if table in LISTS:
            headings = {f"{table}.{item.name}": f"[[{table}]]" for item in getattr(like, table)}
        for start, heading in headings.items():
            set_here = table not in LISTS or any(path.startswith(f"{start}.") for path in given)
            lines += ["", heading if set_here else f"# {heading}"]
            for row in rows:
                path = f"{start}.{row.key}"
                lines += _key_lines(row, values.get(path), given=path in given)
    text = "\n".join(lines) + "\n"
    loads(text, where=name)
    return text


def _key_lines(row: KeyRow, value: object, *, given: bool) -> list[str]:
    lines = ["", *_wrapped(f"# {row.meaning}")]
    if given and value is not None:
        return [*lines, f"{row.key} = {toml_value(value)}"]
    if row.source:
        lines += _wrapped(f"# Default: {row.source}.")
    return [*lines, f"# {row.key} = {toml_value(value)}" if value is not None else f"# {row.key} ="]


def _wrapped(comment: str) -> list[str]:
    lines, line = [], ""
    for word in comment.split():
        if line and len(line) + 1 + len(word) > WIDTH:
            lines.append(line)
            line = "#"
        line = f"{line} {word}".strip()
    return [*lines, line]


def write_new_case(name: str, *, like: Case, folder: Path) -> Path:
    """Write `NAME.toml` into a folder and return its path; an existing file is never overwritten.

    `CaseError` if the name is not allowed, or the file exists or cannot be written.
    """
    if not name or len(name) > 60 or not all(char.isalnum() or char in "-_" for char in name):
        wrong, allowed = "this cannot be the name of a case", "1 to 60 letters, digits, - and _"
        raise Problem("NAME", f'"{name}"', wrong, allowed, "choose another").error()
    return write_text(folder / f"{name}.toml", new_case(name, like=like))

"""What a command leaves behind: text or JSON on the screen, a table, a picture, files in a folder."""

import errno
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from cases.result import Result
    from materials.errors import InputError

BETWEEN_LINES = 1.0
"""Least time between two lines of progress [s]."""
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
PictureOption = Annotated[
    Path | None, typer.Option("--png", help="Write the picture to this file.", metavar="FILE")
]
TableOption = Annotated[
    Path | None, typer.Option("--csv", help="Write the table to this file.", metavar="FILE")
]
COLOURS = (
    (r"(?:PRELOAD OFFSET|TAPER|PAIR|SWAP TO|KEEP THE PAIR) .*", "1"),
    (r"WARNING:", "1;33"),
    (r"CAUTION:", "36"),
)
"""Marked words at the start of a row, and how a terminal shows them."""


def json_text(content: Mapping[str, Any]) -> str:
    """Return a JSON object as the commands print and write it."""
    import json

    return json.dumps(content, indent=2, ensure_ascii=False)


def say(text: str) -> None:
    """Print a text, with its marked words in colour if a terminal shows it and `NO_COLOR` is not set."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty()
    typer.echo(text if plain else in_colour(text))


def put(text: str, content: Mapping[str, Any], *, as_json: bool) -> None:
    """Print a result as text or as its JSON object."""
    if as_json:
        typer.echo(json_text(content))
    else:
        say(text)


def in_colour(text: str) -> str:
    """The text with its result bold, its warnings and cautions in colour; the words stay as they are."""
    for words, code in COLOURS:
        text = re.sub(rf"^( *)({words})", f"\\1\x1b[{code}m\\2\x1b[0m", text, flags=re.MULTILINE)
    return text


def show(
    found: "Result",
    *,
    as_json: bool,
    text: str | None = None,
    csv: Path | None = None,
    png: Path | None = None,
) -> None:
    """Print a result as JSON or as ``text``, by default its own; write table and picture where named."""
    import cases.show.views  # noqa: F401  registers text and picture of each result
    from cases.show.style import save

    put(str(found) if text is None else text, found.to_dict(), as_json=as_json)
    if csv is not None:
        _write_table(found.each_row(), csv)
    if png is not None:
        save(found.plot(), png)
    for path in (csv, png):
        if path is not None:
            typer.echo(f"written: {path}", err=True)


def _write_table(rows: Iterator[dict[str, Any]], path: Path) -> None:
    import csv

    try:
        with path.open("w", newline="", encoding="utf-8") as file:
            head = next(rows)
            writer = csv.DictWriter(file, fieldnames=list(head))
            writer.writeheader()
            writer.writerow(head)
            writer.writerows(rows)
    except OSError as error:
        raise _not_written("--csv", path, error) from None


def check_places(csv: Path | None, png: Path | None) -> None:
    """Refuse files for table and picture that cannot be written, before anything is computed.

    `InputError` if one cannot be written, or has another ending: a slip could overwrite a case.
    """
    from materials.errors import InputError

    for path, ending, what in ((csv, ".csv", "table is a CSV"), (png, ".png", "picture is a PNG")):
        if path is None:
            continue
        if path.suffix.lower() != ending:
            raise InputError(f"--{ending[1:]} {path}: the {what}; give a name that ends in {ending}")
        writable_file(path, option=f"--{ending[1:]}")


def writable_folder(path: Path, *, option: str = "--out") -> Path:
    """Return a folder for output, made if there is none; `InputError` if it cannot be or is a file."""
    try:
        if path.is_file():
            raise OSError(errno.EEXIST, "a file has this name")
        path.mkdir(parents=True, exist_ok=True)
        probe = path / ".neckpreload-probe"
        probe.touch()
        probe.unlink()
    except OSError as error:
        raise _not_written(option, path, error, what="folder") from None
    return path


def writable_file(path: Path, *, option: str) -> None:
    """Refuse a file that cannot be written, before anything is computed; an existing file is kept."""
    try:
        if path.is_dir():
            raise OSError(errno.EISDIR, "a folder has this name")
        if not path.exists():
            path.touch()
            path.unlink()
        elif not os.access(path, os.W_OK):
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
    except OSError as error:
        raise _not_written(option, path, error) from None


def _not_written(option: str, path: Path, error: OSError, *, what: str = "file") -> "InputError":
    from materials.errors import InputError

    reason = (error.strerror or "it cannot be made").lower()
    place = "folder" if what == "folder" else "place"
    return InputError(
        f"{option} {path}: the {what} cannot be written: {reason}; give a {place} that you may write to"
    )


@contextmanager
def working(what: str) -> Iterator[None]:
    """Say on a terminal what a command is doing, from its first moment on; gone when that is done."""
    if not sys.stderr.isatty():
        yield
        return
    line = f"{what} ..."
    typer.echo(line, err=True, nl=False)
    try:
        yield
    finally:
        typer.echo(f"\r{' ' * len(line)}\r", err=True, nl=False)


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[..., None]]:
    """Show a progress bar on a terminal and remove it when done; elsewhere write lines to standard error.

    The function given takes the number done, the number of all, and another name for what is counted.
    """
    if not sys.stderr.isatty():
        yield progress_lines(what)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total, name=what: bar.update(task, description=name, completed=done, total=total)


def progress_lines(what: str, *, clock: Callable[[], float] = monotonic) -> Callable[..., None]:
    """Write progress as lines to standard error, for a log: the first after a second, then one a second."""
    last = clock()

    def write(done: int, total: int, name: str = what) -> None:
        nonlocal last
        if clock() - last >= BETWEEN_LINES and done < total:
            last = clock()
            typer.echo(f"{name}: {done} of {total}", err=True)

    return write

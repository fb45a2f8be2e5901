"""TOML files read and written; an error names line and column."""

import os
import tomllib
from pathlib import Path
from typing import Any

from cases.casefile.errors import CaseError, Problem
from cases.casefile.toml_fault import LINE, fault_of, not_utf8

MAX_BYTES = 1_000_000


def parse_toml(text: str, *, where: str | Path) -> dict[str, Any]:
    """Return the nested tables of TOML text.

    `CaseError` with line and column of the fault; `where` is the name in the message.
    """
    try:
        return tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or a number of thousands of digits
        problem = fault_of(text, str(error))
    except RecursionError:
        problem = Problem("the text", "", "brackets are nested too deep", LINE, "remove the brackets")
    raise problem.error(where)


def read_toml(path: Path) -> tuple[str, dict[str, Any]]:
    """Return the text of a TOML file and its nested tables.

    `CaseError` if it cannot be read, is not text, is too long, or is not TOML.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except OSError as error:
        wrong, allowed = f"it cannot be read: {_reason(error)}", "a file that you may read"
        raise Problem("the file", "", wrong, allowed, "check the path").error(path) from None
    if len(data) > MAX_BYTES:
        allowed = f"at most {MAX_BYTES} bytes"
        raise Problem("the file", "", "it is too long", allowed, "check that it is a case").error(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise not_utf8(data).error(path) from None
    return text, parse_toml(text, where=path)


def write_text(path: str | Path, text: str, *, overwrite: bool = False) -> Path:
    """Write a TOML file and return its path; an existing one is kept unless `overwrite` is set.

    `CaseError` if the path does not end in `.toml`, exists already, or cannot be written.
    """
    target = toml_path(path, overwrite=overwrite)
    try:
        with target.open("w" if overwrite else "x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:  # made since it was looked for
        raise _exists(target) from None
    except OSError as error:
        if not overwrite:
            target.unlink(missing_ok=True)  # a part of a file, on a full disk
        wrong = f"it cannot be written: {_reason(error)}"
        raise _unwritten(target, wrong, "a folder that you may write to", "check the path") from None
    return target


def toml_path(path: str | Path, *, overwrite: bool = False) -> Path:
    """Return the path of a TOML file to write; `CaseError` as of `write_text` if that is plain beforehand."""
    target = Path(path)
    if target.suffix != ".toml":
        raise _unwritten(target, "it does not end in .toml", "a path that ends in .toml", "add the ending")
    if os.path.lexists(target) and not overwrite:
        raise _exists(target)
    return target


def _exists(target: Path) -> CaseError:
    return _unwritten(target, "the file exists already and is kept", "a new file", "choose another name")


def _unwritten(target: Path, wrong: str, allowed: str, remedy: str) -> CaseError:
    return Problem("the path", "", wrong, allowed, remedy).error(target)


def _reason(error: OSError) -> str:
    return (error.strerror or "it cannot be opened").lower()

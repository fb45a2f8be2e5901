"""TOML files read and written; what is wrong with one is said with its line and column."""

import tomllib
from pathlib import Path
from typing import Any

from cases.casefile.errors import CaseError, Problem
from cases.casefile.toml_fault import LINE, fault_of, not_utf8

MAX_BYTES = 1_000_000


def parse_toml(text: str, *, where: str) -> dict[str, Any]:
    """Read TOML text.

    Parameters
    ----------
    text : str
        The text.
    where : str
        What messages call it.

    Returns
    -------
    dict
        Nested tables.

    Raises
    ------
    CaseError
        With line and column of what cannot be read.
    """
    try:
        return tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or a number of thousands of digits
        problem = fault_of(text, str(error))
    except RecursionError:
        problem = Problem("the text", "", "brackets are nested too deep", LINE, "take the brackets away")
    raise CaseError(where, (str(problem),))


def read_toml(path: Path) -> tuple[str, dict[str, Any]]:
    """Read a TOML file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    tuple of str and dict
        Its text and its nested tables.

    Raises
    ------
    CaseError
        If it cannot be read, is no text, is too long, or is not TOML.
    """
    where = str(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "it cannot be opened").lower()
        problem = Problem(
            "the file", "", f"it cannot be read: {reason}", "a file that you may read", "check the path"
        )
        raise CaseError(where, (str(problem),)) from None
    if len(data) > MAX_BYTES:
        problem = Problem(
            "the file", "", "it is too long", f"at most {MAX_BYTES} bytes", "check that it is a case"
        )
        raise CaseError(where, (str(problem),))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CaseError(where, (str(not_utf8(data)),)) from None
    return text, parse_toml(text, where=where)


def write_text(path: str | Path, text: str, *, overwrite: bool = False) -> Path:
    """Write a TOML file; one that is there already is kept unless `overwrite` is set.

    Parameters
    ----------
    path : str or Path
        A path that ends in `.toml`.
    text : str
        What to write.
    overwrite : bool
        Whether a file that is there may be replaced.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    CaseError
        If the path does not end in `.toml`, exists already, or cannot be written.
    """
    target = Path(path)
    if target.suffix != ".toml":
        problem = Problem(
            "the path", "", "it does not end in .toml", "a path that ends in .toml", "add the ending"
        )
        raise CaseError(str(target), (str(problem),))
    try:
        with target.open("w" if overwrite else "x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        problem = Problem(
            "the path", "", "the file is there already and is kept", "a new file", "choose another name"
        )
        raise CaseError(str(target), (str(problem),)) from None
    except OSError as error:
        reason = (error.strerror or "it cannot be opened").lower()
        problem = Problem(
            "the path",
            "",
            f"it cannot be written: {reason}",
            "a folder that you may write to",
            "check the path",
        )
        raise CaseError(str(target), (str(problem),)) from None
    return target

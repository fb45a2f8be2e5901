"""Options that several commands share."""

import errno
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from cases.casefile.case import Case
    from cases.casefile.workshop import Workshop
    from cases.offset.calibration import Calibration

CaseArgument = Annotated[
    str, typer.Argument(help="A case by its name, or the path of a .toml file.", metavar="CASE")
]
SetOption = Annotated[
    list[str] | None,
    typer.Option("--set", help="Change one key for this run; may be given again.", metavar="KEY=VALUE"),
]
LogOption = Annotated[
    str | None,
    typer.Option(
        "--log",
        help="The logbook: a file, sqlite:///FILE or postgresql://USER@HOST/DATABASE; "
        "without it the one in the user's data folder.",
        metavar="URL",
        envvar="NECKPRELOAD_LOG",
    ),
]
CalibrationOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--calibration",
        help="What `neckpreload calibrate` wrote, laid over the case; may be given again.",
        metavar="FILE",
    ),
]
WorkshopOption = Annotated[
    Path | None,
    typer.Option(
        "--workshop", help="House settings; without it ./workshop.toml, else the user's own.", metavar="FILE"
    ),
]


def open_case(
    name: str, *, settings: list[str] | None, workshop_path: Path | None
) -> "tuple[Case, Workshop]":
    """Load a case with the house settings and the changes of `--set`.

    Parameters
    ----------
    name : str
        Name or path of the case.
    settings : list of str or None
        The texts of `--set`.
    workshop_path : Path or None
        The file of `--workshop`.

    Returns
    -------
    tuple of Case and Workshop
        Both checked.

    Raises
    ------
    InputError
        If any of them is wrong.
    """
    from cases.casefile.files import load
    from cases.casefile.setting import parse_settings
    from cases.casefile.workshop import load_workshop

    workshop = load_workshop(workshop_path)
    case = load(name, workshop=workshop)
    if settings:
        case = case.with_values(parse_settings(settings))
    return case, workshop


def open_calibrations(paths: list[Path] | None) -> "Calibration | None":
    """Read the files of `--calibration` as one; None without any.

    Raises
    ------
    InputError
        If one is wrong, or two set the same parameter.
    """
    if not paths:
        return None
    from cases.offset.calibration import together
    from cases.offset.calibration_file import load_calibration

    return together([load_calibration(path) for path in paths])


def writable_folder(path: Path, *, option: str = "--out") -> Path:
    """Make a folder for output if it is not there.

    Raises
    ------
    InputError
        If it cannot be made or is a file.
    """
    from materials.errors import InputError

    try:
        if path.is_file():
            raise OSError(errno.EEXIST, "a file has this name")
        path.mkdir(parents=True, exist_ok=True)
        probe = path / ".neckpreload-probe"
        probe.touch()
        probe.unlink()
    except OSError as error:
        reason = (error.strerror or "it cannot be made").lower()
        raise InputError(
            f"{option} {path}: the folder cannot be written: {reason}; give a folder that you may write to"
        ) from None
    return path


def writable_file(path: Path, *, option: str) -> Path:
    """A file for output that can be written, told before anything is worked out; one that is there is left.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    from materials.errors import InputError

    try:
        if path.is_dir():
            raise OSError(errno.EISDIR, "a folder has this name")
        if not path.exists():
            path.touch()
            path.unlink()
        elif not os.access(path, os.W_OK):
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
    except OSError as error:
        raise InputError(not_written(option, path, error)) from None
    return path


def not_written(option: str, path: Path, error: OSError) -> str:
    """The sentence for a file that cannot be written."""
    reason = (error.strerror or "it cannot be made").lower()
    return f"{option} {path}: the file cannot be written: {reason}; give a place that you may write to"

"""Options that several commands share, and the case they open."""

import os
import shlex
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from cases.casefile.case import Case
    from cases.casefile.changes import Changes
    from cases.casefile.workshop import Workshop
    from cases.offset.calibration import Calibration
    from cases.show.text.depth import Depth

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
        "default: the one in the user's data folder.",
        metavar="URL",
        envvar="NECKPRELOAD_LOG",
    ),
]
CalibrationOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--calibration",
        help="A file from `neckpreload calibrate`, applied to the case; may be given again.",
        metavar="FILE",
    ),
]
WorkshopOption = Annotated[
    Path | None,
    typer.Option(
        "--workshop", help="House settings; default: ./workshop.toml, else the user's own.", metavar="FILE"
    ),
]
FullOption = Annotated[bool, typer.Option("--full", help="Print everything that was computed.")]
ExplainOption = Annotated[bool, typer.Option("--explain", help="Say in a sentence what each line means.")]


def depth_of(*, full: bool, explain: bool) -> "Depth":
    """How much to print; `InputError` if both options are given."""
    from cases.show.text.depth import Depth
    from materials.errors import InputError

    if full and explain:
        raise InputError("--full and --explain: --explain is for the short text; leave out one of them.")
    return Depth.FULL if full else Depth.EXPLAINED if explain else Depth.SHORT


def again(
    case: str,
    settings: Iterable[str] | None,
    changes: "Changes",
    calibration: Iterable[Path] | None,
    *,
    log: str | None = None,
) -> str:
    """A case with the options that change it, as typed, for a command to type next.

    ``changes`` : of these, strings and tuning; ``log`` : named unless the environment has it.
    """
    words = [case, *repeated("--set", settings)]
    for option, text in (("--strings", changes.strings), ("--tuning", changes.tuning)):
        words += [] if text is None else [option, text]
    words += repeated("--calibration", calibration)
    if log and log != os.environ.get("NECKPRELOAD_LOG"):
        words += ["--log", log]
    return shlex.join(words)


def repeated(option: str, values: Iterable[object] | None) -> list[str]:
    """An option once for each value, as typed."""
    return [word for value in values or () for word in (option, str(value))]


StringsOption = Annotated[
    str | None,
    typer.Option(
        "--strings", help='Other strings: a set, or gauges as "12 16 24w 32w 42w 53w".', metavar="SET|GAUGES"
    ),
]
TuningOption = Annotated[
    str | None, typer.Option("--tuning", help='Low to high, as "D A D G A D".', metavar="NOTES")
]
NeckWoodOption = Annotated[
    str | None, typer.Option("--neck-wood", help="Another neck wood, or your own by name.", metavar="NAME")
]
DensityOption = Annotated[
    float | None, typer.Option("--density", help="Density of your own wood, kg/m3.", metavar="KG_M3")
]
ModulusOption = Annotated[
    float | None,
    typer.Option("--e-l", help="Its modulus along the grain, GPa (1.1 x bending modulus).", metavar="GPA"),
]


def open_case(
    name: str,
    *,
    settings: list[str] | None,
    workshop_path: Path | None,
    changes: "Changes | None" = None,
) -> "tuple[Case, Workshop]":
    """Load a case with the house settings and the changes of the options; `InputError` if one is wrong."""
    from cases.casefile.changes import Changes
    from cases.casefile.files import load
    from cases.casefile.setting import parse_settings
    from cases.casefile.workshop import load_workshop

    workshop = load_workshop(workshop_path)
    case = load(name, workshop=workshop)
    return (changes or Changes()).made(case, parse_settings(settings or ())), workshop


def open_calibrations(paths: list[Path] | None) -> "Calibration | None":
    """Read the files of `--calibration` as one; `InputError` if one is wrong or two set the same key."""
    if not paths:
        return None
    from cases.offset.calibration import together
    from cases.offset.calibration_file import load_calibration

    return together([load_calibration(path) for path in paths])

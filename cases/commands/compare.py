"""`neckpreload compare`: instruments side by side."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands.options import SetOption, WorkshopOption, not_written, open_case, writable_file

if TYPE_CHECKING:
    from matplotlib.figure import Figure

CasesArgument = Annotated[
    list[str], typer.Argument(help="Cases; the first is the one in use.", metavar="CASE [CASE2 ...]")
]
NamesOption = str | None
PictureOption = Annotated[
    Path | None, typer.Option("--png", help="Write the picture to this file.", metavar="FILE")
]
TableOption = Annotated[
    Path | None, typer.Option("--csv", help="Write the table to this file.", metavar="FILE")
]


def compare(
    cases: CasesArgument,
    neck_wood: Annotated[
        NamesOption, typer.Option("--neck-wood", help="Neck woods, commas between.", metavar="NAMES")
    ] = None,
    board_wood: Annotated[
        NamesOption, typer.Option("--board-wood", help="Fretboard woods, commas between.", metavar="NAMES")
    ] = None,
    strings: Annotated[
        NamesOption, typer.Option("--strings", help="String sets, commas between.", metavar="SETS")
    ] = None,
    scale_mm: Annotated[
        NamesOption,
        typer.Option("--scale-mm", help="Scale lengths, commas between, mm or with unit.", metavar="LENGTHS"),
    ] = None,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            "--vary",
            help="Numbers for a key: from, to, step, or values with commas; once or twice.",
            metavar="KEY=FROM:TO:STEP",
        ),
    ] = None,
    saddle_fixed: Annotated[
        bool, typer.Option("--saddle-fixed", help="Keep the first case's saddle height; the action follows.")
    ] = False,
    settings: SetOption = None,
    csv: TableOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
    png: PictureOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Compare cases, woods, strings, scales, or any number of a case."""
    import json

    from cases.show.text.comparison import comparison_text
    from cases.studies.compare import compare as compared
    from cases.studies.variants import parse_axis

    check_places(csv, png)
    axes = [parse_axis(text) for text in vary or ()]
    opened = [open_case(case, settings=settings, workshop_path=workshop)[0] for case in cases]
    with progress_bar("instruments") as progress:
        found = compared(
            *opened,
            neck_wood=_names(neck_wood, "--neck-wood"),
            board_wood=_names(board_wood, "--board-wood"),
            strings=_names(strings, "--strings"),
            scale_mm=_lengths(scale_mm),
            vary=_varied([(axis.key, axis.values) for axis in axes]),
            saddle_fixed=saddle_fixed,
            progress=progress,
        )
    typer.echo(
        json.dumps(found.to_dict(), indent=2, ensure_ascii=False) if as_json else comparison_text(found)
    )
    if csv is not None:
        write_table(found.to_rows(), csv)
    if png is not None:
        from cases.show.pictures.comparison import draw_comparison

        write_picture(draw_comparison(found), png)
    _say_what_is_missing(found.without_result())


def _say_what_is_missing(lost: dict[str, str]) -> None:
    """End with an error, once everything is written, when something asked for has no numbers."""
    from materials.errors import InputError

    if len(lost) == 1:
        raise InputError("".join(f"no numbers for {name}: {verdict}" for name, verdict in lost.items()))
    if lost:
        raise InputError(
            f"no numbers for {', '.join(lost)}: each has its sentence in the answer; correct these"
        )


def _names(text: str | None, option: str) -> list[str]:
    from materials.errors import InputError

    if text is None:
        return []
    names = [name.strip() for name in text.split(",")]
    if not all(names):
        raise InputError(f'{option} "{text}": a name is missing; write names with single commas between them')
    return names


def _lengths(text: str | None) -> list[float]:
    from cases.casefile.quantity import parse_length

    return [parse_length(one, name="--scale-mm", bare_unit="mm") for one in _names(text, "--scale-mm")]


def _varied(axes: list[tuple[str, tuple[object, ...]]]) -> dict[str, list[float]]:
    from materials.errors import InputError

    varied: dict[str, list[float]] = {}
    for key, values in axes:
        if key in varied:
            raise InputError(f"--vary {key}: the key is given twice; put all its values into one --vary")
        varied[key] = [value for value in values if isinstance(value, int | float)]
    return varied


@contextmanager
def progress_bar(what: str) -> "Iterator[Callable[[int, int], None]]":
    """A bar on a terminal's error stream, which vanishes when done; nothing elsewhere."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def check_places(csv: Path | None, png: Path | None) -> None:
    """Refuse places for table and picture that cannot be written, before anything is worked out.

    Raises
    ------
    InputError
        If one cannot be written, or its name does not end as what it holds: a slip would cost a case.
    """
    from materials.errors import InputError

    for path, ending, what in ((csv, ".csv", "table is a CSV"), (png, ".png", "picture is a PNG")):
        if path is None:
            continue
        if path.suffix.lower() != ending:
            raise InputError(f"--{ending[1:]} {path}: the {what}; give a name that ends in {ending}")
        writable_file(path, option=f"--{ending[1:]}")


def write_table(rows: list[dict[str, object]], path: Path) -> None:
    """Write rows as CSV.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    import csv

    from materials.errors import InputError

    try:
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    except OSError as error:
        raise InputError(not_written("--csv", path, error)) from None
    typer.echo(f"written: {path}", err=True)


def write_picture(figure: "Figure", path: Path) -> None:
    """Write a picture as PNG.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    from cases.show.style import save

    save(figure, path)
    typer.echo(f"written: {path}", err=True)

"""`neckpreload compare`: instruments side by side."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands import options
from cases.commands.options import (
    ExplainOption,
    FullOption,
    SetOption,
    WorkshopOption,
    depth_of,
    open_case,
)
from cases.commands.output import (
    JsonOption,
    PictureOption,
    TableOption,
    check_places,
    progress_bar,
    show,
    working,
)

if TYPE_CHECKING:
    from cases.casefile.case import Case


def compare(
    cases: Annotated[
        list[str], typer.Argument(help="Cases; the first is the reference.", metavar="CASE [CASE2 ...]")
    ],
    neck_wood: Annotated[
        str | None, typer.Option(help="Neck woods, commas between.", metavar="NAMES")
    ] = None,
    density: options.DensityOption = None,
    e_l: options.ModulusOption = None,
    board_wood: Annotated[
        str | None, typer.Option(help="Fretboard woods, commas between.", metavar="NAMES")
    ] = None,
    strings: Annotated[
        str | None,
        typer.Option(help='Sets or gauges, commas between: "light, 13 17 26w 35w 45w 56w".', metavar="SETS"),
    ] = None,
    tuning: Annotated[
        str | None,
        typer.Option(help='Tunings low to high, commas between, as "D A D G A D".', metavar="TUNINGS"),
    ] = None,
    scale_mm: Annotated[
        str | None, typer.Option(help="Scale lengths, commas between, mm or with unit.", metavar="LENGTHS")
    ] = None,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            help="Numbers for a key: from, to, step, or values with commas; once or twice.",
            metavar="KEY=FROM:TO:STEP",
        ),
    ] = None,
    load_cases: Annotated[
        Path | None, typer.Option(help="Load cases: a TOML file with a heading for each.", metavar="FILE")
    ] = None,
    saddle_fixed: Annotated[
        bool, typer.Option("--saddle-fixed", help="Keep the first case's saddle height; the action follows.")
    ] = False,
    settings: SetOption = None,
    csv: TableOption = None,
    full: FullOption = False,
    explain: ExplainOption = False,
    as_json: JsonOption = False,
    png: PictureOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Compare cases, woods, strings, scales, or any number of a case."""
    depth = depth_of(full=full, explain=explain)
    check_places(csv, png)
    with working("reading the cases"):
        from cases.show.text.comparison import comparison_text
        from cases.studies.compare import compare as compared

        opened = [open_case(case, settings=settings, workshop_path=workshop)[0] for case in cases]
        woods = names_of(neck_wood, "--neck-wood")
        opened = [with_own_wood(case, woods, density=density, e_l=e_l) for case in opened]
    with progress_bar("instruments") as progress:
        found = compared(
            *opened,
            neck_wood=woods,
            board_wood=names_of(board_wood, "--board-wood"),
            strings=names_of(strings, "--strings"),
            tuning=names_of(tuning, "--tuning"),
            scale_mm=_scales(scale_mm),
            vary=_varied(vary or ()),
            load_cases=load_cases,
            saddle_fixed=saddle_fixed,
            progress=progress,
        )
    show(found, text=comparison_text(found, depth=depth), as_json=as_json, csv=csv, png=png)
    _refuse_missing(found.without_result())


def with_own_wood(case: "Case", woods: list[str], *, density: float | None, e_l: float | None) -> "Case":
    """The case with the one wood among ``woods`` that the table lacks, if its numbers are given."""
    if (density, e_l) == (None, None):
        return case
    from cases.casefile.changes import own_wood_keys

    return case.with_values(own_wood_keys(woods, density_kg_m3=density, e_l_gpa=e_l))


def _scales(text: str | None) -> list[float]:
    from cases.casefile.quantity import parse_length

    return [parse_length(one, name="--scale-mm", bare_unit="mm") for one in names_of(text, "--scale-mm")]


def _varied(texts: Iterable[str]) -> dict[str, list[float]]:
    from cases.studies.variants import parse_axis
    from materials.errors import InputError

    varied: dict[str, list[float]] = {}
    for axis in map(parse_axis, texts):
        if axis.key in varied:
            raise InputError(f"--vary {axis.key}: the key is given twice; put all its values into one --vary")
        varied[axis.key] = [value for value in axis.values if isinstance(value, int | float)]
    return varied


def _refuse_missing(lost: dict[str, str]) -> None:
    """End with an error, after everything is written, if a requested row could not be computed."""
    from materials.errors import InputError

    if len(lost) == 1:
        raise InputError("".join(f"no numbers for {name}: {verdict}" for name, verdict in lost.items()))
    if lost:
        raise InputError(
            f"no numbers for {', '.join(lost)}: the result gives the reason of each; correct these"
        )


def names_of(text: str | None, option: str) -> list[str]:
    """Read names with commas between them; none if the option is left out; `InputError` if one is empty."""
    from materials.errors import InputError

    if text is None:
        return []
    names = [name.strip() for name in text.split(",")]
    if not all(names):
        raise InputError(f'{option} "{text}": a name is missing; write names with single commas between them')
    return names

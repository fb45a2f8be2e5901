"""`neckpreload history`: what the joint remembers of strings, rod, bolts and knocks."""

from typing import Annotated

import typer

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case
from cases.commands.output import JsonOption, PictureOption, TableOption, check_places, show, working


def history(
    case: CaseArgument,
    steps: Annotated[
        str | None,
        typer.Option(
            help="What happens after bolting up, with commas between: 1 = strings at pitch, 0 = slack, "
            "1.05 = 5 % above, rod = set the rod, rod 0 = slack, bolts = tighten again, knock = friction "
            "gone for a moment, 5 x (0, 1) = repeat; default: 1, rod, 0, 1, 1.05, 1, knock.",
            metavar="LIST",
        ),
    ] = None,
    crushing: Annotated[
        bool, typer.Option("--crushing", help="Let pressure beyond the wood's strength crush it.")
    ] = False,
    settings: SetOption = None,
    as_json: JsonOption = False,
    csv: TableOption = None,
    png: PictureOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Follow kink and action while strings, rod and bolts are changed in turn."""
    from cases.studies.history import history as history_of
    from cases.studies.history_steps import FIRST, events_of

    check_places(csv, png)
    wanted = FIRST if steps is None else steps
    events_of(wanted)
    opened, _ = open_case(case, settings=settings, workshop_path=workshop)
    with working(f"following {case}"):
        found = history_of(opened, wanted, crushing=crushing)
    show(found, as_json=as_json, csv=csv, png=png)

"""`neckpreload sensitivity`: how much each input matters."""

from cases.commands.options import CaseArgument, SetOption, WorkshopOption, open_case
from cases.commands.output import (
    JsonOption,
    PictureOption,
    TableOption,
    check_places,
    progress_bar,
    show,
    working,
)


def sensitivity(
    case: CaseArgument,
    settings: SetOption = None,
    csv: TableOption = None,
    as_json: JsonOption = False,
    png: PictureOption = None,
    workshop: WorkshopOption = None,
) -> None:
    """Rank the inputs by their effect on the offset, and name the three to measure first."""
    check_places(csv, png)
    with working(f"reading {case}"):
        from cases.studies.sensitivity import sensitivity as ranked

        opened, _ = open_case(case, settings=settings, workshop_path=workshop)
    with progress_bar("inputs") as progress:
        found = ranked(opened, progress=progress)
    show(found, as_json=as_json, csv=csv, png=png)

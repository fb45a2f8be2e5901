"""`neckpreload cases`: lists the cases."""

import typer

from cases.commands.options import WorkshopOption


def list_cases(workshop: WorkshopOption = None) -> None:
    """List the instruments of the library and of the workshop's folder."""
    from cases.casefile.errors import CaseError
    from cases.casefile.files import find, library_names, load, workshop_names
    from cases.casefile.workshop import load_workshop

    house = load_workshop(workshop)
    own = workshop_names(house)
    for origin, names in (("library", library_names()), (f"workshop ({house.cases_path})", own)):
        if not names:
            continue
        typer.echo(f"{origin}:")
        for name in names:
            if name in own and name in library_names():
                typer.echo(f"  {name:24} the library has this name too: rename your file")
                continue
            try:
                case = load(find(name, workshop=house), workshop=house)
            except CaseError as error:
                count = len(error.problems)
                typer.echo(f"  {name:24} {count} error{'s' * (count > 1)}, see: neckpreload check {name}")
                continue
            measures = f"{case.instrument.scale_mm:g} mm, joint at fret {case.instrument.body_joint_fret}"
            typer.echo(f"  {name:24} {measures}; {case.note or case.strings.set or 'own strings'}")

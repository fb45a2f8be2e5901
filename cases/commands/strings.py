"""`neckpreload strings`: tension of each string of a set."""

from dataclasses import replace
from typing import Annotated

import typer


def strings(
    name: Annotated[
        list[str] | None,
        typer.Argument(help="A set, or gauges as 12 16 24w 32w 42w 53w; default: list all.", metavar="[SET]"),
    ] = None,
    scale: Annotated[
        str,
        typer.Option("--scale-mm", help="Scale length, in mm or with its unit, as 25.5in.", metavar="LENGTH"),
    ] = "647.7",
    tuning: Annotated[
        str | None, typer.Option(help='Notes low to high, as "D A D G A D".', metavar="NOTES")
    ] = None,
) -> None:
    """Print the tension of each string, 1st to last, and the total."""
    from cases.casefile.changes import are_gauges
    from cases.casefile.quantity import parse_length
    from cases.casefile.wrong_value import outside
    from materials import strings as table

    if not name:
        for each in table.set_names():
            typer.echo(f"  {each:24} {table.string_set(each).gauges}")
        return
    text = " ".join(name)
    own = are_gauges(text)
    usual = tuning or table.USUAL_TUNING
    chosen = table.own_set(table.parse_gauges(text), tuning=usual) if own else table.string_set(text)
    scale_mm = parse_length(scale, name="--scale-mm", bare_unit="mm")
    low, high = (1000.0 * limit for limit in table.SCALE_RANGE_M)
    if not low <= scale_mm <= high:
        raise replace(outside("scale_mm", scale_mm, low=low, high=high), path="--scale-mm").error()
    pulls = table.tensions(chosen, scale=scale_mm / 1000.0, tuning=tuning)
    typer.echo(f"{chosen.title if own else chosen.name}: {chosen.gauges}, scale {scale_mm:g} mm")
    typer.echo(f"{'string':>8}  {'gauge in':10}{'note':6}{'Hz':>9}{'N':>9}{'lbf':>8}")
    for one in pulls:
        typer.echo(
            f"{one.course:8}  {one.gauge:10}{one.note:6}{one.frequency:9.2f}"
            f"{one.tension_n:9.1f}{one.tension_lbf:8.2f}"
        )
    total = table.total_tension(pulls)
    typer.echo(f"{'total':>8}  {'':25}{total:9.1f}{total / table.POUND_FORCE:8.2f}")
    for warning in table.overstressed(pulls):
        typer.echo(f"warning: {warning}")
    off = table.weight_scatter(one.string for one in pulls)
    typer.echo(
        f"weights computed from gauge and density, each to about {100 * off:.0f} %; a weighed string is surer"
    )
    if not own:
        typer.echo(f"makers differ in the gauges of one set name; these: {chosen.source} ({chosen.mark})")

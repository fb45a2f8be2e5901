"""`neckpreload woods`: lists the woods, or explains one."""

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from materials.wood import Wood

GPA = 1e9
MPA = 1e6


def woods(
    name: Annotated[str | None, typer.Argument(help="A wood; default: list all.", metavar="[NAME]")] = None,
) -> None:
    """List all woods, or explain one: its moduli, and the source of each number."""
    from cases.casefile.limits.names import unknown_wood
    from materials.wood import wood, wood_names

    if name is not None:
        if name.strip().lower() not in wood_names():
            raise unknown_wood("woods", name).error()
        _explain(wood(name))
        return
    typer.echo(f"{'name':22}{'E_L GPa':>8}{'E_R/E_L':>9}{'G_LT/E_L':>9}{'kg/m3':>7}  use")
    for each in wood_names():
        one = wood(each)
        borrowed = " *" if one.ratio_stand_in else ""
        typer.echo(
            f"{one.name:22}{one.e_l / GPA:8.2f}{one.e_r / one.e_l:9.3f}{one.g_lt / one.e_l:9.3f}"
            f"{one.density:7.0f}  {one.uses}{borrowed}"
        )
    typer.echo("at 12 % moisture; * ratios borrowed from a related wood (see neckpreload woods NAME)")


def _explain(one: "Wood") -> None:
    typer.echo(f"{one.name}: {one.common_name} ({one.botanical}), at {one.moisture_percent:g} % moisture")
    moduli = {key: f"{getattr(one, key) / GPA:.3f} GPa" for key in ("e_r", "e_t", "g_lr", "g_lt", "g_rt")}
    ratios = {key: f"{getattr(one, key):.3f}" for key in ("nu_lr", "nu_lt", "nu_rt")}
    rows = {"density": f"{one.density:.0f} kg/m3", "e_l": f"{one.e_l / GPA:.2f} GPa", **moduli, **ratios}
    rows |= {"compression_across": f"{one.compression_across / MPA:.2f} MPa", "moe_cov": f"{one.moe_cov:.2f}"}
    for key, value in rows.items():
        source, mark = one.sources.get(key, ("no source noted", "unmarked"))
        typer.echo(f"  {key:20}{value:>12}  {mark}: {source}")
    for sentence in (*one.standins, one.note):
        if sentence:
            typer.echo(f"  note: {sentence}")

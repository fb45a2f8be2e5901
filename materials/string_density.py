"""Linear density of a string from its gauge and alloy. Numbers in brackets: `sources.md`."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from materials.errors import MaterialError
from materials.table import Row, named_row, number, read_table

INCH = 0.0254
POUND_PER_INCH = 0.45359237 / INCH

GAUGE_RANGE_IN = (0.006, 0.160)


@dataclass(frozen=True)
class String:
    """One string.

    Attributes
    ----------
    gauge_in : Outer diameter [in].
    kind : `plain`, `wound`, `nylon` or `nylon-wound`.
    alloy : Name in `alloys.csv`.
    core_ratio : Core over outer diameter [-]; None where there is no wrap.
    unit_weight_kg_m : Linear density [kg/m].
    basis : Origin of the linear density: `table` (published unit weight), `law` (geometry) or `given`.
    """

    gauge_in: float
    kind: str
    alloy: str
    core_ratio: float | None
    unit_weight_kg_m: float
    basis: str

    @property
    def label(self) -> str:
        """The gauge as the trade writes it: `0.012`, wound strings with a `w`."""
        decimals = 3 if abs(self.gauge_in * 1000 - round(self.gauge_in * 1000)) < 1e-6 else 4
        return f"{self.gauge_in:.{decimals}f}" + ("w" if self.kind.endswith("wound") else "")

    @property
    def core_area(self) -> float:
        """Load-bearing cross-section [m2]; of a wound string, its round core."""
        return math.pi / 4.0 * (self.gauge_in * INCH * (self.core_ratio or 1.0)) ** 2


def wound_linear_density(
    diameter: float, *, core_ratio: float, core_density: float, wrap_density: float, packing: float
) -> float:
    """Return the linear density of a round wound string [kg/m].

    mu = (pi D^2 / 4) (rho_core k^2 + p rho_wrap (1 - k^2)), k = core over outer diameter. The packing p is
    pi/4 exactly for touching round wire at zero helix angle (derived), more for a wrap pressed into its core.

    Parameters
    ----------
    diameter : Outer diameter D [m].
    core_ratio, packing : k and p [-], between 0 and 1.
    core_density, wrap_density : Densities [kg/m3].
    """
    filled = core_density * core_ratio**2 + packing * wrap_density * (1.0 - core_ratio**2)
    return math.pi / 4.0 * diameter**2 * filled


def alloy_names() -> tuple[str, ...]:
    """Return the names of the alloys strings are made of."""
    return tuple(read_table("alloys.csv"))


def _alloy(name: str) -> Row:
    return named_row("alloys.csv", name, what="string alloy")


def own_string(
    *,
    gauge_in: float,
    wound: bool,
    alloy: str | None = None,
    unit_weight_kg_m: float | None = None,
    core_ratio: float | None = None,
) -> String:
    """Return a string by its gauge and alloy.

    The linear density is the given one, else a published unit weight of that gauge and alloy [25] (from
    memory), else the law of `wound_linear_density` with the alloy's usual core ratio; `basis` says which.

    Parameters
    ----------
    gauge_in : Outer diameter [in], 0.006 to 0.160.
    wound : Whether the string has a wrap.
    alloy : A name of `alloy_names()`; plain-steel or phosphor-bronze if None.
    unit_weight_kg_m : Linear density as weighed [kg/m].
    core_ratio : Core over outer diameter [-], 0.2 to 0.9, wound strings only.

    Raises `MaterialError`: gauge, alloy, core ratio or unit weight out of range.
    """
    gauge = _checked_gauge(gauge_in)
    row = _alloy(alloy or ("phosphor-bronze" if wound else "plain-steel"))
    name = row["name"]
    if row["kind"].endswith("wound") != wound:
        fitting = [other for other in alloy_names() if _alloy(other)["kind"].endswith("wound") == wound]
        word = "wound" if wound else "plain"
        raise MaterialError(f"alloy '{name}' is not for a {word} string; take one of {', '.join(fitting)}")
    if core_ratio is not None and not (wound and 0.2 <= core_ratio <= 0.9):
        raise MaterialError(
            f"core ratio {core_ratio:g}, gauge {gauge:g}: only wound strings have one, 0.2 to 0.9; omit it"
        )
    ratio = None if not wound else core_ratio if core_ratio is not None else _usual_core_ratio(gauge, row)
    if unit_weight_kg_m is not None:
        return String(gauge, row["kind"], name, ratio, _checked_unit_weight(unit_weight_kg_m, gauge), "given")
    published = _published_unit_weights().get((name, round(gauge, 4))) if core_ratio is None else None
    if published is not None:
        return String(gauge, row["kind"], name, ratio, published, "table")
    return String(gauge, row["kind"], name, ratio, _law(gauge, ratio, row), "law")


def _checked_gauge(gauge_in: float) -> float:
    low, high = GAUGE_RANGE_IN
    if low <= gauge_in <= high:
        return float(gauge_in)
    hint = ""
    if 1000.0 * low <= gauge_in <= 1000.0 * high:
        hint = f"; for a {gauge_in:g} write {gauge_in / 1000.0:g}"
    elif high < gauge_in < 4.1:
        hint = f"; for {gauge_in:g} millimetres write {gauge_in:g}mm"
    raise MaterialError(
        f"gauge {gauge_in:g} in is outside {low:g} to {high:g} in; give the diameter in inches{hint}"
    )


def _checked_unit_weight(unit_weight: float, gauge: float) -> float:
    density = unit_weight / (math.pi / 4.0 * (gauge * INCH) ** 2)
    if not 500.0 <= density <= 12000.0:
        raise MaterialError(
            f"unit weight {unit_weight:g} kg/m of the {gauge:g} in string means {density:.4g} kg/m3, "
            "outside 500 to 12000; give kilograms per metre (1 g/m is 0.001)"
        )
    return float(unit_weight)


def _usual_core_ratio(gauge: float, row: Row) -> float:
    gauges = [float(part) for part in row["core_ratio_gauges_in"].split()]
    return float(np.interp(gauge, gauges, [float(part) for part in row["core_ratios"].split()]))


def _law(gauge: float, core_ratio: float | None, row: Row) -> float:
    diameter = gauge * INCH
    if core_ratio is None:
        return math.pi / 4.0 * diameter**2 * number(row, "density_kg_m3")
    return wound_linear_density(
        diameter,
        core_ratio=core_ratio,
        core_density=number(row, "core_density_kg_m3"),
        wrap_density=number(row, "density_kg_m3"),
        packing=number(row, "packing"),
    )


@cache
def _published_unit_weights() -> Mapping[tuple[str, float], float]:
    """Return published unit weights [kg/m] by alloy and gauge [in]."""
    rows = read_table("unit_weights.csv").values()
    return {
        (row["alloy"], number(row, "gauge_in")): number(row, "unit_weight_lb_in") * POUND_PER_INCH
        for row in rows
    }


def parse_gauge(text: str) -> tuple[float, bool]:
    """Read a gauge: inches such as `0.012` or `0.024w` (wound), or millimetres such as `0.30mm` or `0.61mmw`.

    Returns the diameter [in] and whether it is wound.

    Raises `MaterialError`: not a gauge, or one out of range.
    """
    match = re.fullmatch(r"\s*([-+]?\d*\.?\d+)\s*(mm|in|)\s*(w|)\s*", text, flags=re.IGNORECASE)
    if match is None:
        raise MaterialError(
            f"'{text}' is not a string gauge; write inches such as 0.012 or 0.024w, or 0.30mm"
        )
    value = float(match[1]) / (1000.0 * INCH if match[2].lower() == "mm" else 1.0)
    return _checked_gauge(value), bool(match[3])

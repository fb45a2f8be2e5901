"""Linear density of a string from its gauge and alloy. Numbers in brackets: `sources.md`."""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from materials.errors import MaterialError
from materials.table import Row, named_row, number, read_table

INCH = 0.0254

GAUGE_RANGE_IN = (0.006, 0.160)
THICKEST_PLAIN_IN = 0.028
"""Thickest plain steel string; thicker ones are wound (common practice, no source)."""


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
    basis : Origin of the linear density: `law` (gauge, core and densities) or `given`.
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
        return gauge_label(self.gauge_in, wound=self.kind.endswith("wound"))

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

    The linear density is the given one, else computed from gauge and density, for a wound string by
    `wound_linear_density` with the alloy's usual core ratio; nylon is thinner at pitch by its usual stretch.

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
    if row["kind"] == "plain" and gauge > THICKEST_PLAIN_IN:
        raise MaterialError(
            f"a plain steel string of {gauge:g} in is not made (at most {THICKEST_PLAIN_IN:g} in); "
            f"for a wound string write {1000.0 * gauge:g}w"
        )
    return String(gauge, row["kind"], name, ratio, _law(gauge, ratio, row), "law")


def _checked_gauge(gauge_in: float) -> float:
    low, high = GAUGE_RANGE_IN
    if low <= gauge_in <= high:
        return float(gauge_in)
    hint = ""
    if high < gauge_in < 4.1:
        hint = f"; for {gauge_in:g} millimetres write {gauge_in:g}mm"
    raise MaterialError(
        f"gauge {gauge_in:g} in is outside {low:g} to {high:g} in; "
        f"give thousandths of an inch (12), inches (0.012) or millimetres (0.30mm){hint}"
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
    return _between(gauge, row["core_ratio_gauges_in"], row["core_ratios"])


def _between(gauge: float, gauges: str, values: str) -> float:
    """Return the value at a gauge, linear between those of a row and constant beyond them."""
    return float(np.interp(gauge, [float(part) for part in gauges.split()], list(map(float, values.split()))))


def _law(gauge: float, core_ratio: float | None, row: Row) -> float:
    diameter = gauge * INCH
    if core_ratio is None:
        stretch = _between(gauge, row["stretch_gauges_in"], row["stretches"]) if row["stretches"] else 0.0
        return math.pi / 4.0 * diameter**2 * number(row, "density_kg_m3") / (1.0 + stretch)
    return wound_linear_density(
        diameter,
        core_ratio=core_ratio,
        core_density=number(row, "core_density_kg_m3"),
        wrap_density=number(row, "density_kg_m3"),
        packing=number(row, "packing"),
    )


def weight_scatter(strings: Iterable[String]) -> float:
    """Return how far the computed linear density of a string of these may be off, relative [-]."""
    return max((number(_alloy(one.alloy), "scatter") for one in strings if one.basis == "law"), default=0.0)


def parse_gauge(text: str) -> tuple[float, bool]:
    """Read a gauge: thousandths of an inch (`12`, `24w` for wound), inches (`0.012`) or `0.30mm`.

    Returns the diameter [in] and whether it is wound.

    Raises `MaterialError`: not a gauge, or one out of range.

    Examples
    --------
    >>> parse_gauge("24w"), parse_gauge("0.024w")
    ((0.024, True), (0.024, True))
    """
    match = re.fullmatch(r"\s*([-+]?\d*\.?\d+)\s*(mm|in|)\s*(w|)\s*", text, flags=re.IGNORECASE)
    if match is None:
        raise MaterialError(f"'{text}' is not a string gauge; write 12 or 0.012, 24w (wound), or 0.30mm")
    value, unit = float(match[1]), match[2].lower()
    if unit == "mm":
        value /= 1000.0 * INCH
    elif not unit and value > 1000.0 * GAUGE_RANGE_IN[1]:
        low, high = (1000.0 * limit for limit in GAUGE_RANGE_IN)
        raise MaterialError(
            f"gauge {value:g} is outside {low:g} to {high:g} thousandths of an inch; correct it"
        )
    elif not unit and value >= 1000.0 * GAUGE_RANGE_IN[0]:
        value = round(value / 1000.0, 9)
    return _checked_gauge(value), bool(match[3])


def parse_gauges(text: str) -> tuple[str, ...]:
    """Read the gauges of a set, 1st (thinnest) to last, with blanks between them: `12 16 24w 32w 42w 53w`.

    In millimetres with `mm` at each gauge or once at the end; two strings of a course as `10/10`. Returns
    each course as a case file has it: `0.012` and `0.024w` in inches, or `0.30mm`.

    Raises `MaterialError`: a wrong gauge, or a thick string first.

    Examples
    --------
    >>> parse_gauges("12 24w"), parse_gauges("0.30 0.61w mm")
    (('0.012', '0.024w'), ('0.30mm', '0.61mmw'))
    """
    words = text.replace("-", " ").split()
    if words and words[-1].lower() == "mm":
        words = [re.sub(r"(\d)(?=w?(/|$))", r"\1mm", word, flags=re.IGNORECASE) for word in words[:-1]]
    courses = [word.split("/") for word in words]
    if not courses:
        raise MaterialError("no gauges are given; write them thin to thick, such as '12 16 24w 32w 42w 53w'")
    if parse_gauge(courses[0][0])[0] > parse_gauge(courses[-1][0])[0]:
        raise MaterialError(f"'{text}' starts with the thickest string; start with the 1st, the thinnest")
    return tuple("/".join(map(_as_in_a_file, course)) for course in courses)


def _as_in_a_file(text: str) -> str:
    gauge, wound = parse_gauge(text)
    return text if "mm" in text.lower() else gauge_label(gauge, wound=wound)


def gauge_label(gauge_in: float, *, wound: bool) -> str:
    """Return a gauge as it is shown: inches with three decimals, or four, and `w` if wound."""
    decimals = 3 if abs(gauge_in * 1000 - round(gauge_in * 1000)) < 0.02 else 4
    return f"{gauge_in:.{decimals}f}" + ("w" if wound else "")

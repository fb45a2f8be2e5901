"""Woods by name, as orthotropic materials.

L is along the grain, R radial (across the growth rings), T tangential. The table is `woods.csv`; numbers in
brackets: `sources.md`.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from materials import moisture as moisture_law
from materials.errors import MaterialError
from materials.table import Row, named_row, number, optional_number, read_table

# The tabulated modulus comes from a centre-loaded beam of span/depth 14 and includes its shear deflection.
# E_L = 1.10 MOE, note to Table 5-1 and footnote c of Table 5-3b of [1], found.
SHEAR_DEFLECTION_FACTOR = 1.10

_TABLE = "woods.csv"
_MEASURED = ("measured value", "given")
_NO_GREEN_VALUE = "{name}: no green stiffness is published; the general moisture trend is used (from memory)"


@dataclass(frozen=True)
class Wood:
    """A wood as an orthotropic elastic material at one moisture content.

    Attributes
    ----------
    density : Mass over volume, both at `moisture_percent` [kg/m3].
    e_l, e_r, e_t : Young's moduli along the grain, radial, tangential [Pa].
    g_lr, g_lt, g_rt : Shear moduli [Pa].
    nu_lr, nu_lt, nu_rt : Poisson's ratios [-], first index the direction of stress; the others follow by
      reciprocity.
    compression_across, tension_across : Strengths across the grain at 12 % [Pa]: proportional limit with the
      load tangential, and tension. Not corrected for moisture: the table has no green values, and the
      moisture equation does not hold for tension.
    moe, moe_green, moe_cov : Tabulated beam modulus at 12 % and green [Pa] (None where unpublished),
      coefficient of variation [-].
    moisture_percent, intersection_percent : Moisture content and intersection moisture Mp [% of ovendry
      mass].
    shrink_r, shrink_t, shrink_v : Shrinkage green to ovendry: radial, tangential, volume [-].
    ratio_stand_in : Name of the wood whose elastic ratios are used because this one's are unpublished, else
      None.
    standins : Sentences that name borrowed data; every output that uses this wood shows them.
    sources : Field to (source, mark); mark is found, memory, derived or given.
    """

    name: str
    common_name: str
    botanical: str
    uses: str
    density: float
    e_l: float
    e_r: float
    e_t: float
    g_lr: float
    g_lt: float
    g_rt: float
    nu_lr: float
    nu_lt: float
    nu_rt: float
    compression_across: float
    tension_across: float | None
    moe: float
    moe_green: float | None
    moe_cov: float
    moisture_percent: float
    intersection_percent: float
    shrink_r: float
    shrink_t: float
    shrink_v: float
    ratio_stand_in: str | None = None
    standins: tuple[str, ...] = ()
    note: str = ""
    sources: Mapping[str, tuple[str, str]] = field(default_factory=dict, compare=False, repr=False)

    def __post_init__(self) -> None:
        for name in ("density", "e_l", "e_r", "e_t", "g_lr", "g_lt", "g_rt"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise MaterialError(f"wood '{self.name}': {name} is {value!r}; give a positive number")
        if np.linalg.eigvalsh(_scaled_normal_block(self)).min() <= 1e-9:
            raise MaterialError(
                f"wood '{self.name}': the elastic tensor is not positive "
                f"definite (E_L, E_R, E_T {self.e_l:.4g}, {self.e_r:.4g}, {self.e_t:.4g} Pa; "
                f"nu_LR {self.nu_lr:g}, nu_LT {self.nu_lt:g}, nu_RT {self.nu_rt:g}); "
                "check a measured E_L and its unit, or use the table's values"
            )

    def with_measured(self, *, e_l: float | None = None, density: float | None = None) -> "Wood":
        """Return a copy with a measured modulus along the grain or a measured density.

        The transverse and shear moduli and nu_LR, nu_LT, nu_RT keep the table's values, since a measurement
        along the grain does not determine them. The measurement applies at the wood's present moisture.

        Parameters
        ----------
        e_l : True Young's modulus along the grain [Pa], 1e9 to 50e9 (not the beam value MOE).
        density : Density [kg/m3], 100 to 1400.

        Raises `MaterialError`: value out of range, or an elastic tensor that is not positive definite.
        """
        sources = dict(self.sources)
        if e_l is not None:
            if not 1e9 <= e_l <= 50e9:
                raise MaterialError(
                    f"measured E_L of {self.name}: {e_l:g} Pa is not a modulus of wood along the grain; "
                    "give 1 to 50 GPa"
                )
            sources["e_l"] = _MEASURED
        if density is not None:
            if not 100.0 <= density <= 1400.0:
                raise MaterialError(
                    f"measured density of {self.name} is {density:g} kg/m3; give 100 to 1400 kg/m3"
                )
            sources["density"] = _MEASURED
        return replace(
            self,
            e_l=self.e_l if e_l is None else float(e_l),
            density=self.density if density is None else float(density),
            sources=MappingProxyType(sources),
        )

    def at_moisture(self, percent: float) -> "Wood":
        """Return a copy at another moisture content.

        E_L by [1] Eq 5-3 (general trend where no green value is published), E_R, E_T and the shear moduli by
        the general trends of `materials.moisture`, density by mass and shrinkage. Two steps give the same
        as one.

        Parameters
        ----------
        percent : Moisture content [%], 4 to 28.

        Raises `MaterialError`: outside 4 to 28 %.
        """
        mp = self.intersection_percent

        def ratio(factor_at: Callable[[float], float]) -> float:
            return factor_at(percent) / factor_at(self.moisture_percent)

        across = ratio(lambda m: moisture_law.across_factor(m, intersection=mp))
        shear = ratio(lambda m: moisture_law.shear_factor(m, intersection=mp))
        standins = self.standins
        if self.moe_green is None:
            along = ratio(lambda m: moisture_law.along_factor(m, intersection=mp))
            sentence = _NO_GREEN_VALUE.format(name=self.name)
            standins = standins if sentence in standins else (*standins, sentence)
        else:
            moe_green = self.moe_green
            along = ratio(
                lambda m: (
                    moisture_law.property_at(self.moe, moe_green, moisture=m, intersection=mp) / self.moe
                )
            )
        mass = ratio(lambda m: moisture_law.density_factor(m, shrink_v=self.shrink_v))
        return replace(
            self.scaled(along=along, across=across, shear=shear),
            density=self.density * mass,
            moisture_percent=float(percent),
            standins=standins,
        )

    def scaled(self, *, along: float, across: float, shear: float) -> "Wood":
        """Return the wood with its moduli multiplied; Poisson's ratios are unchanged."""
        return replace(
            self,
            e_l=self.e_l * along,
            e_r=self.e_r * across,
            e_t=self.e_t * across,
            g_lr=self.g_lr * shear,
            g_lt=self.g_lt * shear,
            g_rt=self.g_rt * shear,
        )

    def compliance(self) -> NDArray[np.float64]:
        """Return the compliance, order LL, RR, TT, RT, LT, LR, engineering shear, shape (6, 6) [1/Pa].

        Symmetric by reciprocity, nu_ij / E_i = nu_ji / E_j, and positive definite.
        """
        s = np.zeros((6, 6))
        root = np.sqrt([self.e_l, self.e_r, self.e_t])
        s[:3, :3] = _scaled_normal_block(self) / np.outer(root, root)
        s[3, 3], s[4, 4], s[5, 5] = 1.0 / self.g_rt, 1.0 / self.g_lt, 1.0 / self.g_lr
        return s


def _scaled_normal_block(wood: Wood) -> NDArray[np.float64]:
    """Return the normal block of the compliance, scaled to a unit diagonal to judge its eigenvalues."""
    lr = -wood.nu_lr * math.sqrt(wood.e_r / wood.e_l)
    lt = -wood.nu_lt * math.sqrt(wood.e_t / wood.e_l)
    rt = -wood.nu_rt * math.sqrt(wood.e_t / wood.e_r)
    return np.array([[1.0, lr, lt], [lr, 1.0, rt], [lt, rt, 1.0]])


def wood_names() -> tuple[str, ...]:
    """Return the names of all woods of the table, sorted."""
    return tuple(sorted(read_table(_TABLE)))


@cache
def wood(name: str) -> Wood:
    """Return a wood of the table at 12 % moisture.

    Parameters
    ----------
    name : A name of `wood_names()`, such as `mahogany-honduran`.

    Raises `MaterialError`: unknown name (the nearest are given), or a damaged row of the table.

    Examples
    --------
    >>> round(wood("maple-sugar").e_l / 1e9, 2)
    13.88
    """
    row = named_row(_TABLE, name, what="wood", remedy="`neckpreload woods` lists all")
    ratios = row["ratio_stand_in"]
    return _from_rows(row, read_table(_TABLE)[ratios] if ratios else row)


def _from_rows(row: Row, ratios: Row) -> Wood:
    """Build a wood from its row and the row of its elastic ratios (the same where they are published)."""
    moe = number(row, "moe_12_gpa") * 1e9
    moe_green = optional_number(row, "moe_green_gpa")
    e_l = SHEAR_DEFLECTION_FACTOR * moe
    g_rt_column = "g_rt_ratio" if ratios["g_rt_ratio"] else "g_rt_ratio_estimate"
    return Wood(
        name=row["name"],
        common_name=row["common_name"],
        botanical=row["botanical"],
        uses=row["uses"],
        density=number(row, "density_kg_m3"),
        e_l=e_l,
        e_r=e_l * number(ratios, "e_r_ratio"),
        e_t=e_l * number(ratios, "e_t_ratio"),
        g_lr=e_l * number(ratios, "g_lr_ratio"),
        g_lt=e_l * number(ratios, "g_lt_ratio"),
        g_rt=e_l * number(ratios, g_rt_column),
        nu_lr=number(ratios, "nu_lr"),
        nu_lt=number(ratios, "nu_lt"),
        nu_rt=number(ratios, "nu_rt"),
        compression_across=number(row, "compression_across_mpa") * 1e6,
        tension_across=number(row, "tension_across_mpa") * 1e6,
        moe=moe,
        moe_green=None if moe_green is None else moe_green * 1e9,
        moe_cov=number(row, "moe_cov"),
        moisture_percent=moisture_law.REFERENCE_MOISTURE,
        intersection_percent=number(row, "intersection_percent"),
        shrink_r=number(row, "shrink_r_percent") / 100.0,
        shrink_t=number(row, "shrink_t_percent") / 100.0,
        shrink_v=number(row, "shrink_v_percent") / 100.0,
        ratio_stand_in=None if ratios is row else ratios["name"],
        standins=_standins(row, ratios, g_rt_published=g_rt_column == "g_rt_ratio"),
        note=row["note"],
        sources=_sources(row, ratios, g_rt_published=g_rt_column == "g_rt_ratio"),
    )


def _standins(row: Row, ratios: Row, *, g_rt_published: bool) -> tuple[str, ...]:
    """Return the sentences that name borrowed and estimated values, for the output."""
    name = row["name"]
    sentences = []
    if ratios is not row:
        sentences.append(
            f"{name}: elastic ratios unpublished; those of {ratios['name']} are used (a choice, not measured)"
        )
    if not g_rt_published:
        sentences.append(f"{name}: G_RT is unpublished for {ratios['name']}; an estimate is used")
    if "regression" in row["compression_source"]:
        sentences.append(f"{name}: strength across the grain is estimated from density")
    return tuple(sentences)


def _sources(row: Row, ratios: Row, *, g_rt_published: bool) -> Mapping[str, tuple[str, str]]:
    """Return the source and mark of each field that holds a number."""

    def cell(group: str, of: Row) -> tuple[str, str]:
        return of[f"{group}_source"], of[f"{group}_mark"]

    moe = cell("moe", row)
    suffix = "" if ratios is row else f", stand-in {ratios['name']}"
    ratio, poisson = (
        (source + suffix, mark) for source, mark in (cell("ratio", ratios), cell("poisson", ratios))
    )
    shear_rt = ratio if g_rt_published else (f"estimate from E_R and E_T, see sources.md{suffix}", "derived")
    return MappingProxyType(
        {
            "density": cell("density", row),
            "moe": moe,
            "moe_green": moe,
            "e_l": (f"1.10 x MOE, {moe[0]}", moe[1]),
            **dict.fromkeys(("e_r", "e_t", "g_lr", "g_lt"), ratio),
            "g_rt": shear_rt,
            **dict.fromkeys(("nu_lr", "nu_lt", "nu_rt"), poisson),
            "compression_across": cell("compression", row),
            "tension_across": cell("tension", row),
            "moe_cov": cell("moe_cov", row),
            **dict.fromkeys(("shrink_r", "shrink_t", "shrink_v"), cell("shrink", row)),
            "intersection_percent": cell("intersection", row),
        }
    )

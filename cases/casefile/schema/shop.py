"""The keys of a workshop's shim stock, tolerances and scatter."""

import math

from cases.casefile.schema.key import ASSUMPTION, PRACTICE, Table, defaulted

HANDBOOK_SCATTER = (
    "Wood Handbook [fpl2010], Table 5-6: coefficient of variation of the modulus of elasticity 22 %"
)


class Stock(Table):
    """The shim angles in stock: from, to and step, or a list."""

    from_deg: float | None = defaulted(
        "Smallest angle in stock [deg].", None, "not given: list_deg holds", within=(-5, 5)
    )
    to_deg: float | None = defaulted(
        "Largest angle in stock [deg].", None, "not given: list_deg holds", within=(-5, 5)
    )
    step_deg: float | None = defaulted(
        "Step between angles [deg].", None, "not given: list_deg holds", within=(0.005, 2)
    )
    list_deg: tuple[float, ...] | None = defaulted(
        "The angles one by one, instead of from, to and step [deg].",
        None,
        "not given: from, to and step hold",
    )

    def angles_deg(self) -> tuple[float, ...]:
        """Return the angles in stock, ascending, each once [deg].

        Examples
        --------
        >>> Stock(from_deg=-0.1, to_deg=0.1, step_deg=0.05).angles_deg()
        (-0.1, -0.05, 0.0, 0.05, 0.1)
        """
        if self.list_deg is not None:
            return tuple(sorted(set(self.list_deg)))
        if self.from_deg is None or self.to_deg is None or self.step_deg is None:
            return ()
        count = math.floor((self.to_deg - self.from_deg) / self.step_deg + 1e-6) + 1
        return tuple(round(self.from_deg + index * self.step_deg, 6) + 0.0 for index in range(count))


class Tolerance(Table):
    """Tolerances of the result, and errors of reading and cutting."""

    action_mm: float = defaulted("Tolerance of the action [mm].", 0.15, PRACTICE, within=(0.01, 2))
    tongue_gap_mm: float = defaulted("Tolerance of the tongue gap [mm].", 0.05, PRACTICE, within=(0.005, 1))
    reading_mm: float = defaulted(
        "Error of a reading at the saddle, one standard deviation [mm].", 0.05, ASSUMPTION, within=(0, 2)
    )
    pocket_deg: float = defaulted(
        "Error of a cut seat, one standard deviation [deg].", 0.02, ASSUMPTION, within=(0, 1)
    )
    shim_deg: float = defaulted(
        "Error of a shim's angle, one standard deviation [deg].", 0.01, ASSUMPTION, within=(0, 0.5)
    )


class Scatter(Table):
    """Scatter between guitars, as coefficients of variation of log-normal draws."""

    neck_e_cov: float = defaulted("Modulus of the neck [1].", 0.22, HANDBOOK_SCATTER, within=(0, 0.6))
    board_e_cov: float = defaulted("Modulus of the fretboard [1].", 0.22, HANDBOOK_SCATTER, within=(0, 0.6))
    block_e_cov: float = defaulted("Modulus of the block [1].", 0.22, HANDBOOK_SCATTER, within=(0, 0.6))
    ratio_cov: float = defaulted(
        "Ratios of cross-grain and shear moduli to E_L [1].", 0.15, ASSUMPTION, within=(0, 0.6)
    )
    layer_cov: float = defaulted(
        "Stiffness of the shim layers, surfaces included [1].", 0.40, ASSUMPTION, within=(0, 1)
    )
    bedding_cov: float = defaulted(
        "Stiffness of the surfaces of shims and seats, besides that of the layers [1].",
        0.50,
        "the stiffness of a surface goes with the height of its roughness, and a seat may be planed, sawn or "
        "sanded: a factor of 2.5 either way; " + ASSUMPTION,
        within=(0, 1),
    )
    torque_cov: float = defaulted(
        "Torque of all bolts of one guitar, by the wrench's own error; the tension of each bolt for a given "
        "torque scatters by bolts.NAME.torque_scatter [1].",
        0.03,
        "+-6 % up to 10 N m, taken as two standard deviations: ISO 6789-1:2017 [iso6789-2017], from memory",
        within=(0, 0.5),
    )
    string_tension_cov: float = defaulted(
        "Tension of each string [1].",
        0.03,
        "derived: computed against weighed strings, 2-4 %, see materials/sources.md",
        within=(0, 0.2),
    )
    ratio_correlation: float = defaulted(
        "Correlation of a plank's cross-grain and shear ratios [1].", 1.0, ASSUMPTION, within=(-1, 1)
    )
    layer_correlation: float = defaulted(
        "Correlation of the shim layers of one guitar [1].", 1.0, ASSUMPTION, within=(-1, 1)
    )
    bolt_correlation: float = defaulted(
        "Correlation of the first bolt's tension with that of each other bolt of the same guitar [1].",
        0.0,
        ASSUMPTION,
        within=(-1, 1),
    )
    density_cov: float = defaulted(
        "Density of the neck, for information [1].",
        0.10,
        "Wood Handbook [fpl2010], Table 5-6: coefficient of variation of specific gravity 10 %",
        within=(0, 0.5),
    )
    e_density_correlation: float = defaulted(
        "Correlation of the neck's modulus with its density [1].", 0.5, ASSUMPTION, within=(-1, 1)
    )

"""The answer to the main question. Each field is declared once, with type and meaning.

The JSON object, its schema and docs/json.md are made from these classes. A key's ending gives its unit.
"""

import json
from dataclasses import asdict, dataclass
from typing import Annotated, Any

from cases.result import Result, unit_of
from materials.errors import InputError

SCHEMA = 1
Band = tuple[float, float]
"""Smallest and largest value."""


@dataclass(frozen=True)
class Meaning:
    """Meaning of a field; ``unit`` only where its name does not end in one."""

    text: str
    unit: str = ""


@dataclass(frozen=True)
class JointAnswer:
    """Kind of joint."""

    kind: Annotated[str, Meaning("`two-shim` or `flat-pocket`.")]


@dataclass(frozen=True)
class InstrumentAnswer:
    """The instrument in a few words."""

    scale_mm: Annotated[float, Meaning("Scale length.")]
    body_joint_fret: Annotated[int, Meaning("Fret over the body joint.")]
    neck_wood: Annotated[str, Meaning("Wood of the neck.")]
    fretboard_wood: Annotated[str, Meaning("Wood of the fretboard.")]


@dataclass(frozen=True)
class StringsAnswer:
    """Strings, 1st to last."""

    set: Annotated[str, Meaning("Name of the set.")]
    gauges: Annotated[tuple[str, ...], Meaning("Gauges; `w` = wound.", unit="in")]
    notes: Annotated[tuple[str, ...], Meaning("Notes they are tuned to.")]
    courses: Annotated[tuple[int, ...], Meaning("Course of each string.")]
    tension_n: Annotated[tuple[float, ...], Meaning("Tension at pitch.")]
    total_tension_n: Annotated[float, Meaning("Sum of the tensions.")]


@dataclass(frozen=True)
class ReliefAnswer:
    """Relief at pitch."""

    rod_slack_mm: Annotated[float, Meaning("Relief with the rod slack.")]
    set_mm: Annotated[float, Meaning("Relief with the rod set.")]
    target_mm: Annotated[float, Meaning("Relief wanted.")]


@dataclass(frozen=True)
class RodAnswer:
    """Setting of the truss rod."""

    kind: Annotated[str, Meaning("`one-way`, `two-way` or `none`.")]
    tension_n: Annotated[float | None, Meaning("Tension of the rod; null without a rod.")]
    couple_n_m: Annotated[float | None, Meaning("Couple of a two-way rod; null for the other kinds.")]
    torque_n_m: Annotated[float | None, Meaning("Torque at its nut.")]
    torque_band_n_m: Annotated[Band | None, Meaning("Range of it over the scatter of nut friction.")]
    limit_torque_n_m: Annotated[float | None, Meaning("Working limit; the rod maker's own takes precedence.")]
    turns: Annotated[float | None, Meaning("Turns of the nut from slack at pitch; approximate.")]


@dataclass(frozen=True)
class GainAnswer:
    """Rotation of the shaft and change of the kink per degree of each shim; null without two shims."""

    shaft_per_upper: Annotated[float | None, Meaning("Shaft, per degree of upper shim.", unit="deg/deg")]
    shaft_per_lower: Annotated[float | None, Meaning("Shaft, per degree of lower shim.", unit="deg/deg")]
    kink_per_upper: Annotated[float | None, Meaning("Kink, per degree of upper shim.", unit="deg/deg")]
    kink_per_lower: Annotated[float | None, Meaning("Kink, per degree of lower shim.", unit="deg/deg")]


@dataclass(frozen=True)
class StateAnswer:
    """One state: `bolted` (no strings), `slack` (strings off, rod set) or `strung` (strings at pitch)."""

    kink_deg: Annotated[float, Meaning("Kink with the bow subtracted.")]
    kink_straightedge_deg: Annotated[float, Meaning("Kink on a straightedge, bow included.")]
    kink_relief_part_deg: Annotated[float, Meaning("`kink_deg` minus `kink_straightedge_deg`.")]
    tongue_gap_mm: Annotated[float, Meaning("Last crown over the line of frets 1 to joint, bow subtracted.")]
    relief_mm: Annotated[float, Meaning("Relief; negative for a back-bow.")]
    shaft_rotation_deg: Annotated[float, Meaning("Rotation of the shaft line; positive lifts the nut.")]
    saddle_line_mm: Annotated[float, Meaning("Shaft line at the saddle over the plane of unloaded crowns.")]
    history: Annotated[str, Meaning("What happened before: the joint's friction depends on it.")]


@dataclass(frozen=True)
class PairAnswer:
    """A pair of shims from stock."""

    upper_deg: Annotated[float, Meaning("Upper shim.")]
    lower_deg: Annotated[float, Meaning("Lower shim.")]
    residual_kink_deg: Annotated[float, Meaning("Kink at pitch on this pair.")]
    residual_tongue_gap_mm: Annotated[float, Meaning("Tongue gap at pitch on this pair.")]


@dataclass(frozen=True)
class ShimAnswer:
    """One shim of the pair shown."""

    name: Annotated[str, Meaning("`upper`, `lower` or `pocket`.")]
    angle_deg: Annotated[float, Meaning("Angle.")]
    thin_edge_mm: Annotated[float, Meaning("Thickness of the thin edge.")]
    thick_edge_mm: Annotated[float, Meaning("Thickness of the thick edge.")]
    thick_end: Annotated[str, Meaning("Direction of the thick end, or `parallel`.")]


@dataclass(frozen=True)
class BoltAnswer:
    """One bolt: tension, and limits of its torque."""

    name: Annotated[str, Meaning("Name of the bolt.")]
    set_n: Annotated[float, Meaning("Tension after tightening.")]
    strung_n: Annotated[float, Meaning("Tension at pitch.")]
    torque_n_m: Annotated[float, Meaning("Tightening torque.")]
    torque_low_n_m: Annotated[float | None, Meaning("Least torque closing the joint at pitch; null if none.")]
    torque_high_n_m: Annotated[float, Meaning("Largest torque for the wood under the washer, for years.")]


@dataclass(frozen=True)
class ContactAnswer:
    """Contact of one shim at pitch."""

    name: Annotated[str, Meaning("Name of the shim, or of the face.")]
    closed_fraction: Annotated[float, Meaning("Fraction of the area in contact.")]
    slipping_fraction: Annotated[float, Meaning("Fraction of the area that slips.")]
    peak_pressure_mpa: Annotated[float, Meaning("Largest pressure, averaged over 5 mm.")]
    strength_mpa: Annotated[float, Meaning("Compressive strength across the grain of the weaker wood.")]
    crushed_mm: Annotated[
        float | None,
        Meaning("Depth crushed if no pressure exceeds that strength; null if the joint then finds no rest."),
    ]


@dataclass(frozen=True)
class BudgetAnswer:
    """Flex budget: nut's rise and heel stretch by part, and by cause (strings, rod, contact)."""

    nut_rise_mm: Annotated[float, Meaning("Rise of the nut from bolted to strung.")]
    heel_stretch_deg: Annotated[float, Meaning("Heel stretch, bow taken at the fret of largest relief.")]
    nut_rise_shares_mm: Annotated[dict[str, float], Meaning("Contribution of each part to the rise.")]
    heel_stretch_shares_deg: Annotated[dict[str, float], Meaning("Contribution of each part to the stretch.")]
    nut_rise_by_cause_mm: Annotated[dict[str, float], Meaning("Contribution of each cause.")]
    heel_stretch_by_cause_deg: Annotated[dict[str, float], Meaning("Contribution of each cause.")]


@dataclass(frozen=True)
class ProfileAnswer:
    """Heights of the fret crowns over their unloaded places."""

    fret: Annotated[tuple[int, ...], Meaning("Fret numbers.")]
    x_mm: Annotated[tuple[float, ...], Meaning("Distance from the nut.")]
    z_bolted_mm: Annotated[tuple[float, ...], Meaning("Height bolted up.")]
    z_strung_mm: Annotated[tuple[float, ...], Meaning("Height at pitch.")]


@dataclass(frozen=True)
class GapAnswer:
    """Gap between one shim (or bare face) and the neck along the face: above zero open, below pressed."""

    name: Annotated[str, Meaning("Name of the shim, or of the face.")]
    s_mm: Annotated[tuple[float, ...], Meaning("Distance along the face from the joint corner.")]
    gap_bolted_mm: Annotated[tuple[float, ...], Meaning("Gap bolted up.")]
    gap_strung_mm: Annotated[tuple[float, ...], Meaning("Gap at pitch.")]


@dataclass(frozen=True)
class CheckAnswer:
    """Checks of the run."""

    residual: Annotated[float, Meaning("Largest residual of the equations over the largest force.")]
    force_balance: Annotated[float, Meaning("Unbalanced force over the strings' tension.")]
    moment_balance: Annotated[float, Meaning("Unbalanced moment over the strings' moment.")]
    energy_balance: Annotated[float, Meaning("Work minus stored energy, over the stored energy.")]
    budget_closure: Annotated[float, Meaning("Sum of the budget's contributions minus the total, relative.")]
    mesh_error_deg: Annotated[float, Meaning("Difference of the offsets on two meshes.")]


@dataclass(frozen=True)
class Assumed:
    """A key left at its default, and its effect on the offset."""

    key: Annotated[str, Meaning("Key of the case file.")]
    value: Annotated[Any, Meaning("Its default.")]
    source: Annotated[str, Meaning("Source of the default.")]
    effect_deg: Annotated[float | None, Meaning("Change of offset for `step` more; null without a number.")]
    step: Annotated[float | None, Meaning("A tenth of the value, 0.1 if it is zero; null without a number.")]


@dataclass(frozen=True)
class CopiedAnswer:
    """A key that still has the value copied from another case, and its effect on the offset."""

    key: Annotated[str, Meaning("Key of the case file.")]
    value: Annotated[Any, Meaning("Its value.")]
    effect_deg: Annotated[float | None, Meaning("Change of offset for `step` more; null without a number.")]
    step: Annotated[float | None, Meaning("A tenth of the value, 0.1 if it is zero; null without a number.")]


@dataclass(frozen=True)
class Share:
    """One source of scatter."""

    name: Annotated[str, Meaning("Source of scatter.")]
    deg: Annotated[float, Meaning("Standard deviation of the offset from this source.", unit="deg")]
    per_deviation_deg: Annotated[
        float, Meaning("Change of the offset for one standard deviation more of it.", unit="deg")
    ]


@dataclass(frozen=True)
class StripAnswer:
    """A strip under one end of a flat pocket instead of a full taper, for the same neck angle at pitch."""

    at_end: Annotated[str, Meaning("End of the pocket under which the strip lies: `front` or `rear`.")]
    length_mm: Annotated[float, Meaning("Length of the strip.")]
    thickness_mm: Annotated[float, Meaning("Thickness of the strip.")]
    gap_mm: Annotated[float, Meaning("Widest gap under the heel.")]
    peak_pressure_mpa: Annotated[float, Meaning("Largest pressure on the strip.")]
    full_taper_pressure_mpa: Annotated[float, Meaning("Largest pressure on the full taper.")]
    bend_deg: Annotated[float, Meaning("Kink at pitch minus that on the full taper.")]
    bend_mm: Annotated[float, Meaning("Tongue gap at pitch minus that on the full taper.")]


@dataclass(frozen=True)
class PocketAnswer:
    """Taper of the one shim of a flat pocket that gives the strung neck its angle."""

    taper_deg: Annotated[float, Meaning("Taper that brings the strings to the saddle's height.")]
    taper_linear_deg: Annotated[float, Meaning("Linear estimate of the taper, from one solve.")]
    taper_band_deg: Annotated[Band, Meaning("90 % of necks: 5 and 95 % points of the taper that they need.")]
    taper_median_deg: Annotated[float, Meaning("Median: half of the necks need more, half less.")]
    taper_friction_band_deg: Annotated[Band, Meaning("Range of it over the friction band.")]
    taper_on_stock_deg: Annotated[float | None, Meaning("Nearest taper in stock; null if none is near.")]
    action_error_mm: Annotated[float | None, Meaning("Error of the action on it, saddle height unchanged.")]
    pitch_per_shim: Annotated[float, Meaning("Rotation of the neck per degree of taper.", unit="deg/deg")]
    kink_per_shim: Annotated[float, Meaning("Change of the kink per degree of taper.", unit="deg/deg")]
    saddle_wanted_mm: Annotated[float, Meaning("Height of the strings at the saddle, by bridge and top.")]
    strip: Annotated[StripAnswer | None, Meaning("Strip instead of the taper; null for next to no taper.")]


@dataclass(frozen=True)
class Answer(Result):
    """The answer. Numbers are unrounded; a key that does not apply is null."""

    version: Annotated[str, Meaning("Version of the program.")]
    case: Annotated[str, Meaning("Name of the case.")]
    case_sha256: Annotated[str, Meaning("SHA-256 of the complete case; equal for equal cases.")]
    joint: Annotated[JointAnswer, Meaning("Kind of joint.")]
    instrument: Annotated[InstrumentAnswer, Meaning("The instrument in a few words.")]
    calibration_id: Annotated[str | None, Meaning("Calibration used; null without one.")]
    strings: Annotated[StringsAnswer, Meaning("Strings, 1st to last.")]
    relief: Annotated[ReliefAnswer, Meaning("Relief at pitch.")]
    rod: Annotated[RodAnswer, Meaning("Rod setting that brings the relief to its target.")]
    heel_stretch_deg: Annotated[float, Meaning("Kink at pitch minus kink bolted up, same shims.")]
    heel_stretch_rod_slack_deg: Annotated[float, Meaning("Heel stretch with the rod slack.")]
    heel_stretch_friction_band_deg: Annotated[Band, Meaning("Range of it over the friction band.")]
    heel_rotation_deg: Annotated[float, Meaning("Rotation of the heel's start against the tongue line.")]
    shim_transfer: Annotated[
        float | None, Meaning("Kink per degree of lower shim; null without two shims.", unit="deg/deg")
    ]
    gain: Annotated[GainAnswer, Meaning("Rotation of the shaft and change of the kink per degree of shim.")]
    aim_upper_deg: Annotated[float | None, Meaning("Upper shim of the solution; null without two shims.")]
    preload_offset_deg: Annotated[
        float | None,
        Meaning("Lower minus upper shim angle for the target kink at pitch; null without two shims."),
    ]
    preload_offset_linear_deg: Annotated[float | None, Meaning("Linear estimate, from one solve.")]
    preload_offset_band_deg: Annotated[
        Band | None,
        Meaning("Band of 90 % of necks: 5 and 95 % points of the offset that they need."),
    ]
    preload_offset_median_deg: Annotated[
        float | None, Meaning("Median: half of the necks need more, half less.")
    ]
    preload_offset_friction_band_deg: Annotated[Band | None, Meaning("Range over the friction band.")]
    preload_offset_on_stock_deg: Annotated[float | None, Meaning("Nearest in stock; null if none is near.")]
    anchored_offset_deg: Annotated[
        float | None, Meaning("The shop's known offset plus the computed change to this guitar.")
    ]
    residual_kink_deg: Annotated[float | None, Meaning("Kink at pitch on the pair shown.")]
    residual_tongue_gap_mm: Annotated[float | None, Meaning("Tongue gap at pitch on the pair shown.")]
    taper_mm: Annotated[float, Meaning("Offset, or taper of a single shim, over the length of the pad.")]
    paper_sheets: Annotated[float, Meaning("The same in sheets of paper.")]
    kink_per_relief_deg_mm: Annotated[float, Meaning("Change of the kink per mm of relief.")]
    offset_per_relief_deg_mm: Annotated[float | None, Meaning("Change of the offset per mm of relief.")]
    string_rotation_deg: Annotated[float, Meaning("Rotation of the shaft line, bolted to strung.")]
    saddle_height_mm: Annotated[float, Meaning("Strings' resultant at the saddle over the glue line.")]
    states: Annotated[dict[str, StateAnswer], Meaning("The states `bolted`, `slack` and `strung`.")]
    pairs: Annotated[tuple[PairAnswer, ...], Meaning("Stock pairs nearest the offset, one per upper angle.")]
    shims: Annotated[tuple[ShimAnswer, ...], Meaning("Shims of the pair shown.")]
    bolts: Annotated[tuple[BoltAnswer, ...], Meaning("Bolts.")]
    contact: Annotated[tuple[ContactAnswer, ...], Meaning("Contact of each shim at pitch.")]
    budget: Annotated[BudgetAnswer, Meaning("Flex budget.")]
    fret_profile: Annotated[ProfileAnswer, Meaning("Heights of the fret crowns.")]
    gaps: Annotated[tuple[GapAnswer, ...], Meaning("Gap at each shim, bolted up and at pitch.")]
    scatter: Annotated[tuple[Share, ...], Meaning("Sources of the offset's scatter, largest first.")]
    checks: Annotated[CheckAnswer, Meaning("Checks; all but `mesh_error_deg` are rounding errors.")]
    assumed: Annotated[tuple[Assumed, ...], Meaning("Keys left at their default, largest effect first.")]
    standins: Annotated[tuple[str, ...], Meaning("Borrowed data: values taken from another wood.")]
    warnings: Annotated[tuple[str, ...], Meaning("Warnings, most serious first.")]
    action_mm: Annotated[float, Meaning("Action at pitch over fret 12, mean weighted by tension.")]
    overshoot_change_deg: Annotated[
        float,
        Meaning("Change of the offset (taper) once the strings have been 5 % above their tension at pitch."),
    ]
    crushing_change_deg: Annotated[
        float | None,
        Meaning("Change of the offset (taper) if no pressure exceeds the wood's strength; null as there."),
    ]
    pocket: Annotated[PocketAnswer | None, Meaning("Answer of a flat pocket; null for two shims.")] = None
    unusual: Annotated[
        tuple[str, ...], Meaning("Inputs far from common practice, in words; also first in `warnings`.")
    ] = ()
    copied_from: Annotated[str | None, Meaning("Case that values were copied from; null for none.")] = None
    copied: Annotated[
        tuple[CopiedAnswer, ...],
        Meaning("Keys whose value still is that of `copied_from`, largest effect first."),
    ] = ()

    @property
    def not_measured(self) -> "tuple[Assumed | CopiedAnswer, ...]":
        """Assumed and copied keys together, largest effect first; keys without a number last."""
        both: tuple[Assumed | CopiedAnswer, ...] = (*self.assumed, *self.copied)
        return tuple(sorted(both, key=lambda one: (one.effect_deg is None, -abs(one.effect_deg or 0.0))))

    @property
    def offset_deg(self) -> float:
        """The preload offset [deg].

        Raises
        ------
        InputError
            If the joint has none.
        """
        if self.preload_offset_deg is None:
            raise InputError(
                f"{self.case}: a {self.joint.kind} joint has one shim and no preload offset. "
                "Run `neckpreload offset` for its taper, or use a case with a two-shim joint."
            )
        return self.preload_offset_deg

    @property
    def upper_deg(self) -> float:
        """Upper shim angle of the solution [deg]; of a flat pocket its taper."""
        return self.pocket.taper_deg if self.pocket else (self.aim_upper_deg or 0.0)

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object, with every key and with tuples as lists."""
        return {"schema": SCHEMA, **json.loads(json.dumps(asdict(self)))}

    def to_rows(self) -> list[dict[str, Any]]:
        """Return key, value and unit of each number of the answer's top level and of its flat pocket."""
        whole = self.to_dict()
        pocket = {f"pocket.{key}": value for key, value in (whole["pocket"] or {}).items()}
        return [
            {"key": key, "value": value, "unit": unit_of(key)}
            for key, value in {**whole, **pocket}.items()
            if isinstance(value, int | float) and key != "schema"
        ]

"""The answer to the main question, as everything above the mechanics reads it; `to_dict` is its JSON
(docs/json.md).
"""

from dataclasses import asdict, dataclass
from typing import Any

from cases.result import Result, unit_of
from materials.errors import InputError

SCHEMA = 1


@dataclass(frozen=True)
class JointAnswer:
    """Kind of joint."""

    kind: str


@dataclass(frozen=True)
class StringsAnswer:
    """Strings, 1st to last."""

    set: str
    gauges: tuple[str, ...]
    notes: tuple[str, ...]
    courses: tuple[int, ...]
    tension_n: tuple[float, ...]
    total_tension_n: float


@dataclass(frozen=True)
class ReliefAnswer:
    """Relief at pitch with the rod slack and as set [mm]."""

    rod_slack_mm: float
    set_mm: float
    target_mm: float


@dataclass(frozen=True)
class RodAnswer:
    """Rod setting found: tension (one-way) or couple (two-way), torque at its nut with its band, turns
    from slack (about).
    """

    kind: str
    tension_n: float | None
    couple_n_m: float | None
    torque_n_m: float | None
    torque_band_n_m: tuple[float, float] | None
    limit_torque_n_m: float | None
    turns: float | None


@dataclass(frozen=True)
class GainAnswer:
    """Turn of the shaft, and change of the kink, per degree of each shim; None without two shims."""

    shaft_per_upper: float | None
    shaft_per_lower: float | None
    kink_per_upper: float | None
    kink_per_lower: float | None


@dataclass(frozen=True)
class StateAnswer:
    """One state: bolted (no strings), slack (strings off, rod as set), strung."""

    kink_deg: float
    kink_straightedge_deg: float
    kink_relief_part_deg: float
    tongue_gap_mm: float
    relief_mm: float
    shaft_rotation_deg: float
    saddle_line_mm: float


@dataclass(frozen=True)
class PairAnswer:
    """A pair of shims from stock."""

    upper_deg: float
    lower_deg: float
    residual_kink_deg: float
    residual_tongue_gap_mm: float


@dataclass(frozen=True)
class ShimAnswer:
    """One shim of the pair shown: its angle, edges and which way it goes."""

    name: str
    angle_deg: float
    thin_edge_mm: float
    thick_edge_mm: float
    thick_end: str


@dataclass(frozen=True)
class BoltAnswer:
    """Tension of a bolt as set and at pitch; torque window."""

    name: str
    set_n: float
    strung_n: float
    torque_n_m: float
    torque_low_n_m: float | None
    torque_high_n_m: float


@dataclass(frozen=True)
class ContactAnswer:
    """How a shim bears at pitch."""

    name: str
    closed_fraction: float
    slipping_fraction: float
    peak_pressure_mpa: float
    strength_mpa: float


@dataclass(frozen=True)
class BudgetAnswer:
    """Flex budget: shares of the nut's rise [mm] and of the heel stretch [deg], by part."""

    nut_rise_mm: float
    heel_stretch_deg: float
    nut_rise_shares_mm: dict[str, float]
    heel_stretch_shares_deg: dict[str, float]
    nut_rise_by_cause_mm: dict[str, float]
    heel_stretch_by_cause_deg: dict[str, float]


@dataclass(frozen=True)
class ProfileAnswer:
    """Crowns of frets 1..last: position, height bolted up and strung [mm]."""

    fret: tuple[int, ...]
    x_mm: tuple[float, ...]
    z_bolted_mm: tuple[float, ...]
    z_strung_mm: tuple[float, ...]


@dataclass(frozen=True)
class CheckAnswer:
    """Proofs of the run."""

    residual: float
    force_balance: float
    moment_balance: float
    energy_balance: float
    budget_closure: float
    mesh_error_deg: float


@dataclass(frozen=True)
class Assumed:
    """A key left to its default, and what it is worth in the offset when it is larger by ``step`` [deg]:
    a tenth of its value, or 0.1 where that is zero. Both are None without a number.
    """

    key: str
    value: Any
    source: str
    effect_deg: float | None
    step: float | None


@dataclass(frozen=True)
class Share:
    """One source of scatter and its part of the offset's standard deviation [deg]."""

    name: str
    deg: float


@dataclass(frozen=True)
class StripAnswer:
    """A strip under one end of a flat pocket in place of the full taper, for the same strung neck angle.

    ``bend_deg`` and ``bend_mm`` are kink and tongue gap at pitch less those on the full taper: what the bolts
    bend the heel over the gap shows at the last frets; ``gap_mm`` is the widest gap under the heel.
    """

    at_end: str
    length_mm: float
    thickness_mm: float
    gap_mm: float
    peak_pressure_mpa: float
    full_taper_pressure_mpa: float
    bend_deg: float
    bend_mm: float


@dataclass(frozen=True)
class PocketAnswer:
    """Answer of a flat pocket: the taper of its one shim that gives the strung neck its angle.

    ``saddle_wanted_mm`` is the height of the strings at the saddle that bridge and top give, to which the
    taper brings the neck; ``action_error_mm`` what the nearest taper in stock does to the action with that
    saddle; ``pitch_per_shim`` and ``kink_per_shim`` the neck's turn and the kink per degree of taper.
    """

    taper_deg: float
    taper_linear_deg: float
    taper_band_deg: tuple[float, float]
    taper_friction_band_deg: tuple[float, float]
    taper_on_stock_deg: float | None
    action_error_mm: float | None
    pitch_per_shim: float
    kink_per_shim: float
    saddle_wanted_mm: float
    strip: StripAnswer | None


@dataclass(frozen=True)
class Answer(Result):
    """The answer; fields are named as in the JSON. Numbers are unrounded; what is not applicable is None."""

    version: str
    case: str
    case_sha256: str
    joint: JointAnswer
    calibration_id: str | None
    strings: StringsAnswer
    relief: ReliefAnswer
    rod: RodAnswer
    heel_stretch_deg: float
    heel_stretch_rod_slack_deg: float
    heel_stretch_friction_band_deg: tuple[float, float]
    heel_rotation_deg: float
    shim_transfer: float | None
    gain: GainAnswer
    aim_upper_deg: float | None
    preload_offset_deg: float | None
    preload_offset_linear_deg: float | None
    preload_offset_band_deg: tuple[float, float] | None
    preload_offset_friction_band_deg: tuple[float, float] | None
    preload_offset_on_stock_deg: float | None
    anchored_offset_deg: float | None
    residual_kink_deg: float | None
    residual_tongue_gap_mm: float | None
    taper_mm: float
    paper_sheets: float
    kink_per_relief_deg_mm: float
    offset_per_relief_deg_mm: float | None
    string_rotation_deg: float
    saddle_height_mm: float
    states: dict[str, StateAnswer]
    pairs: tuple[PairAnswer, ...]
    shims: tuple[ShimAnswer, ...]
    bolts: tuple[BoltAnswer, ...]
    contact: tuple[ContactAnswer, ...]
    budget: BudgetAnswer
    fret_profile: ProfileAnswer
    scatter: tuple[Share, ...]
    checks: CheckAnswer
    assumed: tuple[Assumed, ...]
    standins: tuple[str, ...]
    warnings: tuple[str, ...]
    action_mm: float
    """Action at pitch over the crown of fret 12, mean of the strings weighted by tension [mm]."""

    pocket: PocketAnswer | None = None
    """The answer of a flat pocket, which has no preload offset."""

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
                "Ask `neckpreload offset` for its taper, or take a case with a two-shim joint here."
            )
        return self.preload_offset_deg

    @property
    def upper_deg(self) -> float:
        """The upper shim angle that was aimed at [deg]; the taper of a single shim."""
        return self.pocket.taper_deg if self.pocket else (self.aim_upper_deg or 0.0)

    def to_dict(self) -> dict[str, Any]:
        """The JSON object: every key always there, tuples as lists."""
        return {"schema": SCHEMA, **_plain(asdict(self))}

    def to_rows(self) -> list[dict[str, Any]]:
        """Return key, value and unit of each number of the answer's top level and of its flat pocket."""
        whole = self.to_dict()
        pocket = {f"pocket.{key}": value for key, value in (whole["pocket"] or {}).items()}
        return [
            {"key": key, "value": value, "unit": unit_of(key)}
            for key, value in {**whole, **pocket}.items()
            if isinstance(value, int | float) and key != "schema"
        ]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value

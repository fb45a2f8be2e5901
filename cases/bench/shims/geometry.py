"""Where pocket, shaft line, saddle and strings stand to one another, seen from the side (docs/bench.md).

Lengths [mm], angles [deg]. Heights at the saddle count from the carried pocket plane: the plane in which the
fretboard's underside would lie on the bare pocket with two parallel shims.
"""

from dataclasses import dataclass
from math import atan, degrees, radians, tan

from cases.casefile.case import Case
from cases.casefile.defaults import fret_position_mm, heel_face_length_mm, joint_position_mm
from cases.casefile.key_values import Values


@dataclass(frozen=True)
class Geometry:
    """Fixed lengths of an instrument [mm].

    Attributes
    ----------
    reach : body joint to saddle.
    share : of a change of height at the saddle, what arrives over fret 12.
    level : height of the carried plane over the top at the saddle when the pocket lies parallel to the top's
        plane at the joint; the dome lowers it.
    bridge : height of the bridge over the top.
    saddle_top : height of the saddle's top over the top of the body, as preset.
    lowest, highest : usable heights of the saddle over the bridge.
    pad_middle : from the joint to the middle of the upper pad, where shims keep their thickness.
    heel_face : from the joint's corner down to the heel cap.
    seat_depth : from the fretboard's underside down to the bare seat, shim included.
    tongue_lever : joint to last fret.
    """

    reach: float
    share: float
    level: float
    bridge: float
    saddle_top: float
    lowest: float
    highest: float
    pad_middle: float
    heel_face: float
    seat_depth: float
    tongue_lever: float

    def height_of(self, angle_deg: float) -> float:
        """Reading of a pocket whose plane makes an angle with the top's plane at the joint [deg] -> [mm]."""
        return self.level - self.reach * tan(radians(angle_deg))

    def angle_of(self, height: float) -> float:
        """Angle of a pocket with this reading [mm] -> [deg]; negative leans the neck back."""
        return degrees(atan((self.level - height) / self.reach))

    def fall(self, turn_deg: float) -> float:
        """How far the shaft line falls at the saddle when the shaft turns about the joint [deg] -> [mm]."""
        return self.reach * tan(radians(turn_deg))

    def action_of(self, fall: float) -> float:
        """Change of the action over fret 12 for a fall of the shaft line at a saddle that stays [mm]."""
        return self.share * fall

    def lift(self, upper_deg: float) -> float:
        """How far an upper shim lifts the whole neck [mm]: its thickness stays at the pad's middle, so it is
        thicker at the joint.
        """
        return self.pad_middle * tan(radians(upper_deg))


def geometry_of(case: Case) -> Geometry:
    """Lengths of a case."""
    values = Values(case.model_dump())
    saddle = case.instrument.scale_mm + case.bridge.compensation_mm
    joint = joint_position_mm(values)
    upper = case.shim("upper")
    bridge = case.bridge
    return Geometry(
        reach=saddle - joint,
        share=fret_position_mm(case.instrument.scale_mm, 12) / saddle,
        level=bridge.top_to_board_mm - bridge.top_dome_mm,
        bridge=bridge.bridge_height_mm,
        saddle_top=bridge.bridge_height_mm + bridge.saddle_projection_mm,
        lowest=bridge.saddle_lowest_mm,
        highest=bridge.saddle_highest_mm,
        pad_middle=0.5 * (upper.from_mm + upper.to_mm),
        heel_face=heel_face_length_mm(values),
        seat_depth=case.tongue.depth_mm + upper.thickness_mm,
        tongue_lever=fret_position_mm(case.instrument.scale_mm, case.instrument.last_fret) - joint,
    )

"""Geometry of pocket, shaft line, saddle and strings in the side view (docs/bench-theory.md).

Lengths [mm], angles [deg]. Heights at the saddle are measured from the carried pocket plane: the plane of the
fretboard's underside on the bare pocket with two shims without taper.
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
    share : change of height over fret 12 per change of height at the saddle [1].
    level : height of the carried plane over the top at the saddle for a pocket parallel to the top's plane at
        the joint; the dome lowers it.
    bridge : height of the bridge over the top.
    saddle_top : preset height of the saddle's upper edge over the top of the body.
    lowest, highest : usable heights of the saddle over the bridge.
    pad_middle : from the joint to the middle of the upper pad, where the taper does not change the thickness.
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
        """Reading [mm] of a pocket at an angle to the top's plane at the joint [deg]."""
        return self.level - self.reach * tan(radians(angle_deg))

    def angle_of(self, height: float) -> float:
        """Angle of a pocket [deg] from its reading [mm]; negative leans the neck back."""
        return degrees(atan((self.level - height) / self.reach))

    def fall(self, turn_deg: float) -> float:
        """Fall of the shaft line at the saddle [mm] by a rotation of the shaft about the joint [deg]."""
        return self.reach * tan(radians(turn_deg))

    def action_of(self, fall: float) -> float:
        """Change of the action at fret 12 by a fall of the shaft line at a fixed saddle [mm]."""
        return self.share * fall

    def lift(self, upper_deg: float) -> float:
        """Lift of the whole neck by the taper of the upper shim, which is thicker at the joint [mm]."""
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

"""From a case to the mechanics: millimetres, degrees and names become metres, radians and moduli; nowhere
else.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import radians

import numpy as np

from cases.casefile.case import Case
from cases.casefile.schema import Block as BlockTable
from cases.casefile.schema import Bolt as BoltTable
from cases.casefile.schema import Fretboard, Neck
from cases.casefile.stringing import strings_of
from fem.geometry.fret_line import FretLine
from fem.geometry.hardware import Bolt, Rod
from fem.geometry.mesh import Block
from fem.geometry.outline import Outline, fret_positions
from fem.geometry.pad import Pad
from fem.geometry.section_shape import SectionMaterial
from fem.geometry.structure import BarRun, Hollow, Structure, WoodPlate
from fem.joint.bolt import bolt_stiffness, torque_tension
from fem.solve.condensation import Flexibility
from fem.solve.equilibrium import Bolting, Strings, Targets
from fem.solve.offset import Question
from materials.metal import metal
from materials.orientation import (
    Grain,
    block_compliance,
    block_plane_stress,
    plane_stress,
    ring_angle,
    section_moduli,
)
from materials.shim import shim_material
from materials.strings import StringTension, tensions
from materials.wood import Wood, wood

MM = 1e-3


def wood_of(table: Neck | Fretboard | BlockTable) -> Wood:
    """Wood of a table at its moisture, with a measured modulus or density in place of the table's."""
    cut = wood(table.wood).at_moisture(table.moisture_percent)
    density = table.density_kg_m3 if isinstance(table, Neck) else None
    e_l = None if table.e_l_gpa is None else table.e_l_gpa * 1e9
    return cut.with_measured(e_l=e_l, density=density)


# an answer builds some thirty neighbours of its case, and most of them are cut from the same woods
@lru_cache(maxsize=16)
def timber(cut: Wood, *, ring: float, runout: float = 0.0) -> WoodPlate:
    """Moduli of a wood in the side view and in the cross-section, by its ring angle and runout [rad]."""

    def moduli(scale: float) -> np.ndarray:
        return plane_stress(replace(cut, e_l=cut.e_l * scale), depth_axis=ring, runout=runout)

    step = 1e-4
    stiffness = moduli(1.0)
    compliance = np.linalg.inv(stiffness)
    _, g_xy, _ = section_moduli(cut, ring)
    section = SectionMaterial(float(1.0 / compliance[0, 0]), g_xy, float(1.0 / compliance[2, 2]))
    return WoodPlate(stiffness, (moduli(1.0 + step) - moduli(1.0 - step)) / (2.0 * step), section)


@dataclass(frozen=True)
class Woods:
    """The woods of an instrument as they are: at their moisture, measured or aged."""

    neck: Wood
    board: Wood
    block: Wood


def woods_of(case: Case) -> Woods:
    """Woods of a case."""
    return Woods(wood_of(case.neck), wood_of(case.fretboard), wood_of(case.block))


def block_timber(cut: Wood, *, grain: Grain) -> WoodPlate:
    """Moduli of the neck block; it has no cross-section of its own in the beam, and its along-grain share is
    not told apart.
    """
    return WoodPlate(
        block_plane_stress(cut, grain=grain),
        np.zeros((3, 3)),
        SectionMaterial(cut.e_l, cut.g_lr, cut.g_lt),
        block_compliance(cut, grain=grain),
    )


def outline_of(case: Case) -> Outline:
    """Shape of neck, heel and tongue [m]."""
    frets = fret_positions(case.instrument.scale_mm * MM, case.instrument.last_fret)
    joint = float(fret_positions(case.instrument.scale_mm * MM, case.instrument.body_joint_fret)[-1])
    board_end = float(frets[-1]) + case.instrument.overhang_mm * MM
    heel_start = joint - case.heel.start_mm * MM
    parametric = Outline(
        scale=case.instrument.scale_mm * MM,
        joint=joint,
        heel_start=heel_start,
        tie=heel_start,
        board_end=board_end,
        tongue_end=min(joint + case.tongue.length_mm * MM, board_end),
        width_nut=case.neck.width_nut_mm * MM,
        width_joint=case.neck.width_joint_mm * MM,
        depth_at=(float(frets[0]), float(frets[9])),
        depth_total=(case.neck.depth_fret1_mm * MM, case.neck.depth_fret10_mm * MM),
        profile_exponent=case.neck.profile_exponent,
        board_thickness=case.fretboard.thickness_mm * MM,
        board_radius=case.fretboard.radius_mm * MM,
        slot_depth=case.fretboard.slot_depth_mm * MM,
        tongue_depth=case.tongue.depth_mm * MM,
        tongue_width=case.tongue.width_mm * MM,
        heel_height=case.heel.height_mm * MM,
        heel_exponent=case.heel.curve_exponent,
        heel_cap_length=case.heel.cap_length_mm * MM,
        heel_width_top=case.heel.width_top_mm * MM,
        heel_width_cap=case.heel.width_cap_mm * MM,
    )
    return parametric if case.heel_file is None else case.heel_file.outline(parametric)


def _pads(case: Case) -> tuple[Pad, ...]:
    """The interfaces of a joint's kind; the shim that is searched for comes last among the shims."""
    if case.joint.kind == "two-shim":
        return (_pad(case, "upper"), _pad(case, "lower"))
    pocket = _pad(case, "pocket")
    pocket = replace(pocket, pivot=0.5 * (pocket.start + pocket.end))
    wall = Pad(
        name="end wall",
        face="end",
        start=0.0,
        end=(case.block.wall_mm or 0.0) * MM,
        bearing_width=case.tongue.width_mm * MM,
        middle=0.0,
        young=pocket.young,
        shear=pocket.shear,
        compliance=pocket.compliance,
        lift=-(case.joint.end_gap_mm or 0.0) * MM,
    )
    return (pocket, wall)


def _pad(case: Case, name: str) -> Pad:
    shim = case.shim(name)
    material = shim_material(shim.material)
    return Pad(
        name=name,
        face={"upper": "tongue", "lower": "heel", "pocket": "tongue"}[name],
        start=shim.from_mm * MM,
        end=shim.to_mm * MM,
        bearing_width=shim.bearing_width_mm * MM,
        middle=shim.thickness_mm * MM,
        young=material.e_across,
        shear=material.g_across,
        compliance=shim.compliance_um_per_mpa * 1e-12,
    )


def _bolt(table: BoltTable) -> Bolt:
    tension = table.tension_n
    if tension is None:
        tension = torque_tension(
            table.torque_n_m or 0.0, nut_factor=table.nut_factor, diameter=table.diameter_mm * MM
        )
    return Bolt(
        name=table.name,
        face=table.face,
        position=table.position_mm * MM,
        diameter=table.diameter_mm * MM,
        washer_diameter=table.washer_diameter_mm * MM,
        insert_length=table.insert_length_mm * MM,
        insert_diameter=table.insert_diameter_mm * MM,
        young=table.young_gpa * 1e9,
        tension=tension,
        angle=radians(table.angle_deg),
    )


def _rod(case: Case) -> Rod | None:
    rod = case.rod
    if rod.kind == "none":
        return None
    return Rod(
        first=rod.start_mm * MM,
        last=rod.end_mm * MM,
        depth_ends=rod.depth_ends_mm * MM,
        depth_middle=rod.depth_middle_mm * MM,
        height=rod.slot_depth_mm * MM,
        arm=rod.arm_mm * MM if rod.kind == "two-way" else None,
    )


def _hollows(case: Case, outline: Outline) -> tuple[Hollow, ...]:
    return tuple(
        Hollow(
            first=outline.joint + one.from_mm * MM,
            last=outline.joint + one.to_mm * MM,
            top=-one.top_mm * MM,
            bottom=-one.bottom_mm * MM,
            width=one.width_mm * MM,
        )
        for one in case.hollows
    )


def structure_of(case: Case, *, woods: Woods | None = None) -> Structure:
    """Everything of a case that gives stiffness; ``woods`` in place of the case's own."""
    cut = woods or woods_of(case)
    bars = []
    for bar in case.bars:
        material = metal(bar.material)
        bars.append(
            BarRun(
                y=bar.y_mm * MM,
                z=-bar.depth_mm * MM,
                width=bar.width_mm * MM,
                height=bar.height_mm * MM,
                young=material.young,
                shear=material.shear,
                first=bar.start_mm * MM,
                last=bar.end_mm * MM,
            )
        )
    outline = outline_of(case)
    block = Block(
        length=case.block.length_mm * MM,
        stem=case.block.stem_mm * MM,
        shelf=case.block.shelf_mm * MM,
        height=case.block.height_mm * MM,
        width=case.block.width_mm * MM,
        wall=(case.block.wall_mm or 0.0) * MM,
    )
    pads = _pads(case)
    return Structure(
        outline=outline,
        block=block,
        neck=timber(
            cut.neck,
            ring=ring_angle(case.neck.ring_orientation),
            runout=radians(case.neck.grain_runout_deg),
        ),
        board=timber(cut.board, ring=ring_angle(case.fretboard.ring_orientation)),
        block_wood=block_timber(cut.block, grain=case.block.grain),
        pads=pads,
        bolts=tuple(_bolt(bolt) for bolt in case.bolts),
        frets=fret_positions(case.instrument.scale_mm * MM, case.instrument.last_fret),
        joint_fret=case.instrument.body_joint_fret,
        held=case.block.held,
        rod=_rod(case),
        rod_slot_width=case.rod.slot_width_mm * MM,
        bars=tuple(bars),
        hollows=_hollows(case, outline),
        mesh=None if case.heel_file is None else case.heel_file.joint_mesh(outline, block, pads),
    )


@dataclass(frozen=True)
class StringLine:
    """One string at pitch: tension [N], height of its axis above z = 0 at the nut and above the board's
    plane at the action fret, and height of its underside at both [m].
    """

    tension: StringTension
    nut_height: float
    action_height: float
    radius: float


EDGE = 3.2e-3
"""Distance of the outer strings from the board's edge [m]: common practice, no source."""


def string_lines(case: Case) -> tuple[StringLine, ...]:
    """Every string, 1st to last, heights between those of treble and bass side.

    Heights are strung with the rod set: the gaps are those over a board bowed by the target relief, and the
    crowns of the outer strings lie lower by the board's radius, ``y**2 / (2 R)``. The gap over the first fret
    fixes the nut: on a straight line through nut and action fret ``z_nut = (h_1 - r h_12) / (1 - r)`` with
    ``r = x_1 / x_12`` and h the line's heights at those frets.
    """
    scale = case.instrument.scale_mm * MM
    strung = tensions(strings_of(case.strings), scale=scale, tuning=case.strings.tuning)
    x_1, x_12 = (float(x) for x in fret_positions(scale, 12)[[0, 11]])
    share = x_1 / x_12
    crown = (case.fretboard.thickness_mm + case.frets.crown_height_mm) * MM
    arc_nut, arc_1, arc_12 = (_arc(case, x) for x in (0.0, x_1, x_12))
    courses = max(one.course for one in strung)
    outline = outline_of(case)
    lines = []
    for one in strung:
        bass = (one.course - 1) / max(courses - 1, 1)
        gap = _between(case.setup.nut_height_treble_mm, case.setup.nut_height_bass_mm, bass) * MM
        action = _between(case.setup.action_treble_mm, case.setup.action_bass_mm, bass) * MM
        drop_1, drop_12 = (_drop(case, outline, x, bass) for x in (x_1, x_12))
        radius = 0.5 * one.string.gauge_in * 0.0254
        line_1, line_12 = crown - drop_1 + gap + arc_1, crown - drop_12 + action + arc_12
        nut = (line_1 - share * line_12) / (1.0 - share) - arc_nut
        lines.append(StringLine(one, nut + radius, line_12 - arc_12 + radius, radius))
    return tuple(lines)


def _arc(case: Case, x: float) -> float:
    """Height of a board bowed by the target relief over the straightedge from fret 1 to the joint [m]."""
    frets = fret_positions(case.instrument.scale_mm * MM, case.instrument.body_joint_fret)
    xi = (x - float(frets[0])) / float(frets[-1] - frets[0])
    return -4.0 * case.targets.relief_mm * MM * xi * (1.0 - xi)


def _drop(case: Case, outline: Outline, x: float, bass: float) -> float:
    """How much lower the crown is under a string than at the centre line, from the board's radius [m]."""
    half = 0.5 * float(outline.width(np.asarray(x))) - EDGE
    return float(((2.0 * bass - 1.0) * half) ** 2 / (2.0 * case.fretboard.radius_mm * MM))


def _between(treble: float, bass: float, share: float) -> float:
    return treble + (bass - treble) * share


def resultant(lines: tuple[StringLine, ...], case: Case) -> tuple[Strings, float]:
    """The strings as one: total tension, tension-weighted heights; and the height at the action fret [m]."""
    pull = np.array([line.tension.tension_n for line in lines])
    saddle = (case.instrument.scale_mm + case.bridge.compensation_mm) * MM
    total = float(pull.sum())
    weight = pull / total
    nut = float(weight @ np.array([line.nut_height for line in lines]))
    action = float(weight @ np.array([line.action_height for line in lines]))
    return Strings(total, nut, saddle), action


def mean_radius(lines: tuple[StringLine, ...]) -> float:
    """Tension-weighted radius of the strings: axis over underside [m]."""
    pull = np.array([line.tension.tension_n for line in lines])
    return float(pull @ np.array([line.radius for line in lines]) / pull.sum())


def preset_saddle_height(case: Case) -> float:
    """Height of the saddle's top over the glue line's plane, as bridge and top give it [m]."""
    bridge = case.bridge
    over_top = bridge.top_dome_mm + bridge.bridge_height_mm + bridge.saddle_projection_mm
    return (over_top - bridge.top_to_board_mm) * MM


def fret_line(case: Case) -> FretLine:
    """Fret positions with the relief and fallaway planed into the board."""
    x = fret_positions(case.instrument.scale_mm * MM, case.instrument.last_fret)
    joint = case.instrument.body_joint_fret
    first, end = x[0], x[joint - 1]
    xi = np.clip((end - x) / (end - first), 0.0, None)
    relief = case.fretboard.planed_relief_mm * MM * 4.0 * xi * xi
    beyond = np.clip((x - end) / (x[-1] - end), 0.0, None)
    return FretLine(x, joint, relief - case.fretboard.fallaway_mm * MM * beyond)


def question_of(
    case: Case, flexibility: Flexibility, structure: Structure, *, friction: float | None = None
) -> Question:
    """Everything adjustable of a case round a flexibility.

    ``friction`` replaces that of the case. A body whose drop was measured starts out rigid: its stiffness is
    found from an answer.
    """
    lines = string_lines(case)
    strings, height = resultant(lines, case)
    line = fret_line(case)
    fixed = case.setup.mode == "saddle-fixed"
    saddle = (case.setup.saddle_height_mm or 0.0) * MM + mean_radius(lines) if fixed else 0.0
    pocket = case.joint.kind == "flat-pocket"
    preset = saddle if fixed else preset_saddle_height(case) + mean_radius(lines)
    # one shim sets the pitch: the action is met by the saddle, and the saddle must come out as preset
    fixed = fixed and not pocket
    wanted = Targets(
        relief=case.targets.relief_mm * MM,
        rod=0.0,
        height=None if fixed else height,
        saddle_height=saddle,
        height_x=float(line.x[11]),
    )
    coefficient = case.joint.friction if friction is None else friction
    gap = case.targets.tongue_gap_mm
    return Question(
        flexibility=flexibility,
        pads=structure.pads,
        friction=tuple(coefficient for _ in structure.pads),
        bolting=Bolting(
            np.array([bolt.tension for bolt in structure.bolts]),
            np.array([bolt_stiffness(bolt, structure.block) for bolt in structure.bolts]),
        ),
        strings=strings,
        wanted=wanted,
        line=line,
        one_way=case.rod.kind != "two-way",
        target_kink=radians(case.targets.kink_deg or 0.0),
        target_gap=None if gap is None else gap * MM,
        body_stiffness=case.body.stiffness_n_m_per_rad,
        target_saddle=preset if pocket else None,
    )

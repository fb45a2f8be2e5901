"""From a case to the model: the one place where millimetres, degrees and names become SI units and moduli."""

from dataclasses import dataclass, replace
from math import pi, radians

import numpy as np

from cases.casefile.case import Case
from cases.casefile.schema.joint import Bolt as BoltTable
from cases.casefile.stringing import strings_of
from cases.offset.washers import refuse_crushing
from cases.offset.woods import Woods, block_plate, wood_plate, woods_of
from fem.geometry.fret_line import FretLine
from fem.geometry.hardware import Bolt, Rod
from fem.geometry.mesh import Block
from fem.geometry.outline import Array, Outline, fret_positions
from fem.geometry.pad import Pad
from fem.geometry.structure import BarRun, Hollow, Structure
from fem.joint.bolt import bolt_stiffness, torque_tension
from fem.solve.equilibrium import Bolting, Strings, Targets
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question
from materials.metal import metal
from materials.orientation import ring_angle
from materials.shim import shim_material
from materials.strings import StringTension, tensions

MM = 1e-3


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
    """Interfaces of the joint; the shim whose angle is searched for is the last of the shims."""
    if case.joint.kind == "two-shim":
        return (_pad(case, "upper"), _pad(case, "lower"))
    pocket = _pad(case, "pocket")
    pocket = replace(pocket, pivot=0.5 * (pocket.start + pocket.end))
    wall = replace(
        pocket,
        name="end wall",
        face="end",
        start=0.0,
        end=(case.block.wall_mm or 0.0) * MM,
        bearing_width=case.tongue.width_mm * MM,
        middle=0.0,
        lift=-(case.joint.end_gap_mm or 0.0) * MM,
        pivot=0.0,
    )
    return (pocket, wall)


def _pad(case: Case, name: str) -> Pad:
    shim = case.shim(name)
    material = shim_material(shim.material)
    return Pad(
        name=name,
        face="heel" if name == "lower" else "tongue",
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


def rod_stiffness(case: Case) -> float:
    """Stiffness of the rod: EA/l if one-way [N/m], EA a^2/(2 l) if two-way [N m], 0 without a rod."""
    rod = case.rod
    if rod.kind == "none":
        return 0.0
    area = 0.25 * pi * (rod.diameter_mm * MM) ** 2
    one = rod.young_gpa * 1e9 * area / ((rod.end_mm - rod.start_mm) * MM)
    return one if rod.kind == "one-way" else 0.5 * one * (rod.arm_mm * MM) ** 2


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


def _bars(case: Case) -> tuple[BarRun, ...]:
    return tuple(
        BarRun(
            y=bar.y_mm * MM,
            z=-bar.depth_mm * MM,
            width=bar.width_mm * MM,
            height=bar.height_mm * MM,
            young=metal(bar.material).young,
            shear=metal(bar.material).shear,
            first=bar.start_mm * MM,
            last=bar.end_mm * MM,
        )
        for bar in case.bars
    )


def structure_of(case: Case, *, woods: Woods | None = None) -> Structure:
    """Stiffness-bearing parts of a case; ``woods`` replace the case's own.

    `CaseError` if a bolt would crush the wood under its washer.
    """
    cut = woods or woods_of(case)
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
    bolts = tuple(_bolt(bolt) for bolt in case.bolts)
    refuse_crushing(case, bolts)
    return Structure(
        outline=outline,
        block=block,
        neck=wood_plate(
            cut.neck,
            ring=ring_angle(case.neck.ring_orientation),
            runout=radians(case.neck.grain_runout_deg),
        ),
        board=wood_plate(cut.board, ring=ring_angle(case.fretboard.ring_orientation)),
        block_wood=block_plate(cut.block, grain=case.block.grain),
        pads=pads,
        bolts=bolts,
        frets=fret_positions(case.instrument.scale_mm * MM, case.instrument.last_fret),
        joint_fret=case.instrument.body_joint_fret,
        held=case.block.held,
        rod=_rod(case),
        rod_slot_width=case.rod.slot_width_mm * MM,
        bars=_bars(case),
        hollows=_hollows(case, outline),
        mesh=None if case.heel_file is None else case.heel_file.joint_mesh(outline, block, pads),
    )


@dataclass(frozen=True)
class StringLine:
    """One string at pitch: heights of its axis over z = 0 at the nut and at the action fret, and radius [m].

    ``bass`` is its place between treble (0) and bass (1).
    """

    tension: StringTension
    bass: float
    nut_height: float
    action_height: float
    radius: float


EDGE = 3.2e-3
"""Distance of the outer strings from the board's edge [m]: common practice, no source."""


def string_lines(case: Case) -> tuple[StringLine, ...]:
    """Every string, 1st to last, heights between those of treble and bass side.

    The case gives gaps over a board bowed by the target relief, rod set. The crowns under the outer strings
    are lower by the board's radius, ``y**2 / (2 R)``. The gap over the first fret fixes the nut: on a
    straight line through nut and action fret ``z_nut = (h_1 - r h_12) / (1 - r)`` with ``r = x_1 / x_12`` and
    h the line's heights at those frets.
    """
    scale = case.instrument.scale_mm * MM
    strung = tensions(strings_of(case.strings), scale=scale, tuning=case.strings.tuning)
    x_1, x_12 = (float(x) for x in fret_positions(scale, 12)[[0, 11]])
    ratio = x_1 / x_12
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
        nut = (line_1 - ratio * line_12) / (1.0 - ratio) - arc_nut
        lines.append(StringLine(one, bass, nut + radius, line_12 - arc_12 + radius, radius))
    return tuple(lines)


def _arc(case: Case, x: float) -> float:
    """Height of a board bowed by the target relief, over the straightedge from fret 1 to the joint [m]."""
    frets = fret_positions(case.instrument.scale_mm * MM, case.instrument.body_joint_fret)
    xi = (x - float(frets[0])) / float(frets[-1] - frets[0])
    return -4.0 * case.targets.relief_mm * MM * xi * (1.0 - xi)


def _drop(case: Case, outline: Outline, x: float, bass: float) -> float:
    """Depth of the crown under a string below that at the centre line, from the board's radius [m]."""
    half = 0.5 * float(outline.width(np.asarray(x))) - EDGE
    return float(((2.0 * bass - 1.0) * half) ** 2 / (2.0 * case.fretboard.radius_mm * MM))


def _between(treble: float, bass: float, share: float) -> float:
    return treble + (bass - treble) * share


def string_weights(lines: tuple[StringLine, ...]) -> Array:
    """Each string's part of the total tension, (strings,)."""
    pull = np.array([line.tension.tension_n for line in lines])
    return np.asarray(pull / pull.sum())


def resultant(lines: tuple[StringLine, ...], case: Case) -> tuple[Strings, float]:
    """The strings as one, heights weighted by tension; and its height at the action fret [m]."""
    weight = string_weights(lines)
    saddle = (case.instrument.scale_mm + case.bridge.compensation_mm) * MM
    total = float(sum(line.tension.tension_n for line in lines))
    nut = float(weight @ np.array([line.nut_height for line in lines]))
    action = float(weight @ np.array([line.action_height for line in lines]))
    return Strings(total, nut, saddle), action


def mean_radius(lines: tuple[StringLine, ...]) -> float:
    """Radius of the strings weighted by tension: height of the axis over the underside [m]."""
    return float(string_weights(lines) @ np.array([line.radius for line in lines]))


def preset_saddle_height(case: Case) -> float:
    """Height of the saddle's top over the plane of the glue line, from bridge and top [m]."""
    bridge = case.bridge
    over_top = bridge.top_dome_mm + bridge.bridge_height_mm + bridge.saddle_projection_mm
    return (over_top - bridge.top_to_board_mm) * MM


def fret_line(case: Case) -> FretLine:
    """Fret positions, with relief and fallaway planed into the board."""
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
    """Loads, targets and settings of a case on a flexibility; ``friction`` replaces that of the case.

    A body whose drop was measured is rigid here; `cases.offset.solve` finds its stiffness.
    """
    lines = string_lines(case)
    strings, height = resultant(lines, case)
    line = fret_line(case)
    fixed = case.setup.mode == "saddle-fixed"
    saddle = (case.setup.saddle_height_mm or 0.0) * MM + mean_radius(lines) if fixed else 0.0
    pocket = case.joint.kind == "flat-pocket"
    preset = saddle if fixed else preset_saddle_height(case) + mean_radius(lines)
    # one shim sets the neck angle: the saddle gives the action and must end at its preset height
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
        friction=(coefficient,) * len(structure.pads),
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

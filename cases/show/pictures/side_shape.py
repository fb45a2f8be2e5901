"""Geometry of the side view [mm]: shapes from the case, displacements from the answer's frets and gaps."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.build import MM, fret_line, resultant, string_lines, structure_of
from cases.show.pictures.side_joint import (
    SHIM_MM,
    THIN_MM,
    Movement,
    Seat,
    block_shape,
    fastenings,
    open_seams,
    room_for,
    seats_of,
    shim_shapes,
    shim_thickness,
    slope,
    turned,
)
from fem.geometry.outline import Array
from fem.geometry.structure import Structure

LARGEST_MOVE_MM = 26.0
"""Largest exaggerated displacement [mm]."""
FACTORS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Exaggerations to choose from."""
NUMBERED = (1, 3, 5, 7, 9, 12)
"""Frets numbered besides the joint and the last."""


@dataclass(frozen=True)
class SideState:
    """One state as drawn; heights above the shaft line are true size with the bow removed [mm].

    Attributes
    ----------
    crown_mm : (frets, 2) position and exaggerated height of the crowns.
    neck, board : (n, 2) closed outlines; ``rod`` (n, 2) its path, None without one.
    strings : (2, 2) from nut to saddle, None with strings off.
    shaft_line, tongue_line : (2, 2) both lines as drawn, extended past the joint.
    over_line_mm : (frets,) heights of the crowns above the shaft line.
    tongue_over_line_mm : (2,) the tongue line above the shaft line at the joint and at the last fret.
    seats : the faces of the joint by name, true size.
    block, shims, washers : closed outlines; ``bolts`` (2, 2) axis of each bolt from washer to insert.
    seams : (n, 2) lines along the stretches where a face is open.
    """

    name: str
    kink_deg: float
    relief_mm: float
    crown_mm: Array
    neck: Array
    board: Array
    rod: Array | None
    strings: Array | None
    shaft_line: Array
    tongue_line: Array
    over_line_mm: Array
    tongue_over_line_mm: Array
    seats: dict[str, Seat]
    block: Array
    shims: tuple[Array, ...]
    seams: tuple[Array, ...]
    bolts: tuple[Array, ...]
    washers: tuple[Array, ...]

    @property
    def tongue_gap_mm(self) -> float:
        """Height of the last crown above the shaft line, bow removed [mm]."""
        return float(self.over_line_mm[-1])


@dataclass(frozen=True)
class Scene:
    """Fixed parts of a drawing; lengths are true, ``exaggeration`` multiplies movements, gaps, shim taper.

    ``seat_mm`` are the distances along each seat at which gaps are given, (points,) [mm]; ``thick_mm`` the
    drawn thickness of each shim by its face; ``rest_neck``, ``rest_board`` and ``rest_rod`` are undeformed,
    (n, 2) [mm].
    """

    case: Case
    structure: Structure
    exaggeration: float
    shim_deg: tuple[float, ...]
    seat_mm: tuple[Array, ...]
    thick_mm: dict[str, float]
    saddle_height_mm: float
    nut_height_mm: float
    rest_neck: Array
    rest_board: Array
    rest_rod: Array | None


@dataclass(frozen=True)
class SideView(Scene):
    """Geometry of the side view [mm], x from the nut, z up from the glue line.

    Arrays are (n, 2) points; bridge, saddle and top only hint at the body.
    """

    headline: str
    strings_n: float
    frets: tuple[int, ...]
    fret_x_mm: Array
    joint: int
    numbered: tuple[int, ...]
    off: SideState
    on: SideState
    shim_names: tuple[str, ...]
    bridge: Array
    saddle: Array
    top: Array


def _shim_angles(answer: Answer) -> tuple[float, ...]:
    """Exact angles of the shims in the answer's states, not rounded to stock [deg]."""
    if answer.preload_offset_deg is None:
        return (answer.upper_deg,)
    return (answer.upper_deg, answer.upper_deg + answer.preload_offset_deg)


def _headline(answer: Answer) -> str:
    if answer.preload_offset_deg is None:
        return f"{answer.case}: shim taper {answer.upper_deg:+z.3f}°"
    return f"{answer.case}: preload offset {answer.preload_offset_deg:+z.3f}° (lower minus upper shim)"


def side_view(case: Case, answer: Answer, *, exaggeration: float | None = None) -> SideView:
    """The side view of an answer; without ``exaggeration`` the largest round factor that fits."""
    profile = answer.fret_profile
    heights = {"bolted": np.asarray(profile.z_bolted_mm), "strung": np.asarray(profile.z_strung_mm)}
    gaps = {
        name: tuple(np.asarray(getattr(seat, f"gap_{name}_mm")) for seat in answer.gaps) for name in heights
    }
    factor = exaggeration_for(*heights.values()) if exaggeration is None else exaggeration
    structure, joint, angles = structure_of(case), case.instrument.body_joint_fret, _shim_angles(answer)
    at = tuple(np.asarray(seat.s_mm) for seat in answer.gaps)
    free = seats_of(structure, at, [np.zeros_like(s) for s in at], angles)
    thick = shim_thickness(free, factor, least=SHIM_MM)
    scene = Scene(
        case, structure, factor, angles, at, thick, answer.saddle_height_mm,
        nut_height_mm=resultant(string_lines(case), case)[0].nut_height / MM,
        rest_neck=_neck(structure),
        rest_board=_board(structure),
        rest_rod=None if structure.rod is None else _rod(structure),
    )  # fmt: skip
    off, on = (
        side_state(
            scene, name, z, gaps_mm=gaps[name], angles_deg=angles,
            kink_deg=answer.states[name].kink_deg, relief_mm=answer.states[name].relief_mm,
        )
        for name, z in heights.items()
    )  # fmt: skip
    assert on.strings is not None
    bridge, saddle, top = body_shapes(case, structure, on.strings[1])
    last = len(profile.fret)
    return SideView(
        **vars(scene),
        headline=_headline(answer),
        strings_n=answer.strings.total_tension_n,
        frets=profile.fret,
        fret_x_mm=np.asarray(profile.x_mm),
        joint=joint,
        numbered=tuple(sorted({*(n for n in NUMBERED if n <= last), joint, last})),
        off=off,
        on=on,
        shim_names=tuple(seat.pad.name for seat in on.seats.values() if seat.pad.middle > 0.0),
        bridge=bridge,
        saddle=saddle,
        top=top,
    )


def exaggeration_for(*heights: Array) -> float:
    """The largest factor that keeps the largest displacement within `LARGEST_MOVE_MM`."""
    largest = max(float(np.max(np.abs(z))) for z in heights)
    return max((f for f in FACTORS if f * largest <= LARGEST_MOVE_MM), default=FACTORS[0])


def _strings(scene: Scene, nut_z: float, crowns: Array) -> Array:
    """Strings from nut to saddle, (2, 2) [mm]; the saddle is drawn higher if the neck would reach above."""
    saddle_x = scene.case.instrument.scale_mm + scene.case.bridge.compensation_mm
    needed = nut_z + (crowns[:, 1] + 1.0 - nut_z) * saddle_x / crowns[:, 0]
    return np.array([[0.0, nut_z], [saddle_x, max(scene.saddle_height_mm, float(needed.max()))]])


def side_state(
    scene: Scene,
    name: str,
    heights_mm: Array,
    *,
    gaps_mm: Sequence[Array],
    angles_deg: tuple[float, ...],
    kink_deg: float,
    relief_mm: float,
) -> SideState:
    """One state from its crown heights, frets 1 to last, gaps along each seat [mm] and angles of the shims;
    a ``bolted`` one is without strings.
    """
    case, structure, factor = scene.case, scene.structure, scene.exaggeration
    outline, line = structure.outline, fret_line(case)
    x = line.x / MM
    curve = CubicSpline(x, heights_mm, bc_type="natural")
    seats = seats_of(structure, scene.seat_mm, gaps_mm, angles_deg)
    turn = _body_turn(case, curve, seats["tongue"], outline.joint / MM)
    move = Movement(curve, outline, seats, factor, turn)
    crown_top = case.fretboard.thickness_mm + case.frets.crown_height_mm
    straight = heights_mm - relief_mm * line.bow()
    shaft, tongue = (_line_through(x[part], straight[part]) for part in (line.shaft, line.tongue))
    ends = np.array([[x[0], x[-1] + 60.0], [x[line.joint - 1] - 60.0, x[-1] + 15.0]])
    lines = [
        np.stack([reach, crown_top + factor * fit(reach)], axis=1)
        for reach, fit in zip(ends, (shaft, tongue), strict=True)
    ]
    crowns = np.stack([x, crown_top + factor * heights_mm], axis=1)
    nut = scene.nut_height_mm + factor * float(curve(0.0))
    rest = [scene.rest_neck, scene.rest_board, *([] if scene.rest_rod is None else [scene.rest_rod])]
    ends_at = np.cumsum([len(points) for points in rest])
    neck, board, *rod = np.split(move.of(np.concatenate(rest)), ends_at[:-1])
    far = np.array([x[line.joint - 1], x[-1]])
    return SideState(
        name=name,
        kink_deg=kink_deg,
        relief_mm=relief_mm,
        crown_mm=crowns,
        neck=neck,
        board=board,
        rod=rod[0] if rod else None,
        strings=None if name == "bolted" else _strings(scene, nut, crowns),
        shaft_line=lines[0],
        tongue_line=lines[1],
        over_line_mm=straight - shaft(x),
        tongue_over_line_mm=tongue(far) - shaft(far),
        seats=seats,
        **_joint_parts(scene, seats, move),
    )


def _body_turn(case: Case, curve: CubicSpline, tongue: Seat, joint: float) -> float:
    """Rotation of a body that is not rigid [rad]: heights of the board over the tongue that are no gap."""
    if case.body.stiffness_n_m_per_rad is None and case.body.straightedge_drop_mm is None:
        return 0.0
    moved = curve(joint + tongue.s_mm) - tongue.neck_mm
    return -slope(tongue.s_mm, moved)


def _line_through(x: Array, z: Array) -> Callable[[Array], Array]:
    """The line through points by least squares."""
    middle, height, steep = x.mean(), z.mean(), slope(x, z)
    return lambda at: height + steep * (at - middle)


def _joint_parts(scene: Scene, seats: dict[str, Seat], move: Movement) -> dict[str, Any]:
    """Block, shims, bolts and washers of a state, turned with the body."""
    structure, factor = scene.structure, scene.exaggeration
    needed = shim_thickness(seats, factor, least=THIN_MM)
    thick = {face: max(scene.thick_mm[face], needed[face]) for face in needed}
    room = room_for(structure, thick)

    def with_body(points: Array) -> Array:
        return points + factor * turned(points, structure.outline, move.turn)

    middles, ends, washers = zip(*fastenings(structure, room), strict=True)
    return {
        "block": with_body(block_shape(structure, room, factor)),
        "shims": tuple(with_body(shape) for shape in shim_shapes(structure, seats, factor, thick)),
        "seams": tuple(with_body(line) for line in open_seams(structure, seats, factor)),
        "bolts": tuple(np.stack([with_body(np.stack(middles)), move.of(np.stack(ends))], axis=1)),
        "washers": tuple(with_body(np.stack(washers))),
    }


def _points(x: Array, z: Array) -> Array:
    return np.stack(np.broadcast_arrays(x, z), axis=1) / MM


def _neck(structure: Structure) -> Array:
    """Closed outline of the neck wood: glue line, tongue end, tongue underside, heel face, back."""
    o = structure.outline
    glue = np.linspace(0.0, o.tongue_end, 240)
    end = np.linspace(0.0, -o.tongue_depth, 12)
    under = np.linspace(o.tongue_end, o.joint, 90)
    face = np.linspace(-o.tongue_depth, -o.heel_height, 90)
    back = np.linspace(o.joint, 0.0, 400)
    return np.concatenate([
        _points(glue, np.zeros_like(glue)),
        _points(np.full_like(end, o.tongue_end), end),
        _points(under[:-1], np.full_like(under[:-1], -o.tongue_depth)),
        _points(np.full_like(face, o.joint), face),
        _points(back, -o.depth(back)),
    ])  # fmt: skip


def _board(structure: Structure) -> Array:
    o = structure.outline
    x = np.linspace(0.0, o.board_end, 240)
    return np.concatenate(
        [_points(x, np.full_like(x, o.board_thickness)), _points(x[::-1], np.zeros_like(x))]
    )


def _rod(structure: Structure) -> Array:
    assert structure.rod is not None
    x = np.linspace(structure.rod.first, structure.rod.last, 80)
    return _points(x, structure.rod.z(x))


def body_shapes(case: Case, structure: Structure, at_saddle: Array) -> tuple[Array, Array, Array]:
    """Bridge, saddle and the top from the end of the board, for orientation only; each (n, 2) [mm]."""
    start, (saddle_x, saddle_z) = structure.outline.board_end / MM, at_saddle
    x = np.linspace(start, saddle_x + 40.0, 60)
    run = (x - start) / (saddle_x - start)
    top = np.stack([x, case.bridge.top_dome_mm * run * (2.0 - run) - case.bridge.top_to_board_mm], axis=1)
    low = case.bridge.top_dome_mm - case.bridge.top_to_board_mm
    high = min(low + case.bridge.bridge_height_mm, saddle_z - 1.0)
    left, right, thin = saddle_x - 10.0, saddle_x + 18.0, 1.5
    bridge = np.array([(left, low), (left, high), (right, high), (right, low)])
    saddle = np.array([(saddle_x - thin, high), (saddle_x - thin, saddle_z), (saddle_x + thin, saddle_z),
                       (saddle_x + thin, high)])  # fmt: skip
    return bridge, saddle, top

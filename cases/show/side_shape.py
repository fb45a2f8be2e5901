"""What the side view shows, as points [mm]: shapes from the case, movements from the answer's frets."""

from dataclasses import dataclass
from math import radians

import numpy as np
from scipy.interpolate import CubicSpline

from cases.answer import Answer
from cases.build import MM, fret_line, resultant, string_lines, structure_of
from cases.case import Case
from fem.outline import Array
from fem.structure import Structure

LARGEST_MOVE_MM = 26.0
"""Length on paper that the largest movement may take, in the picture's own millimetres."""
FACTORS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Round exaggerations to choose from."""
SHIM_MM = 2.5
"""Least drawn thickness of a shim: a real one would be a hair line."""
NUMBERED = (1, 3, 5, 7, 9, 12)
"""Frets numbered besides those at the joint and the last."""


@dataclass(frozen=True)
class SideState:
    """One state of the instrument, drawn.

    Attributes
    ----------
    name, kink_deg, relief_mm : as in the answer.
    crown_mm : (frets, 2) crowns as drawn: position, height.
    neck, board : (n, 2) closed outlines; ``rod`` (n, 2) its path, None without one.
    strings : (2, 2) from nut to saddle, None with strings off.
    shaft_line, tongue_line : (2, 2) both lines as drawn, the bow taken out, carried past the joint.
    over_line_mm : (frets,) crown heights over the shaft line, the bow taken out, true size.
    tongue_over_line_mm : (2,) the tongue line over the shaft line at the joint and at the last fret, true
      size.
    bolts : (2, 2) axis of each bolt from washer to insert.
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
    bolts: tuple[Array, ...]

    @property
    def tongue_gap_mm(self) -> float:
        """Height of the last crown over the shaft line, the bow taken out [mm]."""
        return float(self.over_line_mm[-1])


@dataclass(frozen=True)
class SideView:
    """Picture 1 before it is drawn; everything in mm, x from the nut, z up from the glue line.

    ``exaggeration`` multiplies every movement and the shims' taper; lengths of the parts are true. Arrays
    are (n, 2) points: ``rest_neck`` and ``rest_board`` the undeformed outlines, ``block`` and ``shims`` what
    the heel rests on, ``washers`` the bolts' washers, ``bridge``, ``saddle`` and ``top`` a hint of the body.
    """

    case: str
    exaggeration: float
    offset_deg: float
    strings_n: float
    shim_deg: tuple[float, float]
    frets: tuple[int, ...]
    fret_x_mm: Array
    joint: int
    numbered: tuple[int, ...]
    off: SideState
    on: SideState
    rest_neck: Array
    rest_board: Array
    block: Array
    shims: tuple[Array, Array]
    washers: tuple[Array, ...]
    bridge: Array
    saddle: Array
    top: Array


@dataclass(frozen=True)
class _Movement:
    """Movement of the neck's points by the heights of its crowns, a smooth curve through them."""

    curve: CubicSpline
    heel_start: float
    joint: float
    corner: float
    exaggeration: float

    def of(self, points: Array) -> Array:
        """Points moved: lifted by the curve, turned by its slope; below the corner the heel turns as one
        piece with its start.
        """
        x, z = points[:, 0], points[:, 1]
        slope = self.curve(x, 1)
        heel = float(self.curve(self.heel_start, 1))
        below = np.where(
            (x > self.heel_start) & (x <= self.joint + 1e-9), np.minimum(z - self.corner, 0.0), 0.0
        )
        aside = -slope * (z - below) - heel * below
        return points + self.exaggeration * np.stack([aside, self.curve(x)], axis=1)


@dataclass(frozen=True)
class Scene:
    """What every state of one instrument is drawn into: shapes, factor, the drawn room of both shims [mm]."""

    case: Case
    structure: Structure
    exaggeration: float
    shims: tuple[Array, Array]
    room: tuple[float, float]
    saddle_height_mm: float


def scene_of(case: Case, answer: Answer, *, exaggeration: float) -> Scene:
    """The scene of an answer for an exaggeration."""
    structure = structure_of(case)
    upper = answer.aim_upper_deg
    shims, room = _shims(structure, (upper, upper + answer.preload_offset_deg), exaggeration)
    return Scene(case, structure, exaggeration, shims, room, answer.saddle_height_mm)


def side_view(case: Case, answer: Answer, *, exaggeration: float | None = None) -> SideView:
    """Work out the side view of an answer: nothing is solved, crowns between frets lie on a cubic spline.

    Parameters
    ----------
    case : the instrument.
    answer : its answer.
    exaggeration : by how much movements are drawn larger; None takes the largest round factor that fits.

    Returns
    -------
    SideView
        All lengths in mm.
    """
    profile = answer.fret_profile
    heights = [np.asarray(profile.z_bolted_mm), np.asarray(profile.z_strung_mm)]
    factor = exaggeration_for(*heights) if exaggeration is None else exaggeration
    scene = scene_of(case, answer, exaggeration=factor)
    structure, joint = scene.structure, case.instrument.body_joint_fret
    off, on = (
        side_state(scene, name, z, kink_deg=said.kink_deg, relief_mm=said.relief_mm)
        for name, z, said in zip(
            ("bolted", "strung"), heights, (answer.states["bolted"], answer.states["strung"]), strict=True
        )
    )
    assert on.strings is not None
    bridge, saddle, top = _body(case, structure, on.strings[1])
    last = len(profile.fret)
    return SideView(
        case=answer.case,
        exaggeration=factor,
        offset_deg=answer.preload_offset_deg,
        strings_n=answer.strings.total_tension_n,
        shim_deg=(answer.aim_upper_deg, answer.aim_upper_deg + answer.preload_offset_deg),
        frets=profile.fret,
        fret_x_mm=np.asarray(profile.x_mm),
        joint=joint,
        numbered=tuple(sorted({*(n for n in NUMBERED if n <= last), joint, last})),
        off=off,
        on=on,
        rest_neck=_neck(structure),
        rest_board=_board(structure),
        block=_block(structure, scene.room),
        shims=scene.shims,
        washers=_washers(structure, scene.room),
        bridge=bridge,
        saddle=saddle,
        top=top,
    )


def exaggeration_for(*heights: Array) -> float:
    """The largest round factor that keeps the largest movement on paper."""
    largest = max(float(np.max(np.abs(z))) for z in heights)
    return max((f for f in FACTORS if f * largest <= LARGEST_MOVE_MM), default=FACTORS[0])


def _strings(scene: Scene, nut_z: float, crowns: Array) -> Array:
    """The strings from the drawn nut to the saddle's true height, (2, 2) [mm].

    The saddle does not move, so its height is not exaggerated; where the neck is drawn so far down that the
    strings would run through it, the saddle is drawn higher by what is missing.
    """
    saddle_x = scene.case.instrument.scale_mm + scene.case.bridge.compensation_mm
    needed = nut_z + (crowns[:, 1] + 1.0 - nut_z) * saddle_x / crowns[:, 0]
    return np.array([[0.0, nut_z], [saddle_x, max(scene.saddle_height_mm, float(needed.max()))]])


def side_state(scene: Scene, name: str, heights_mm: Array, *, kink_deg: float, relief_mm: float) -> SideState:
    """Draw one state into a scene from its crown heights, frets 1..last [mm]; a ``bolted`` one is without
    strings.
    """
    case, structure, factor = scene.case, scene.structure, scene.exaggeration
    outline, line = structure.outline, fret_line(case)
    x, heel_start = line.x / MM, outline.heel_start / MM
    curve = CubicSpline(x, heights_mm, bc_type="natural")
    move = _Movement(curve, heel_start, outline.joint / MM, outline.corner[1] / MM, factor)
    crown_top = case.fretboard.thickness_mm + case.frets.crown_height_mm
    straight = heights_mm - relief_mm * line.bow()
    shaft, tongue = (
        np.polynomial.Polynomial.fit(x[part], straight[part], 1) for part in (line.shaft, line.tongue)
    )
    ends = np.array([[x[0], x[-1] + 60.0], [x[line.joint - 1] - 60.0, x[-1] + 15.0]])
    lines = [
        np.stack([reach, crown_top + factor * fit(reach)], axis=1)
        for reach, fit in zip(ends, (shaft, tongue), strict=True)
    ]
    crowns = np.stack([x, crown_top + factor * heights_mm], axis=1)
    nut = resultant(string_lines(case), case)[0].nut_height / MM + factor * float(curve(0.0))
    far = np.array([x[line.joint - 1], x[-1]])
    return SideState(
        name=name,
        kink_deg=kink_deg,
        relief_mm=relief_mm,
        crown_mm=crowns,
        neck=move.of(_neck(structure)),
        board=move.of(_board(structure)),
        rod=None if structure.rod is None else move.of(_rod(structure)),
        strings=None if name == "bolted" else _strings(scene, nut, crowns),
        shaft_line=lines[0],
        tongue_line=lines[1],
        over_line_mm=straight - shaft(x),
        tongue_over_line_mm=tongue(far) - shaft(far),
        bolts=_bolts(structure, move, scene.room),
    )


def _points(x: Array, z: Array) -> Array:
    return np.stack(np.broadcast_arrays(x, z), axis=1) / MM


def _neck(structure: Structure) -> Array:
    """Closed outline of the neck wood: glue line, tongue end, tongue underside, heel face, back."""
    o = structure.outline
    glue = np.linspace(0.0, o.tongue_end, 240)
    under = np.linspace(o.tongue_end, o.joint + 1e-9, 60)
    face = np.linspace(-o.tongue_depth, -o.heel_height, 30)
    back = np.linspace(o.joint, 0.0, 400)
    return np.concatenate([
        _points(glue, np.zeros_like(glue)),
        _points(under, np.full_like(under, -o.tongue_depth)),
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


def _shims(
    structure: Structure, angles_deg: tuple[float, float], factor: float
) -> tuple[tuple[Array, Array], tuple[float, float]]:
    """Upper and lower shim, their taper ``factor`` times, and the room that they take [mm]."""
    xj, zc = (value / MM for value in structure.outline.corner)
    shapes, room = [], []
    for pad, angle in zip(structure.pads, angles_deg, strict=True):
        s = np.array([pad.start, pad.end]) / MM
        rise = factor * radians(angle) * (s if pad.face == "heel" else -s)
        thick = SHIM_MM + max(0.0, -float(rise.min()))
        room.append(thick)
        across, along = np.concatenate([rise, [-thick, -thick]]), np.concatenate([s, s[::-1]])
        shapes.append(
            np.stack([xj - across, zc - along], axis=1)
            if pad.face == "heel"
            else np.stack([xj + along, zc + across], axis=1)
        )
    return (shapes[0], shapes[1]), (room[0], room[1])


def _block(structure: Structure, room: tuple[float, float]) -> Array:
    (xj, zc), b = structure.outline.corner, structure.block
    corners = [
        (0.0, 0.0), (b.length, 0.0), (b.length, -b.shelf), (b.stem, -b.shelf), (b.stem, -b.height - zc),
        (0.0, -b.height - zc),
    ]  # fmt: skip
    return np.array([(xj + x, zc + z) for x, z in corners]) / MM + np.array([room[1], -room[0]])


def _bolts(structure: Structure, move: _Movement, room: tuple[float, float]) -> tuple[Array, ...]:
    (xj, zc), b = structure.outline.corner, structure.block
    axes = []
    for bolt in structure.bolts:
        if bolt.face == "heel":
            washer, end = (xj + b.stem, zc - bolt.position), (xj - bolt.insert_length, zc - bolt.position)
        else:
            washer, end = (xj + bolt.position, zc - b.shelf), (xj + bolt.position, zc + bolt.insert_length)
        fixed = np.array(washer) / MM + _along(bolt.face, room)
        axes.append(np.stack([fixed, move.of(np.array([end]) / MM)[0]]))
    return tuple(axes)


def _along(face: str, room: tuple[float, float]) -> Array:
    """How far a washer is drawn along its bolt to sit on the block [mm]."""
    return np.array([room[1], 0.0] if face == "heel" else [0.0, -room[0]])


def _washers(structure: Structure, room: tuple[float, float]) -> tuple[Array, ...]:
    (xj, zc), b = structure.outline.corner, structure.block
    thick, out = 2.0, []
    for bolt in structure.bolts:
        half = 0.5 * bolt.washer_diameter / MM
        if bolt.face == "heel":
            x, z = (xj + b.stem) / MM, (zc - bolt.position) / MM
            corners = [(x, z - half), (x + thick, z - half), (x + thick, z + half), (x, z + half)]
        else:
            x, z = (xj + bolt.position) / MM, (zc - b.shelf) / MM
            corners = [(x - half, z), (x - half, z - thick), (x + half, z - thick), (x + half, z)]
        out.append(np.array(corners) + _along(bolt.face, room))
    return tuple(out)


def _body(case: Case, structure: Structure, at_saddle: Array) -> tuple[Array, Array, Array]:
    """Bridge, saddle and the line of the top from the end of the board: a hint, nothing is computed on
    them.
    """
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

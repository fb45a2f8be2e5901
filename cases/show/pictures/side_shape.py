"""Geometry of the side view [mm]: shapes from the case, displacements from the answer's frets."""

from dataclasses import dataclass
from math import radians, tan

import numpy as np
from scipy.interpolate import CubicSpline

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.build import MM, fret_line, resultant, string_lines, structure_of
from fem.geometry.outline import Array
from fem.geometry.pad import Pad, face_of
from fem.geometry.structure import Structure

LARGEST_MOVE_MM = 26.0
"""Largest exaggerated displacement [mm]."""
FACTORS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Exaggerations to choose from."""
SHIM_MM = 2.5
"""Smallest drawn thickness of a shim [mm], so that it stays visible."""
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
        """Height of the last crown above the shaft line, bow removed [mm]."""
        return float(self.over_line_mm[-1])


@dataclass(frozen=True)
class Scene:
    """Fixed parts of a drawing; part lengths are true, ``exaggeration`` multiplies movements and shim taper.

    ``room`` is the block's shift that makes room for the shims, (2,) [mm].
    """

    case: Case
    structure: Structure
    exaggeration: float
    shim_deg: tuple[float, ...]
    shims: tuple[Array, ...]
    room: Array
    saddle_height_mm: float


@dataclass(frozen=True)
class SideView(Scene):
    """Geometry of the side view [mm], x from the nut, z up from the glue line.

    Arrays are (n, 2) points; ``rest_neck`` and ``rest_board`` are undeformed; bridge, saddle and top only
    hint at the body.
    """

    headline: str
    strings_n: float
    frets: tuple[int, ...]
    fret_x_mm: Array
    joint: int
    numbered: tuple[int, ...]
    off: SideState
    on: SideState
    rest_neck: Array
    rest_board: Array
    block: Array
    shim_names: tuple[str, ...]
    washers: tuple[Array, ...]
    bridge: Array
    saddle: Array
    top: Array


@dataclass(frozen=True)
class _Movement:
    """Displacement of the neck by a smooth curve through the heights of its crowns."""

    curve: CubicSpline
    heel_start: float
    joint: float
    corner: float
    exaggeration: float

    def of(self, points: Array) -> Array:
        """Displaced points; below the corner the heel turns as one piece with its start."""
        x, z = points[:, 0], points[:, 1]
        slope = self.curve(x, 1)
        heel = float(self.curve(self.heel_start, 1))
        below = np.where(
            (x > self.heel_start) & (x <= self.joint + 1e-9), np.minimum(z - self.corner, 0.0), 0.0
        )
        aside = -slope * (z - below) - heel * below
        return points + self.exaggeration * np.stack([aside, self.curve(x)], axis=1)


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
    factor = exaggeration_for(*heights.values()) if exaggeration is None else exaggeration
    structure, joint, angles = structure_of(case), case.instrument.body_joint_fret, _shim_angles(answer)
    shims, room = _shims(structure, angles, factor)
    scene = Scene(case, structure, factor, angles, shims, room, answer.saddle_height_mm)
    off, on = (
        side_state(
            scene, name, z, kink_deg=answer.states[name].kink_deg, relief_mm=answer.states[name].relief_mm
        )
        for name, z in heights.items()
    )
    assert on.strings is not None
    bridge, saddle, top = _body(case, structure, on.strings[1])
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
        rest_neck=_neck(structure),
        rest_board=_board(structure),
        block=_block(structure, room),
        shim_names=tuple(pad.name for pad in _tapered(structure)),
        washers=tuple(washer for _, _, washer in _fastenings(structure, room)),
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


def side_state(scene: Scene, name: str, heights_mm: Array, *, kink_deg: float, relief_mm: float) -> SideState:
    """One state from its crown heights, frets 1 to last [mm]; a ``bolted`` one is without strings."""
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
        bolts=tuple(
            np.stack([washer, move.of(end[None])[0]]) for washer, end, _ in _fastenings(structure, scene.room)
        ),
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


def _tapered(structure: Structure) -> tuple[Pad, ...]:
    """The pads that are shims; a bare wood contact has no thickness."""
    return tuple(pad for pad in structure.pads if pad.middle > 0.0)


def _shims(
    structure: Structure, angles_deg: tuple[float, ...], factor: float
) -> tuple[tuple[Array, ...], Array]:
    """The shims with exaggerated taper, and the shift of the block that makes room for them [mm]."""
    shapes, room = [], np.zeros(2)
    for pad, angle in zip(_tapered(structure), angles_deg, strict=True):
        face = face_of(structure.outline, pad.face)
        s = np.array([pad.start, pad.end])
        # a positive angle is thick at the heel cap, under the tongue towards the nut
        rise = factor * radians(angle) * (s - pad.pivot) / MM * (1.0 if pad.face == "heel" else -1.0)
        thick = SHIM_MM + max(0.0, -float(rise.min()))
        room = np.maximum(np.abs(room), thick * np.abs(face.normal)) * (1.0, -1.0)
        on_face, normal = face.points(s).T / MM, np.array(face.normal)
        far = on_face - thick * normal
        shapes.append(np.concatenate([on_face + rise[:, None] * normal, far[::-1]]))
    return tuple(shapes), room


def _block(structure: Structure, room: Array) -> Array:
    (xj, zc), b = structure.outline.corner, structure.block
    end, low = structure.outline.tongue_end - xj, -b.height - zc
    corners = [
        (0.0, 0.0), (end, 0.0), (end, b.wall), (b.length, b.wall if b.wall > 0.0 else 0.0),
        (b.length, -b.shelf), (b.stem, -b.shelf), (b.stem, low), (0.0, low),
    ]  # fmt: skip
    return np.array([(xj + x, zc + z) for x, z in corners]) / MM + room


def _fastenings(structure: Structure, room: Array) -> list[tuple[Array, Array, Array]]:
    """Middle of the washer, end of the insert and outline of the washer of each bolt [mm].

    A bolt at an angle leaves the block aside of its position.
    """
    found, b, thick = [], structure.block, 2.0
    for bolt in structure.bolts:
        face = face_of(structure.outline, bolt.face)
        along, normal = np.array(face.along), np.array(face.normal)
        at = face.points(np.array([bolt.position]))[:, 0]
        grip = b.stem if bolt.face == "heel" else b.shelf
        middle = (at - grip * normal + grip * tan(bolt.angle) * along) / MM + room * np.abs(normal)
        across, deep = 0.5 * bolt.washer_diameter * along / MM, thick * normal
        washer = np.array([middle - across, middle + across, middle + across - deep, middle - across - deep])
        found.append((middle, (at + bolt.insert_length * normal) / MM, washer))
    return found


def _body(case: Case, structure: Structure, at_saddle: Array) -> tuple[Array, Array, Array]:
    """Bridge, saddle and the top from the end of the board; for orientation only."""
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

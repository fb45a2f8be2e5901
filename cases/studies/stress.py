"""Stress in heel, tongue, fretboard and block at pitch, and pressure on the shims."""

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from cases.casefile.schema.instrument import Fretboard, Neck
from cases.casefile.schema.joint import Block
from cases.offset.build import MM
from cases.offset.joint_bearing import row_slices
from cases.offset.solve import Solved
from cases.offset.woods import weaker_compression, wood_of
from fem.geometry.outline import Array
from fem.geometry.pad import face_of
from fem.geometry.structure import Structure
from fem.joint.shim_layer import PadPoints
from fem.members.held_strain import block_moduli
from fem.members.plate import Plate, strains
from fem.solve.assembly import neck_moduli
from fem.solve.offset import Pair

CLEAR_MM = 6.0
"""Distance from sharp corners, pad ends, bolts and tie within which no largest stress is reported [mm]: there
the stress grows with mesh refinement, or depends on how a load is spread.
"""


@dataclass(frozen=True)
class PartStress:
    """Stress in one piece of wood, at the corners of its elements.

    Attributes
    ----------
    name, wood : the part, and its wood's name.
    corner_mm : (2, n) positions x, z [mm].
    cells : (4, k) corner numbers of the elements, in order.
    xx_mpa, zz_mpa, xz_mpa : (n,) stresses, mean of the part's elements that meet there [MPa].
    grain : angle of the grain from x towards z [rad]; None for grain across the body, normal to the plane.
    across_limit_mpa : the wood's tensile strength across the grain [MPa], None if unknown.
    clear : (n,) True where a stress may be reported (`CLEAR_MM`).
    """

    name: str
    wood: str
    corner_mm: Array
    cells: NDArray[np.int64]
    xx_mpa: Array
    zz_mpa: Array
    xz_mpa: Array
    grain: float | None
    across_limit_mpa: float | None
    clear: NDArray[np.bool_]

    def principal_mpa(self) -> tuple[Array, Array, Array]:
        """Principal stresses, larger first [MPa]; direction of the larger from x to z [rad]; each (n,)."""
        middle, half = 0.5 * (self.xx_mpa + self.zz_mpa), 0.5 * (self.xx_mpa - self.zz_mpa)
        radius = np.hypot(half, self.xz_mpa)
        return middle + radius, middle - radius, 0.5 * np.arctan2(self.xz_mpa, half)

    def across_mpa(self) -> Array:
        """Normal stress across the grain, (n,) [MPa]; the larger principal one if `grain` is None."""
        if self.grain is None:
            return self.principal_mpa()[0]
        x, z = -sin(self.grain), cos(self.grain)
        return x * x * self.xx_mpa + z * z * self.zz_mpa + 2.0 * x * z * self.xz_mpa

    def utilisation(self) -> Array | None:
        """Tension across the grain over its limit, (n,), zero under compression; None without a limit."""
        if self.across_limit_mpa is None:
            return None
        return np.maximum(self.across_mpa(), 0.0) / self.across_limit_mpa


@dataclass(frozen=True)
class PadPressure:
    """Pressure along one seat [MPa], bolted up and at pitch, by distance along its face [mm]."""

    name: str
    face: str
    s_mm: Array
    bolted_mpa: Array
    strung_mpa: Array


@dataclass(frozen=True)
class StressMap:
    """Stress in heel, tongue, fretboard over the joint and block, and pressure on the shims, at pitch.

    ``worst_part``, ``worst_at_mm`` and ``worst_utilisation`` describe the largest tension across the grain
    over its limit, outside the distance `CLEAR_MM`; None if no wood has a limit. ``strength_mpa`` is the
    weaker wood's compressive strength across the grain.
    """

    case: str
    parts: tuple[PartStress, ...]
    pads: tuple[PadPressure, ...]
    strength_mpa: float
    clear_mm: float
    worst_part: str | None
    worst_at_mm: tuple[float, float] | None
    worst_utilisation: float | None


def stress_map(solved: Solved) -> StressMap:
    """Stress of a solved case at pitch."""
    parts = _parts(solved)
    worst, where, utilisation = _worst(parts)
    return StressMap(
        case=solved.case.name,
        parts=tuple(parts),
        pads=pad_pressures(solved.structure, solved.question.flexibility.points, solved.pair),
        strength_mpa=weaker_compression(solved.case) / 1e6,
        clear_mm=CLEAR_MM,
        worst_part=worst,
        worst_at_mm=where,
        worst_utilisation=utilisation,
    )


def _parts(solved: Solved) -> list[PartStress]:
    body, structure, case = solved.fields.bodies, solved.structure, solved.case
    displaced = solved.fields.displacement(solved.pair.strung.forces)[body.line.size :]
    of_neck, of_block = displaced[: 2 * body.neck.size], displaced[2 * body.neck.size :]
    moduli = neck_moduli(structure, body)

    def part(
        name: str, table: Neck | Fretboard | Block, cells: NDArray[np.int64], grain: float | None
    ) -> PartStress:
        block = name == "block"
        plate, moved = (body.block, of_block) if block else (body.neck, of_neck)
        middle = plate.mesh.p[0, plate.mesh.t[:, cells]].mean(axis=0)
        of_cells = block_moduli(structure, middle) if block else moduli[cells]
        _, corner, local = corners(plate, cells)
        xx, zz, xz = corner_stress(plate, moved, moduli=of_cells, cells=cells) / 1e6
        limit = wood_of(case, table).tension_across
        across = None if limit is None else limit / 1e6
        clear = is_clear(structure, corner)
        return PartStress(name, table.wood, corner / MM, local, xx, zz, xz, grain, across, clear)

    along = radians(case.neck.grain_runout_deg)
    upright = {"vertical": np.pi / 2.0, "lengthwise": 0.0, "across": None}[case.block.grain]
    return [
        part("heel", case.neck, body.parts["heel"], along),
        part("tongue", case.neck, body.parts["tongue"], along),
        part("fretboard", case.fretboard, body.parts["board"], 0.0),
        part("block", case.block, np.arange(body.block.mesh.t.shape[1]), upright),
    ]


def corners(plate: Plate, cells: NDArray[np.int64]) -> tuple[NDArray[np.int64], Array, NDArray[np.int64]]:
    """Corners of some elements: numbers in the mesh, positions (2, n) [m], elements over them (4, k)."""
    used, local = np.unique(plate.mesh.t[:, cells], return_inverse=True)
    return used, plate.mesh.p[:, used], local.reshape(4, len(cells))


def corner_stress(plate: Plate, displaced: Array, *, moduli: Array, cells: NDArray[np.int64]) -> Array:
    """Stress at the corners of some elements, (3, n) xx, zz, xz [Pa].

    A bilinear stress is fitted to the quadrature points of each element, where stresses are most accurate; a
    corner has the mean of the elements that meet there. ``displaced`` is (2 size,) [m], ``moduli`` the
    plane-stress stiffness (3, 3) or (cells, 3, 3) [Pa], ``cells`` the elements of one material.
    """
    at = strains(plate, cells)
    each = np.broadcast_to(moduli, (len(cells), 3, 3))
    stress = np.einsum("cij,cpjk,ck->cpi", each, at.rows, displaced[at.unknowns])
    reference = np.asarray(plate.basis.X)
    xi, eta = reference[0], reference[1]
    bilinear = np.stack([np.ones_like(xi), xi, eta, xi * eta], axis=1)
    ends = np.array([[1.0, x, z, x * z] for x, z in ((0, 0), (1, 0), (1, 1), (0, 1))])
    at_ends = np.einsum("qp,cpi->cqi", ends @ np.linalg.pinv(bilinear), stress)
    used, _, local = corners(plate, cells)
    number, count = local.T.ravel(), np.bincount(local.ravel(), minlength=len(used))
    total = [np.bincount(number, at_ends[..., one].ravel(), minlength=len(used)) for one in range(3)]
    return np.stack(total) / count


def is_clear(structure: Structure, at: Array) -> NDArray[np.bool_]:
    """Whether points (2, n) [m] are `CLEAR_MM` away from corners, pad ends, washers, inserts and tie."""
    outline, block, far = structure.outline, structure.block, CLEAR_MM * MM
    xj, zc = outline.corner
    sharp = [(xj, zc), (xj + block.stem, zc - block.shelf), (outline.tongue_end, 0.0)]
    for pad in structure.pads:
        ends = face_of(outline, pad.face).points(np.array([pad.start, pad.end]))
        sharp += [(float(x), float(z)) for x, z in ends.T]
    clear = at[0] > outline.tie + far
    for x, z in sharp:
        clear &= np.hypot(at[0] - x, at[1] - z) > far
    for bolt in structure.bolts:
        face = face_of(outline, bolt.face)
        from_axis = at - face.points(np.array([bolt.position]))
        into_neck, across = np.array(face.normal) @ from_axis, np.abs(np.array(face.along) @ from_axis)
        grip = block.stem if bolt.face == "heel" else block.shelf
        in_insert = (into_neck > -1e-9) & (into_neck < bolt.insert_length + far)
        in_insert &= across < 0.5 * bolt.insert_diameter + far
        under_washer = (np.abs(into_neck + grip) < far) & (across < 0.5 * bolt.washer_diameter + far)
        clear &= ~(in_insert | under_washer)
    return np.asarray(clear)


def pad_pressures(structure: Structure, points: tuple[PadPoints, ...], at: Pair) -> tuple[PadPressure, ...]:
    """Pressure along each shim in both states of a pair: force over area at every point of contact."""
    found = []
    for pad, here, span in zip(structure.pads, points, row_slices(points), strict=True):
        order = np.argsort(here.s)
        bolted, strung = (
            (here.of_points(state.contact.push[span]).sum(axis=1) / here.area)[order] / 1e6
            for state in (at.bolted, at.strung)
        )
        found.append(PadPressure(pad.name, pad.face, here.s[order] / MM, bolted, strung))
    return tuple(found)


def _worst(parts: list[PartStress]) -> tuple[str, tuple[float, float], float] | tuple[None, None, None]:
    found = []
    for part in parts:
        utilisation = part.utilisation()
        if utilisation is not None and part.clear.any():
            at = int(np.argmax(np.where(part.clear, utilisation, -1.0)))
            x, z = part.corner_mm[:, at].tolist()
            found.append((part.name, (x, z), float(utilisation[at])))
    return max(found, key=lambda one: one[2], default=(None, None, None))

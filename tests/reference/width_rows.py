"""A study, not part of the model: the joint with rows of contact points across its width.

The model takes a pad's pressure as uniform across the pad and leaves out that bolts pinch the middle. Here each
pad point becomes M rows across the half width, every row with its own opening and slip. Waves across the width
(`fem.joint.local_indentation`) join the rows, in the block and in the neck; an insert in the neck and a washer
on the block load the rows by the same waves, decayed over their depth. With M = 1 the model comes back.

    python -m tests.reference.width_rows
"""

from dataclasses import dataclass, replace
from unittest import mock

import numpy as np
import scipy.special as special
from fem.joint.local_indentation import FaceCompliance, HalfPlane, half_plane

from fem.geometry.hardware import Bolt
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.joint import local_indentation
from fem.joint.shim_layer import PadPoints
from fem.members.plate import stiffness
from fem.solve import assembly
from fem.solve.assembly import Bodies, Piece
from fem.solve.condensation import condense
from fem.solve.flexibility import Flexibility
from materials.orientation import _lengthwise_axes, ring_angle, rotated_compliance
from tests.reference.by_plate import _bearing, contact_states, fret_line
from tests.reference.instruments import Instrument, inputs, instrument
from tests.reference.solid_rows import of_contact
from tests.reference.solid_run import states, stored

WAVES = 48
SEEN = (0, 2, 4)
"""Directions of the side view among xx, yy, zz, yz, xz, xy; 1 is across."""


@dataclass(frozen=True)
class Side:
    """One side of a pad, neck or block: its width at each point (n,) [m] and its compliances."""

    width: Array
    plane: HalfPlane
    pressure: FaceCompliance
    shear: FaceCompliance

    def kernel(self, face: FaceCompliance, wave: int, at: PadPoints, length: Array) -> Array:
        """Displacement at each point under a force at each other in a wave across, (n, n) [m/N]."""
        width = np.sqrt(np.outer(self.width, self.width))
        ends = local_indentation._cells(at.s, length)
        bounds = np.stack([ends[None, :-1] - at.s[:, None], ends[None, 1:] - at.s[:, None]])
        bounds = bounds * face.along / face.across * 2.0 * np.pi * wave / width
        integral = np.sign(bounds) * special.iti0k0(np.abs(bounds))[1]
        found = face.along / np.pi * (integral[1] - integral[0]) / (bounds[1] - bounds[0])
        if face.shelf[wave - 1] > 0.0:
            mean = 2.0 * np.pi * wave / np.mean(self.width)
            found = found + face.shelf[wave - 1] * mean**3 * self.strip(mean, at.s, at.s, face)
        return np.asarray((found + found.T) / width)

    @staticmethod
    def strip(wave: float, s: Array, other: Array, face: FaceCompliance) -> Array:
        """Green's function of a thin part bending across the width, (n, m) [m3]."""
        whole = local_indentation._strip(np.array([wave]), np.concatenate([s, other]), face.root)[0]
        return np.asarray(whole[: len(s), len(s) :])


def across(width: Array, rows: int) -> tuple[Array, Array]:
    """Distance of the rows from the middle, and the width of each, (n, rows) and (n, 1) [m]."""
    each = width[:, None] / (2 * rows)
    return (np.arange(rows) + 0.5) * each, each


def cosines(wave: int, side: Side, width: Array, rows: int) -> Array:
    """Mean of a wave over each row, (n, rows)."""
    y, each = across(width, rows)
    number = 2.0 * np.pi * wave / side.width[:, None]
    return np.asarray(np.cos(number * y) * np.sinc(number * each / (2.0 * np.pi)))


def sides_of(one: Instrument, face: str, width: Array) -> tuple[Side, Side]:
    """Block and neck under a pad whose width at its points is given (n,) [m]."""
    outline, block = one.structure.outline, one.structure.block
    into, along = (2, 0) if face == "tongue" else (0, 2)
    solid = one.structure.block_wood.solid
    assert solid is not None
    number = 2.0 * np.pi * np.arange(1, WAVES + 1)
    of_block = local_indentation._of_face(outline, block, face, solid, number / block.width)
    neck = rotated_compliance(one.neck, _lengthwise_axes(ring_angle(one.cut), 0.0))
    wide, deep = half_plane(neck, into=into, along=1), half_plane(neck, into=into, along=along)
    # the tongue with its board is a thin part, clamped where the heel begins; the heel is deep
    thick = outline.tongue_depth + outline.board_thickness if face == "tongue" else 1.0
    shelf = np.array([wide.layer(k * thick) for k in number / np.mean(width)]) - wide.under_pressure
    twist = float(np.sqrt(neck[6 - into - along, 6 - into - along] * neck[5 - along, 5 - along]))
    root = 0.0 if face == "tongue" else None
    none = np.zeros(WAVES)
    return (
        Side(np.full_like(width, block.width), half_plane(solid, into=into, along=1), *of_block),
        Side(
            width,
            wide,
            FaceCompliance(wide.under_pressure, deep.under_pressure, shelf, root),
            FaceCompliance(twist, deep.under_shear, none, None),
        ),
    )


def decay(plane: HalfPlane) -> tuple[Array, Array]:
    """Decay rates of a wave of pressure into the wood, and the parts of the displacement that have them.

    The stress function is ``(r2 exp(-r1 n) - r1 exp(-r2 n)) / (r2 - r1)``; the displacement at a depth under a
    load on the face is, by reciprocity, that of the face under the load at that depth.
    """
    apart = np.sqrt(complex(plane.total**2 - 4.0 * plane.product))
    one, two = 0.5 * (plane.total - apart), 0.5 * (plane.total + apart)
    parts = np.array(
        [
            plane.into * two / one - plane.between * one * two,
            plane.between * one * two - plane.into * one / two,
        ]
    )
    return np.array([one, two]), parts / parts.sum()


def through(plane: HalfPlane, depth: float) -> float:
    """Displacement of a face under a wave of pressure on the opposite face of a layer [1/Pa]."""
    if depth > 12.0:
        return 0.0
    rates, _ = decay(plane)
    fade = np.exp(-rates * depth)
    system = np.array(
        [[1.0, 1.0, *fade], [*-rates, *(rates * fade)], [*fade, 1.0, 1.0], [*(-rates * fade), *rates]]
    )
    parts = np.linalg.solve(system, np.array([0.0, 0.0, 1.0, 0.0]))
    third = np.concatenate([-(rates**3), rates**3 * fade])
    return float(abs(np.real(plane.along * third @ parts)))


def disc(radius: float) -> tuple[Array, Array, Array]:
    """Offsets along the face, weights and half chords of a disc seen from the side [m]."""
    nodes, weights = np.polynomial.legendre.leggauss(8)
    chord = np.sqrt(1.0 - nodes**2)
    return radius * nodes, weights * chord / np.sum(weights * chord), radius * chord


def insert_column(bolt: Bolt, side: Side, at: PadPoints, width: Array, rows: int) -> Array:
    """Opening of each row per bolt force, from the insert in the neck, (n * rows,) [m/N]."""
    here = float(np.interp(bolt.position, at.s, side.width))
    both = np.sqrt(here * side.width)
    depths, shares = np.polynomial.legendre.leggauss(4)
    rates, parts = decay(side.plane)
    face, found = side.pressure, np.zeros((len(at.s), rows))
    for wave in range(1, WAVES + 1):
        number = 2.0 * np.pi * wave
        kernel = np.zeros(len(at.s))
        for offset, weight, chord in zip(*disc(0.5 * bolt.insert_diameter), strict=True):
            mean = weight * np.sinc(number / here * chord / np.pi)
            along = face.along / face.across * (at.s - bolt.position - offset)
            for depth, share in zip(0.5 * bolt.insert_length * (1.0 + depths), 0.5 * shares, strict=True):
                far = np.sqrt(along[:, None] ** 2 + (rates * depth) ** 2)
                value = special.kv(0, number / both[:, None] * far) @ parts
                kernel += mean * share * face.along / np.pi * np.real(value)
        if face.shelf[wave - 1] > 0.0:
            one = number / np.mean(side.width)
            bent = side.strip(one, at.s, np.array([bolt.position]), face)[:, 0]
            mean = float(np.sinc(0.4 * number / here * bolt.insert_diameter / np.pi))
            kernel += face.shelf[wave - 1] * one**3 * bent * mean
        found += 2.0 / both[:, None] * cosines(wave, side, width, rows) * kernel[:, None]
    return found.ravel()


def washer_column(bolt: Bolt, side: Side, deep: float, at: PadPoints, width: Array, rows: int) -> Array:
    """The same from the washer on the block's back, ``deep`` below the face [m]."""
    face, found = side.pressure, np.zeros((len(at.s), rows))
    for wave in range(1, WAVES + 1):
        number = 2.0 * np.pi * wave / side.width[0]
        whole = through(side.plane, number * deep)
        bending = face.shelf[wave - 1] if face.root is not None else 0.0
        kernel = np.zeros(len(at.s))
        for offset, weight, chord in zip(*disc(0.5 * bolt.washer_diameter), strict=True):
            mean = weight * np.sinc(number * chord / np.pi)
            along = face.along / face.across * (at.s - bolt.position - offset)
            straight = max(whole - bending, 0.0) / (face.across * np.exp(-number * deep))
            far = np.sqrt(along**2 + deep**2)
            kernel += mean * straight * face.along / np.pi * special.kv(0, number * far)
            if bending > 0.0:
                place = np.array([bolt.position + offset])
                kernel += mean * bending * number**3 * side.strip(number, at.s, place, face)[:, 0]
        found += 2.0 / side.width[0] * cosines(wave, side, width, rows) * kernel[:, None]
    return found.ravel()


def local(one: Instrument, flexibility: Flexibility, rows: int, *, pinch: bool) -> Array:
    """Compliance that the plates leave out, over all rows: openings, slips, then what else is loaded or read."""
    structure, points = one.structure, flexibility.points
    count = rows * sum(len(at.s) for at in points)
    other = 2 * sum(len(at.s) for at in points)
    found = np.zeros((flexibility.size - other + 2 * count,) * 2)
    first = 0
    for pad, at in zip(structure.pads, points, strict=True):
        width = _bearing(structure, pad, at.s)
        block, neck = sides_of(one, pad.face, width)
        here = np.arange(first, first + rows * len(at.s))
        first += len(here)
        for side in (block, neck) if rows > 1 else (block,):
            for begin, face in ((0, side.pressure), (count, side.shear)):
                for wave in range(1, WAVES + 1):
                    wide = cosines(wave, side, width, rows).ravel()
                    kernel = side.kernel(face, wave, at, at.area / width)
                    many = np.repeat(np.repeat(kernel, rows, 0), rows, 1)
                    found[np.ix_(here + begin, here + begin)] += np.outer(wide, wide) * many
        deep = structure.block.stem if pad.face == "heel" else structure.block.shelf
        for number, bolt in enumerate(structure.bolts):
            if pinch and rows > 1 and bolt.face == pad.face:
                row = flexibility.at["bolt"][number] - other + 2 * count
                column = insert_column(bolt, neck, at, width, rows)
                column += washer_column(bolt, block, deep, at, width, rows)
                found[here, row] += column
                found[row, here] += column
    return found


def widened(one: Instrument, rows: int, *, pinch: bool = True, held_shelf: bool = False) -> Flexibility:
    """Flexibility of an instrument with rows across its width."""
    plain = _without_indentation(one.structure, held_shelf=held_shelf)
    points = sum(len(at.s) for at in plain.points)
    count, rest = rows * points, plain.size - 2 * points
    spread = np.zeros((2 * count + rest, plain.size))
    spread[np.arange(2 * count), np.repeat(np.arange(2 * points), rows)] = 1.0
    spread[2 * count :, 2 * points :] = np.eye(rest)
    compliance = local(one, plain, rows, pinch=pinch)
    ground = spread @ plain.reference / rows
    ground[2 * count :] = 0.0
    # plate rows r = C (E^T f + k r) and rows o = E r + Y f together, with springs k' at the new rows instead
    size = plain.size
    system = np.block(
        [
            [np.eye(size) - plain.matrix * plain.reference, -plain.matrix @ spread.T],
            [ground[:, None] * spread, np.eye(len(ground)) + ground[:, None] * compliance],
        ]
    )
    loads = np.concatenate([np.zeros((size, len(ground))), np.eye(len(ground))])
    found = np.linalg.solve(system, loads)
    matrix = spread @ found[:size] + compliance @ found[size:]
    at = {name: place + 2 * (count - points) for name, place in plain.at.items()}
    at |= {"opening": np.arange(count), "slip": count + np.arange(count)}
    return replace(
        plain,
        matrix=0.5 * (matrix + matrix.T),
        at=at,
        reference=ground,
        points=tuple(PadPoints(np.repeat(p.s, rows), np.repeat(p.area, rows) / rows) for p in plain.points),
        rigid=spread @ plain.rigid,
    )


def _without_indentation(structure: Structure, *, held_shelf: bool) -> Flexibility:
    """The plates' flexibility alone; a held shelf has no strain across beyond the stem, the most it can have."""
    pieces = assembly._block_pieces

    def held(bare: Structure, body: Bodies) -> dict[str, Piece]:
        found = pieces(bare, body)
        if not held_shelf:
            return found
        solid = structure.block_wood.solid
        assert solid is not None
        plane = solid[np.ix_(SEEN, SEEN)]
        strained = plane - np.outer(solid[SEEN, 1], solid[1, SEEN]) / solid[1, 1]
        cells = body.block.mesh.t
        middle = body.block.mesh.p[0, cells].mean(axis=0)
        beyond = middle > structure.outline.joint + structure.block.stem
        moduli = np.where(beyond[:, None, None], np.linalg.inv(strained), np.linalg.inv(plane))
        matrix = stiffness(
            body.block,
            thickness=lambda x, z: np.full_like(x, structure.block.width),
            moduli=moduli,
            cells=np.arange(cells.shape[1]),
        )
        return found | {"block": Piece(found["block"].first, matrix)}

    bare = replace(structure, block_wood=replace(structure.block_wood, solid=None))
    with (
        mock.patch.object(assembly, "bearing", _bearing),
        mock.patch.object(assembly, "_block_pieces", held),
    ):
        return condense(bare, MeshSize())[0]


def readings(one: Instrument, flexibility: Flexibility, *, friction: float) -> dict[str, float]:
    """Readings of the bolted joint."""
    return of_contact(fret_line(one.structure), contact_states(one, flexibility, friction=friction))


def main() -> None:
    """Print heel stretch and shim transfer against the solid's, bolts as they are."""
    line = "{:16} {:11} {:>11}  stretch {:.4f} deg ({:+.4f})  transfer {:.4f} ({:+.1f} %)"
    for name in inputs()["geometries"]:
        for cut in inputs()["cuts"]:
            one = instrument(name, cut)
            for what, rows, held in (("model", 1, False), ("four rows", 4, False), ("and shelf", 4, True)):
                found = widened(one, rows, held_shelf=held)
                for variant, friction in (("contact", 0.0), ("friction", float(inputs()["friction"]))):
                    kept = states(stored()["runs"][f"{name} {cut}"][variant]["fine"])
                    solid = of_contact(fret_line(one.structure), kept)
                    ours = readings(one, found, friction=friction)
                    stretch, transfer = ours["heel_stretch"], ours["shim_transfer"]
                    more = 100.0 * (transfer / solid["shim_transfer"] - 1.0)
                    apart = stretch - solid["heel_stretch"]
                    print(
                        line.format(f"{name} {cut}", variant, what, stretch, apart, transfer, more),
                        flush=True,
                    )


if __name__ == "__main__":
    main()

"""Input deck of the outside program for one instrument bolted with contact: bolts, then strings."""

import numpy as np

from fem.geometry.hardware import Bolt
from fem.geometry.pad import Pad
from fem.joint.shim_layer import taper
from tests.reference.hexahedron import FACES, weights_at
from tests.reference.instruments import Instrument
from tests.reference.solid_deck import (
    BLOCK_AXES,
    MEGA,
    Deck,
    begin,
    hold_block,
    middle_lines,
    nut_section,
    pad_faces,
    pull_lines,
    read_nodes,
    wood_lines,
)
from tests.reference.solid_mesh import MM, Array, Body, Fineness, Lines, block, lines_of

LIFT = 0.02
"""Reach of both shims into the neck's place [mm]: it moves the neck as a whole, and lets contact begin closed."""
FRICTIONLESS = 1e-6
"""Friction coefficient of a joint that seats: none, but slip is followed."""


def contact_deck(
    one: Instrument, fine: Fineness, *, shim_deg: float, friction: float = 0.0, even: bool = False
) -> tuple[str, list[int]]:
    """Neck, layers and block: bolts in the first step, strings in the second; the nodes read, nut first.

    Friction holds in the second step alone: the joint seats without, as in the program's own two steps.
    With `even` the bolts pull alike over the whole width of neck and block at their height.
    """
    lines = lines_of(one.structure, fine)
    deck, wood, top = begin(one, lines)
    slope = float(np.radians(shim_deg))
    stem = block(one.structure, lines, reach=(LIFT, slope))
    deck.add(stem)
    deck.lines += wood_lines("BLOCK", one.block, BLOCK_AXES)
    grip: list[str] = []
    for pad, angle in zip(one.structure.pads, (0.0, slope), strict=True):
        grip += _meet(deck, stem, pad, lines, angle=angle, friction=friction)
    place, turn = nut_section(deck, (wood, top))
    middle_lines(deck, [wood, top, stem])
    hold_block(deck, stem, one)
    read = read_nodes(deck, one, top, lines, place)
    bolts = _bolts(deck, one, wood, stem, even=even)
    printed = ["*NODE PRINT, NSET=READ", "U", "*END STEP"]
    deck.lines += ["*STEP, INC=200", "*STATIC", "1., 1.", *bolts, *printed]
    deck.lines += ["*STEP, INC=200", "*STATIC", "1., 1.", *pull_lines(place, turn, one), *printed, ""]
    second = len(deck.lines) - 1 - deck.lines[::-1].index("*STATIC")
    deck.lines[second:second] = grip
    return "\n".join(deck.lines), read


def _meet(deck: Deck, stem: Body, pad: Pad, lines: Lines, *, angle: float, friction: float) -> list[str]:
    """Contact of a pad, row by row, since the layer's thickness and so its stiffness changes along a taper;
    returned: what gives it friction in a later step.
    """
    grip: list[str] = []
    name = {"tongue": "UPPER", "heel": "LOWER"}[pad.face]
    side, other = {"UPPER": ("z-", "z+"), "LOWER": ("x+", "x-")}[name]
    high = max(k for _, _, k in stem.cells)
    corner = [c for c in stem.cells if (c[2] == high if name == "UPPER" else c[0] == 0)]
    deck.lines.append(f"*SURFACE, NAME=SEAT{name}")
    deck.lines += [f"{deck.element['BLOCK', c]}, S{FACES[other]}" for c in corner]
    grid = lines.along if name == "UPPER" else lines.down
    faces = pad_faces(pad, lines)
    rows = [faces[i : i + lines.across] for i in range(0, len(faces), lines.across)]
    first = int(np.argmin(np.abs(grid - pad.start * MM)))
    for m, row in enumerate(rows):
        s = 0.5 * (grid[first + m] + grid[first + m + 1]) / MM
        # interference is in the mesh, thickness in the law
        thick = float(taper(pad, np.array([s, pad.start, pad.end]), angle)[1][0])
        stiff = MEGA / MM / (thick / pad.young + pad.compliance)
        slide = MEGA / MM / (thick / pad.shear + pad.compliance)
        deck.lines += [f"*SURFACE, NAME={name}{m}"]
        deck.lines += [f"{deck.element['NECK', c]}, S{FACES[side]}" for c in row]
        deck.lines += [
            f"*SURFACE INTERACTION, NAME=LAW{name}{m}",
            "*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR",
            f"{stiff:.9e}",
            *(["*FRICTION", f"{FRICTIONLESS}, {slide:.9e}"] if friction else []),
            f"*CONTACT PAIR, INTERACTION=LAW{name}{m}, TYPE=SURFACE TO SURFACE",
            f"{name}{m}, SEAT{name}",
        ]
        if friction:
            law = f"*CHANGE FRICTION, INTERACTION=LAW{name}{m}"
            grip += [law, "*FRICTION", f"{friction}, {slide:.9e}"]
    return grip


def _bolts(deck: Deck, one: Instrument, wood: Body, stem: Body, *, even: bool) -> list[str]:
    """Constant bolt forces: spread over the insert's body in the neck, over the washer's disc on the block."""
    lines = ["*CLOAD"]
    for bolt in one.structure.bolts:
        pull = np.array([bolt.pull[0], 0.0, bolt.pull[1]])
        insert, washer = _footprints(bolt, one, even=even)
        for body, (places, weights), force in ((wood, insert, 0.5), (stem, washer, -0.5)):
            cells = np.asarray(list(body.cells.values()))
            total: dict[int, float] = {}
            for place, share in zip(places, weights / weights.sum(), strict=True):
                nodes, parts = weights_at(body.points, cells, place)
                for n, part in zip(nodes, parts, strict=True):
                    total[int(n)] = total.get(int(n), 0.0) + share * part
            for n, part in total.items():
                for axis in (0, 2):
                    value = force * bolt.tension * part * pull[axis]
                    if value != 0.0:
                        lines.append(f"{deck.of(body, n)}, {axis + 1}, {value:.9e}")
    return lines


def _footprints(
    bolt: Bolt, one: Instrument, *, even: bool
) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Points (n, 3) [mm] and weights of the half insert (a cylinder) and the half washer (a disc); `even`: as
    seen from the side, but drawn out over the half width of neck and block.
    """
    o, shape = one.structure.outline, one.structure.block
    xj, zc, s = o.joint * MM, -o.tongue_depth * MM, bolt.position * MM
    u, wu = np.polynomial.legendre.leggauss(6)
    v, wv = np.polynomial.legendre.leggauss(4)
    side, across = np.meshgrid(u, 0.5 * (1.0 + v), indexing="ij")
    chord = np.sqrt(1.0 - side**2)
    weight = (wu[:, None] * wv[None, :] * chord).ravel()
    disc = np.stack([side.ravel(), (across * chord).ravel()])
    d, wd = np.polynomial.legendre.leggauss(3)
    deep = 0.5 * bolt.insert_length * MM * (1.0 + d)
    radius = 0.5 * bolt.insert_diameter * MM

    def points(away: float, size: float) -> Array:
        """Of a disc `away` from the joint's face into the block."""
        step, y = size * disc
        if bolt.face == "heel":
            return np.stack([np.full_like(step, xj + away), y, zc - s + step], axis=1)
        return np.stack([xj + s + step, y, np.full_like(step, zc - away)], axis=1)

    insert = np.concatenate([points(-one_depth, radius) for one_depth in deep])
    reach = (shape.stem if bolt.face == "heel" else shape.shelf) * MM
    washer = points(reach, 0.5 * bolt.washer_diameter * MM)
    if even:
        share = np.tile(across.ravel(), len(deep))
        insert[:, 1] = 0.5 * MM * share * o.neck_thickness_across(insert[:, 0] / MM, insert[:, 2] / MM)
        washer[:, 1] = 0.5 * MM * across.ravel() * shape.width
    return (insert, np.concatenate([w * weight for w in wd])), (washer, weight)

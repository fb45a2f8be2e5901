"""Input decks of the outside program for one instrument: bolted with contact, or bonded (linear)."""

import numpy as np

from fem.geometry.hardware import Bolt
from fem.geometry.pad import Pad
from fem.joint.shim_layer import taper
from tests.reference.hexahedron import FACES, weights_at
from tests.reference.instruments import Instrument
from tests.reference.solid_deck import BLOCK_AXES, MEGA, Deck, begin, material, wood_lines
from tests.reference.solid_mesh import MM, Array, Body, Fineness, Lines, block, layer_on, lines_of

THIN = 0.05
"""Thickness of bonded layers in the mesh [mm]: bodies touch in both models, a shim's thickness is in its law."""
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
    place, turn = deck.nut_section((wood, top))
    deck.middle_lines([wood, top, stem])
    deck.hold_block(stem, one)
    read = deck.read_nodes(one, top, lines, place)
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


def bonded_deck(one: Instrument, fine: Fineness, *, on_block: bool) -> tuple[str, list[int]]:
    """Neck on bonded layers whose far side is fixed, or bonded to the block; the nodes read, nut first."""
    lines = lines_of(one.structure, fine)
    deck, wood, top = begin(one, lines)
    bodies, layers = [wood, top], []
    if on_block:
        stem = block(one.structure, lines, reach=(0.0, 0.0))
        deck.add(stem)
        deck.lines += wood_lines("BLOCK", one.block, BLOCK_AXES)
        bodies.append(stem)
    for pad, name in zip(one.structure.pads, ("UPPER", "LOWER"), strict=True):
        layers.append(layer_on(wood, name, pad_faces(pad, lines), thick=THIN))
        _add_layer(deck, layers[-1], wood)
        deck.lines += shim_lines(name, pad)
    place, turn = deck.nut_section((wood, top))
    if on_block:
        for one_layer in layers:
            _bond(deck, one_layer, stem)
        deck.middle_lines(bodies)
        deck.hold_block(stem, one)
    else:
        deck.middle_lines([*bodies, *layers])
        deck.lines.append("*BOUNDARY")
        for one_layer in layers:
            deck.lines += [f"{deck.of(one_layer, n)}, 1, 3" for n in _far_side(one_layer).values()]
    read = deck.read_nodes(one, top, lines, place)
    deck.lines += ["*STEP", "*STATIC", *pull_lines(place, turn, one)]
    deck.lines += ["*NODE PRINT, NSET=READ", "U", "*END STEP", ""]
    return "\n".join(deck.lines), read


def _far_side(shim: Body) -> dict[tuple[int, int, int], int]:
    """Nodes of a layer away from the neck."""
    axis = 2 if shim.name == "UPPER" else 0
    return {key: n for key, n in shim.number.items() if key[axis] == 2}


def _bond(deck: Deck, shim: Body, stem: Body) -> None:
    """A layer's far side follows the block's face, which it touches in both models."""
    back = np.array([0.0, 0.0, THIN]) if shim.name == "UPPER" else np.array([-THIN, 0.0, 0.0])
    cells = np.asarray(list(stem.cells.values()))
    for key, n in _far_side(shim).items():
        nodes, parts = weights_at(stem.points, cells, shim.nodes[n] + back)
        masters = [(deck.of(stem, m), w) for m, w in zip(nodes, parts, strict=True)]
        deck.follow(deck.of(shim, n), masters, middle=key[1] == 0)


def _add_layer(deck: Deck, shim: Body, wood: Body) -> None:
    """A layer's nodes, of which those on the neck move with it."""
    deck.add(shim)
    axis = 2 if shim.name == "UPPER" else 0
    inner = {tuple(np.round(wood.nodes[n], 7)): n for n in wood.number.values()}
    for key, n in shim.number.items():
        if key[axis] == 0:
            partner = inner[tuple(np.round(shim.nodes[n], 7))]
            deck.follow(deck.of(shim, n), [(deck.of(wood, partner), 1.0)], middle=key[1] == 0)


def shim_lines(name: str, pad: Pad) -> list[str]:
    """A thin layer that gives way as shim and bedding do, and does not hold the wood in its own plane."""
    stiff = MEGA * THIN / MM / (pad.middle / pad.young + pad.compliance)
    slide = MEGA * THIN / MM / (pad.middle / pad.shear + pad.compliance)
    soft = 1e-4 * stiff
    across = (soft, soft, stiff) if name == "UPPER" else (stiff, soft, soft)
    along = (soft, slide, slide) if name == "UPPER" else (slide, slide, soft)
    return material(name, (*across, 0.0, 0.0, 0.0, *along))


def pad_faces(pad: Pad, lines: Lines) -> list[tuple[int, int, int]]:
    """Cells of the neck whose outer face bears a pad, in order of distance from the corner."""
    n_low, across = len(lines.down) - 1, range(lines.across)
    ends = np.array([pad.start, pad.end]) * MM
    grid = lines.along if pad.face == "tongue" else lines.down
    middle = 0.5 * (grid[1:] + grid[:-1])
    inside = [int(m) for m in np.flatnonzero((middle > ends[0]) & (middle < ends[1]))]
    joint = len(lines.columns) - len(lines.along)
    if pad.face == "tongue":
        return [(joint + m, j, n_low) for m in inside for j in across]
    return [(joint - 1, j, n_low - 1 - m) for m in inside for j in across]


def pull_lines(place: int, turn: int, one: Instrument) -> list[str]:
    u, w, t = (0.5 * force for force in one.end_load)
    return ["*CLOAD", f"{place}, 1, {u:.9e}", f"{place}, 3, {w:.9e}", f"{turn}, 1, {t * MM:.9e}"]

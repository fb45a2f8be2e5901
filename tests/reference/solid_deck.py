"""Input deck of the outside program for one instrument as a solid: bonded on seats, or bolted with contact.

Units mm, N, MPa; half of the instrument, y >= 0, so all forces are halves. Node numbers run through the bodies.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from fem.bolt import Bolt
from fem.interface import Pad, taper
from materials.wood import Wood
from tests.reference.hexahedron import FACES, weights_at
from tests.reference.instruments import Instrument
from tests.reference.solid_mesh import (
    MM,
    Array,
    Body,
    Fineness,
    Lines,
    block,
    board,
    layer_on,
    lines_of,
    neck,
)

MEGA = 1e-6
LIFT = 0.02
"""Reach of both shims into the neck's place [mm]: it moves the neck as a whole, and lets contact begin closed."""


BLOCK_AXES = "TRL"
"""Vertical grain: L along z, R across."""
FRICTIONLESS = 1e-6
"""Friction coefficient of a joint that seats: none, but slip is followed."""
THIN = 0.05
"""Thickness of bonded layers in the mesh [mm]: bodies touch in both models, a shim's thickness is in its law."""


@dataclass
class Deck:
    """Lines of a deck, and the nodes of each body by its offset."""

    lines: list[str] = field(default_factory=list)
    first: dict[str, int] = field(default_factory=dict)
    count: int = 0
    elements: int = 0
    element: dict[tuple[str, tuple[int, int, int]], int] = field(default_factory=dict)

    def add(self, one: Body) -> None:
        """Nodes and elements of a body."""
        self.first[one.name] = self.count
        self.lines.append("*NODE")
        for n, p in enumerate(one.nodes):
            self.lines.append(f"{self.count + n + 1}, {p[0]:.9e}, {p[1]:.9e}, {p[2]:.9e}")
        self.count += len(one.nodes)
        self.lines.append(f"*ELEMENT, TYPE=C3D20, ELSET={one.name}")
        for cell, nodes in one.cells.items():
            self.elements += 1
            self.element[one.name, cell] = self.elements
            numbers = [self.elements, *(self.first[one.name] + n + 1 for n in nodes)]
            self.lines += [", ".join(map(str, numbers[:11])) + ",", ", ".join(map(str, numbers[11:]))]

    def of(self, one: Body, node: int) -> int:
        """Number in the deck of a node of a body."""
        return self.first[one.name] + node + 1

    def equation(self, terms: Iterable[tuple[int, int, float]]) -> None:
        """Linear equation; its first term follows the others."""
        kept = [term for term in terms if abs(term[2]) > 1e-12]
        self.lines += ["*EQUATION", str(len(kept))]
        self.lines += [f"{node}, {axis}, {factor:.12e}" for node, axis, factor in kept]


def _material(name: str, constants: tuple[float, ...]) -> list[str]:
    """Engineering constants E1 E2 E3, nu12 nu13 nu23, G12 G13 G23 [MPa] for the cells of a body."""
    numbers = [f"{value:.9e}" for value in constants]
    return [
        f"*MATERIAL, NAME={name}",
        "*ELASTIC, TYPE=ENGINEERING CONSTANTS",
        ", ".join(numbers[:8]),
        numbers[8],
        f"*SOLID SECTION, ELSET={name}, MATERIAL={name}",
    ]


def _wood(name: str, cut: Wood, axes: str) -> list[str]:
    """A wood whose directions L, R, T lie along x, y, z as `axes` spells them."""
    young = {"L": cut.e_l, "R": cut.e_r, "T": cut.e_t}
    shear = {frozenset("LR"): cut.g_lr, frozenset("LT"): cut.g_lt, frozenset("RT"): cut.g_rt}
    major = {"LR": cut.nu_lr, "LT": cut.nu_lt, "RT": cut.nu_rt}

    def poisson(a: str, b: str) -> float:
        return major[a + b] if a + b in major else major[b + a] * young[a] / young[b]

    x, y, z = axes
    pairs = ((x, y), (x, z), (y, z))
    return _material(
        name,
        (
            *(MEGA * young[a] for a in axes),
            *(poisson(a, b) for a, b in pairs),
            *(MEGA * shear[frozenset(pair)] for pair in pairs),
        ),
    )


def _shim(name: str, pad: Pad) -> list[str]:
    """A thin layer that gives way as shim and bedding do, and does not hold the wood in its own plane."""
    stiff = MEGA * THIN / MM / (pad.middle / pad.young + pad.compliance)
    slide = MEGA * THIN / MM / (pad.middle / pad.shear + pad.compliance)
    soft = 1e-4 * stiff
    across = (soft, soft, stiff) if name == "UPPER" else (stiff, soft, soft)
    along = (soft, slide, slide) if name == "UPPER" else (slide, slide, soft)
    return _material(name, (*across, 0.0, 0.0, 0.0, *along))


def _glue(deck: Deck, wood: Body, top: Body, lines: Lines, structure_width: Array) -> None:
    """The neck's top follows the board's underside, node by node; the section at the nut stays out."""
    level = 2 * (len(lines.down) + len(lines.upper) - 2)
    follow = [(key, n) for key, n in wood.number.items() if key[2] == level and key[0] > 0]
    for (i, j, _), n in follow:
        y = wood.nodes[n][1]
        eta = 4.0 * lines.across * y / structure_width[i]
        cell = min(int(eta / 2.0 + 1e-9), lines.across - 1)
        column = min(i // 2, len(lines.columns) - 2)
        local_x, local_y = i - 2 * column - 1.0, eta - 2 * cell - 1.0
        masters = _face_weights(top, column, cell, local_x, local_y)
        beneath = sum(w * top.nodes[m] for m, w in masters)
        assert np.max(np.abs(beneath - wood.nodes[n])) < 1e-6, "the glue joins two points that are apart"
        for axis in (1, 2, 3):
            if axis == 2 and j == 0:
                continue
            deck.equation([(deck.of(wood, n), axis, 1.0)] + [(deck.of(top, m), axis, -w) for m, w in masters])


def _face_weights(top: Body, column: int, cell: int, a: float, b: float) -> list[tuple[int, float]]:
    """Eight-node weights on the underside of the board's cell (column, cell) at local point (a, b)."""
    out = []
    for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1), (0, -1), (1, 0), (0, 1), (-1, 0)):
        if u and v:
            weight = 0.25 * (1 + u * a) * (1 + v * b) * (u * a + v * b - 1)
        elif u == 0:
            weight = 0.5 * (1 - a * a) * (1 + v * b)
        else:
            weight = 0.5 * (1 + u * a) * (1 - b * b)
        out.append((top.number[2 * column + 1 + u, 2 * cell + 1 + v, 0], weight))
    return out


def _nut(deck: Deck, bodies: tuple[Body, Body]) -> tuple[int, int]:
    """The section at the nut stays plane and does not change its height; two nodes carry u and w, and theta."""
    deck.lines += ["*NODE", f"{deck.count + 1}, 0., 0., 0.", f"{deck.count + 2}, 0., 0., 0."]
    place, turn = deck.count + 1, deck.count + 2
    deck.count += 2
    for one in bodies:
        for (i, _, _), n in one.number.items():
            if i == 0:
                deck.equation(
                    [(deck.of(one, n), 1, 1.0), (place, 1, -1.0), (turn, 1, float(one.nodes[n][2]))]
                )
                deck.equation([(deck.of(one, n), 3, 1.0), (place, 3, -1.0)])
    deck.lines += ["*BOUNDARY", f"{place}, 2", f"{turn}, 2, 3"]
    return place, turn


def _middle(deck: Deck, bodies: list[Body]) -> None:
    """No movement across at y = 0."""
    deck.lines.append("*BOUNDARY")
    for one in bodies:
        for (_, j, _), n in one.number.items():
            if j == 0:
                deck.lines.append(f"{deck.of(one, n)}, 2")


def _begin(one: Instrument, lines: Lines) -> tuple[Deck, Body, Body]:
    deck = Deck()
    wood, top = neck(one.structure, lines), board(one.structure, lines)
    deck.add(wood)
    deck.add(top)
    deck.lines += _wood("NECK", one.neck, {"quarter": "LRT", "flat": "LTR"}[one.cut])
    deck.lines += _wood("BOARD", one.board, "LRT")
    halves = np.interp(
        np.arange(2 * len(lines.columns) - 1) / 2, np.arange(len(lines.columns)), lines.columns
    )
    _glue(deck, wood, top, lines, one.structure.outline.width(halves / MM) * MM)
    return deck, wood, top


def _read(deck: Deck, one: Instrument, top: Body, lines: Lines, nut: int) -> list[int]:
    """Nodes read: the nut's, then the board's top at y = 0 at each fret."""
    high = max(key[2] for key in top.number)
    read = [nut]
    for fret in one.structure.frets * MM:
        column = int(np.argmin(np.abs(lines.columns - fret)))
        assert abs(lines.columns[column] - fret) < 1e-6
        read.append(deck.of(top, top.number[2 * column, 0, high]))
    deck.lines.append("*NSET, NSET=READ")
    deck.lines += [", ".join(map(str, read[i : i + 8])) for i in range(0, len(read), 8)]
    return read


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


def _pull(place: int, turn: int, one: Instrument) -> list[str]:
    u, w, t = (0.5 * force for force in one.end_load)
    return ["*CLOAD", f"{place}, 1, {u:.9e}", f"{place}, 3, {w:.9e}", f"{turn}, 1, {t * MM:.9e}"]


def bonded_deck(one: Instrument, fine: Fineness, *, on_block: bool) -> tuple[str, list[int]]:
    """Neck on bonded layers whose far side is fixed, or bonded to the block; the nodes read, nut first."""
    lines = lines_of(one.structure, fine)
    deck, wood, top = _begin(one, lines)
    bodies, layers = [wood, top], []
    if on_block:
        stem = block(one.structure, lines, reach=(0.0, 0.0))
        deck.add(stem)
        deck.lines += _wood("BLOCK", one.block, BLOCK_AXES)
        bodies.append(stem)
    for pad, name in zip(one.structure.pads, ("UPPER", "LOWER"), strict=True):
        layers.append(layer_on(wood, name, pad_faces(pad, lines), thick=THIN))
        _add_layer(deck, layers[-1], wood)
        deck.lines += _shim(name, pad)
    place, turn = _nut(deck, (wood, top))
    if on_block:
        for one_layer in layers:
            _bond(deck, one_layer, stem)
        _middle(deck, bodies)
        _hold(deck, stem, one)
    else:
        _middle(deck, [*bodies, *layers])
        deck.lines.append("*BOUNDARY")
        for one_layer in layers:
            deck.lines += [f"{deck.of(one_layer, n)}, 1, 3" for n in _far_side(one_layer).values()]
    read = _read(deck, one, top, lines, place)
    deck.lines += ["*STEP", "*STATIC", *_pull(place, turn, one)]
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
        for axis in (1, 2, 3):
            if axis == 2 and key[1] == 0:
                continue
            masters = [(deck.of(stem, int(m)), axis, -float(w)) for m, w in zip(nodes, parts, strict=True)]
            deck.equation([(deck.of(shim, n), axis, 1.0), *masters])


def _add_layer(deck: Deck, shim: Body, wood: Body) -> None:
    """A layer's nodes, of which those on the neck move with it."""
    deck.add(shim)
    axis = 2 if shim.name == "UPPER" else 0
    inner = {tuple(np.round(wood.nodes[n], 7)): n for n in wood.number.values()}
    for key, n in shim.number.items():
        if key[axis] == 0:
            partner = inner[tuple(np.round(shim.nodes[n], 7))]
            for direction in (1, 2, 3):
                if direction == 2 and key[1] == 0:
                    continue
                deck.equation([(deck.of(shim, n), direction, 1.0), (deck.of(wood, partner), direction, -1.0)])


def contact_deck(
    one: Instrument, fine: Fineness, *, shim_deg: float, friction: float = 0.0
) -> tuple[str, list[int]]:
    """Neck, layers and block: bolts in the first step, strings in the second; the nodes read, nut first.

    Friction holds in the second step alone: the joint seats without, as in the program's own two steps.
    """
    lines = lines_of(one.structure, fine)
    deck, wood, top = _begin(one, lines)
    slope = float(np.radians(shim_deg))
    stem = block(one.structure, lines, reach=(LIFT, slope))
    deck.add(stem)
    deck.lines += _wood("BLOCK", one.block, BLOCK_AXES)
    grip: list[str] = []
    for pad, angle in zip(one.structure.pads, (0.0, slope), strict=True):
        grip += _meet(deck, stem, pad, lines, angle=angle, friction=friction)
    place, turn = _nut(deck, (wood, top))
    _middle(deck, [wood, top, stem])
    _hold(deck, stem, one)
    read = _read(deck, one, top, lines, place)
    printed = ["*NODE PRINT, NSET=READ", "U", "*END STEP"]
    deck.lines += ["*STEP, INC=200", "*STATIC", "1., 1.", *_bolts(deck, one, wood, stem), *printed]
    deck.lines += ["*STEP, INC=200", "*STATIC", "1., 1.", *_pull(place, turn, one), *printed, ""]
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


def _hold(deck: Deck, stem: Body, one: Instrument) -> None:
    o = one.structure.outline
    end = 2 * max(i for i, _, _ in stem.cells) + 2
    top, bottom = max(k for _, _, k in stem.number), 0
    deck.lines.append("*BOUNDARY")
    for (i, _, k), n in stem.number.items():
        beyond = stem.nodes[n][0] > o.tongue_end * MM + 1e-6 and i <= end
        if k == bottom or (k == top and beyond):
            deck.lines.append(f"{deck.of(stem, n)}, 1, 3")


def _bolts(deck: Deck, one: Instrument, wood: Body, stem: Body) -> list[str]:
    """Constant bolt forces: spread over the insert's body in the neck, over the washer's disc on the block."""
    lines = ["*CLOAD"]
    for bolt in one.structure.bolts:
        pull = np.array([bolt.pull[0], 0.0, bolt.pull[1]])
        insert, washer = _footprints(bolt, one)
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


def _footprints(bolt: Bolt, one: Instrument) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Points (n, 3) [mm] and weights of the half insert (a cylinder) and the half washer (a disc)."""
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
    return (insert, np.concatenate([w * weight for w in wd])), (washer, weight)

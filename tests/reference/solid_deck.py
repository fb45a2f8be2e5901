"""What every input deck of the outside program begins with: neck, board, nut, woods, held nodes, nodes read.

Units mm, N, MPa; half of the instrument, y >= 0, so all forces are halves. Node numbers run through the bodies.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from fem.geometry.pad import Pad
from materials.wood import Wood
from tests.reference.instruments import Instrument
from tests.reference.solid_mesh import MM, Array, Body, Lines, board, neck

MEGA = 1e-6
BLOCK_AXES = "TRL"
"""Vertical grain: L along z, R across."""
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


def wood_lines(name: str, cut: Wood, axes: str) -> list[str]:
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


def shim_lines(name: str, pad: Pad) -> list[str]:
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


def nut_section(deck: Deck, bodies: tuple[Body, Body]) -> tuple[int, int]:
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


def middle_lines(deck: Deck, bodies: list[Body]) -> None:
    """No movement across at y = 0."""
    deck.lines.append("*BOUNDARY")
    for one in bodies:
        for (_, j, _), n in one.number.items():
            if j == 0:
                deck.lines.append(f"{deck.of(one, n)}, 2")


def begin(one: Instrument, lines: Lines) -> tuple[Deck, Body, Body]:
    deck = Deck()
    wood, top = neck(one.structure, lines), board(one.structure, lines)
    deck.add(wood)
    deck.add(top)
    deck.lines += wood_lines("NECK", one.neck, {"quarter": "LRT", "flat": "LTR"}[one.cut])
    deck.lines += wood_lines("BOARD", one.board, "LRT")
    halves = np.interp(
        np.arange(2 * len(lines.columns) - 1) / 2, np.arange(len(lines.columns)), lines.columns
    )
    _glue(deck, wood, top, lines, one.structure.outline.width(halves / MM) * MM)
    return deck, wood, top


def read_nodes(deck: Deck, one: Instrument, top: Body, lines: Lines, nut: int) -> list[int]:
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


def pull_lines(place: int, turn: int, one: Instrument) -> list[str]:
    u, w, t = (0.5 * force for force in one.end_load)
    return ["*CLOAD", f"{place}, 1, {u:.9e}", f"{place}, 3, {w:.9e}", f"{turn}, 1, {t * MM:.9e}"]


def hold_block(deck: Deck, stem: Body, one: Instrument) -> None:
    o = one.structure.outline
    end = 2 * max(i for i, _, _ in stem.cells) + 2
    top, bottom = max(k for _, _, k in stem.number), 0
    deck.lines.append("*BOUNDARY")
    for (i, _, k), n in stem.number.items():
        beyond = stem.nodes[n][0] > o.tongue_end * MM + 1e-6 and i <= end
        if k == bottom or (k == top and beyond):
            deck.lines.append(f"{deck.of(stem, n)}, 1, 3")

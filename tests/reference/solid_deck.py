"""What every input deck of the outside program begins with: neck, board, nut, woods, held nodes, nodes read.

Units mm, N, MPa; half of the instrument, y >= 0, so all forces are halves. Node numbers run through the bodies.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from materials.wood import Wood
from tests.reference.hexahedron import shapes
from tests.reference.instruments import Instrument
from tests.reference.solid_mesh import MM, Array, Body, Lines, board, neck

MEGA = 1e-6
BLOCK_AXES = "TRL"
"""Vertical grain: L along z, R across."""


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

    def follow(self, node: int, masters: Iterable[tuple[int, float]], *, middle: bool) -> None:
        """A node moves as its weighted masters do; one in the middle plane is held across."""
        each = [(int(master), -float(weight)) for master, weight in masters]
        for axis in (1, 3) if middle else (1, 2, 3):
            self.equation([(node, axis, 1.0), *((master, axis, weight) for master, weight in each)])

    def nut_section(self, bodies: tuple[Body, Body]) -> tuple[int, int]:
        """The section at the nut stays plane and does not change its height; two nodes carry u and w, and theta."""
        self.lines += ["*NODE", f"{self.count + 1}, 0., 0., 0.", f"{self.count + 2}, 0., 0., 0."]
        place, turn = self.count + 1, self.count + 2
        self.count += 2
        for one in bodies:
            for (i, _, _), n in one.number.items():
                if i == 0:
                    self.equation(
                        [(self.of(one, n), 1, 1.0), (place, 1, -1.0), (turn, 1, float(one.nodes[n][2]))]
                    )
                    self.equation([(self.of(one, n), 3, 1.0), (place, 3, -1.0)])
        self.lines += ["*BOUNDARY", f"{place}, 2", f"{turn}, 2, 3"]
        return place, turn

    def middle_lines(self, bodies: list[Body]) -> None:
        """No movement across at y = 0."""
        self.lines.append("*BOUNDARY")
        for one in bodies:
            for (_, j, _), n in one.number.items():
                if j == 0:
                    self.lines.append(f"{self.of(one, n)}, 2")

    def read_nodes(self, one: Instrument, top: Body, lines: Lines, nut: int) -> list[int]:
        """Nodes read: the nut's, then the board's top at y = 0 at each fret."""
        high = max(key[2] for key in top.number)
        read = [nut]
        for fret in one.structure.frets * MM:
            column = int(np.argmin(np.abs(lines.columns - fret)))
            assert abs(lines.columns[column] - fret) < 1e-6
            read.append(self.of(top, top.number[2 * column, 0, high]))
        self.lines.append("*NSET, NSET=READ")
        self.lines += [", ".join(map(str, read[i : i + 8])) for i in range(0, len(read), 8)]
        return read

    def hold_block(self, stem: Body, one: Instrument) -> None:
        o = one.structure.outline
        end = 2 * max(i for i, _, _ in stem.cells) + 2
        top, bottom = max(k for _, _, k in stem.number), 0
        self.lines.append("*BOUNDARY")
        for (i, _, k), n in stem.number.items():
            beyond = stem.nodes[n][0] > o.tongue_end * MM + 1e-6 and i <= end
            if k == bottom or (k == top and beyond):
                self.lines.append(f"{self.of(stem, n)}, 1, 3")


def material(name: str, constants: tuple[float, ...]) -> list[str]:
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
    return material(
        name,
        (
            *(MEGA * young[a] for a in axes),
            *(poisson(a, b) for a, b in pairs),
            *(MEGA * shear[frozenset(pair)] for pair in pairs),
        ),
    )


def _glue(deck: Deck, wood: Body, top: Body, lines: Lines, structure_width: Array) -> None:
    """The neck's top follows the board's underside, node by node; the section at the nut stays out."""
    level = 2 * (len(lines.down) + len(lines.upper) - 2)
    follow = [(key, n) for key, n in wood.number.items() if key[2] == level and key[0] > 0]
    for (i, j, _), n in follow:
        y = wood.nodes[n][1]
        eta = 4.0 * lines.across * y / structure_width[i]
        cell = min(int(eta / 2.0 + 1e-9), lines.across - 1)
        column = min(i // 2, len(lines.columns) - 2)
        at = np.array([i - 2 * column - 1.0, eta - 2 * cell - 1.0, -1.0])
        masters = [(m, w) for m, w in zip(top.cells[column, cell, 0], shapes(at)[0], strict=True) if w]
        beneath = sum(w * top.nodes[m] for m, w in masters)
        assert np.max(np.abs(beneath - wood.nodes[n])) < 1e-6, "the glue joins two points that are apart"
        deck.follow(deck.of(wood, n), [(deck.of(top, m), w) for m, w in masters], middle=j == 0)


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

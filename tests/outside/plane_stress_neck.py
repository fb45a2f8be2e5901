"""A whole neck as a plane-stress plate for the finite-element program CalculiX: deck, run, stored numbers.

    python -m tests.outside.plane_stress_neck      (needs the program `ccx`; writes plane_stress_neck.json)

The neck is held at its heel face and lifted by one newton at the nut. Outline and thickness are the
project's, the mesh is this script's own. CalculiX expands plane-stress elements in their thickness and is
too stiff in bending when they are thick, so thickness and load are both a hundredth of the real ones.
Poisson's ratios out of the plane are zero, as they do not enter plane stress. Thickness is given at the
nodes; where the wood of board and neck meet with different widths, each has its own nodes tied by equations.
"""

import hashlib
import json
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array, Outline
from tests.reference.solid_run import printed_by_program, program

STORED = Path(__file__).with_suffix(".json")
PART = 0.01  # of thickness and load

# E along, E across, Poisson's ratio along-across, G [Pa, -]: mahogany quarter sawn, rosewood (rounded).
NECK_WOOD = (11.0e9, 0.70e9, 0.53, 0.95e9)
BOARD_WOOD = (13.0e9, 1.20e9, 0.40, 1.20e9)

OUTLINE = Outline(
    scale=0.648,
    joint=0.36,
    heel_start=0.30,
    tie=0.0,
    board_end=0.45,
    tongue_end=0.45,
    width_nut=0.043,
    width_joint=0.056,
    depth_at=(0.036, 0.284),
    depth_total=(0.0215, 0.0245),
    profile_exponent=2.0,
    board_thickness=0.006,
    board_radius=0.4,
    slot_depth=0.0,
    tongue_depth=0.012,
    tongue_width=0.042,
    heel_height=0.092,
    heel_exponent=2.5,
    heel_cap_length=0.028,
    heel_width_top=0.045,
    heel_width_cap=0.022,
)


@dataclass(frozen=True)
class Lifts:
    """Rise per newton at the nut of three points on the board's top [m/N]."""

    near_nut: float
    heel_start: float
    tongue_end: float


def graded(cells: int) -> Array:
    """Grid from 0 to 1, finer towards both ends."""
    return 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, cells + 1)))


@dataclass(frozen=True)
class Grid:
    """Corner nodes (2, n), cells (4, m) counter-clockwise, and which of them are board."""

    corners: Array
    cells: NDArray[np.int64]
    board: NDArray[np.bool_]


def grid(fineness: int = 1) -> Grid:
    """The neck from nut to tongue end: columns of rows that follow its back."""
    start, joint, cap = OUTLINE.heel_start, OUTLINE.joint, OUTLINE.heel_cap_length
    spans = [
        np.linspace(0.0, start, 60 * fineness + 1),
        np.linspace(start, joint - cap, 12 * fineness + 1)[1:],
        joint - cap + cap * np.sin(np.linspace(0.0, 0.5 * np.pi, 14 * fineness + 1)[1:]),
        joint
        + (OUTLINE.board_end - joint) * (1 - np.cos(np.linspace(0, 0.5 * np.pi, 24 * fineness + 1)[1:])),
    ]
    x = np.concatenate(spans)
    below, upper = 20 * fineness, 6 * fineness
    corner, top = -OUTLINE.tongue_depth, OUTLINE.board_thickness
    # the board's curved top narrows within 0.7 mm, ever faster: rows that do so too
    shoulder = top - 0.7e-3
    narrowing = top - 0.7e-3 * (1.0 - np.linspace(0.0, 1.0, 5 * fineness + 1)[1:]) ** 2
    board = np.concatenate([np.linspace(0.0, shoulder, 3 * fineness + 1)[1:], narrowing])
    fixed = np.concatenate([corner * (1 - graded(upper))[1:], board])
    z = []
    for place in x:
        back = -float(OUTLINE.depth(np.asarray(min(place, joint))))
        z.append(np.concatenate([back + (corner - back) * graded(below), fixed]))
    rows = len(z[0])
    i, j = np.meshgrid(np.arange(len(x) - 1), np.arange(rows - 1), indexing="ij")
    solid = (x[i] < joint - 1e-9) | (j >= below)
    i, j = i[solid], j[solid]
    node = i * rows + j
    cells = np.stack([node, node + rows, node + rows + 1, node + 1])
    used, cells = np.unique(cells, return_inverse=True)
    corners = np.stack([np.repeat(x, rows), np.concatenate(z)])[:, used]
    return Grid(corners, cells.reshape(4, -1), j >= below + upper)


def readings() -> dict[str, tuple[float, float]]:
    """Where the lifts are read [m]: not at the load, which dents the plate."""
    top = OUTLINE.board_thickness
    return {
        "near_nut": (0.03, top),
        "heel_start": (OUTLINE.heel_start, top),
        "tongue_end": (OUTLINE.board_end, top),
    }


def _eight_nodes(corners: Array, cells: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64]]:
    """Nodes and connectivity with a node in the middle of every side."""
    sides = np.sort(np.stack([cells, np.roll(cells, -1, axis=0)]).reshape(2, -1), axis=0)
    unique, number = np.unique(sides, axis=1, return_inverse=True)
    middles = 0.5 * (corners[:, unique[0]] + corners[:, unique[1]])
    inner = corners.shape[1] + number.reshape(cells.shape)
    return np.concatenate([corners, middles], axis=1), np.concatenate([cells, inner])


def _nodes_of_both(one: Grid) -> tuple[Array, NDArray[np.int64], Array, list[tuple[int, int]]]:
    """Nodes, elements, thickness at the nodes, and pairs of nodes (board, neck) that move together.

    Board and neck have nodes of their own on the glue line, tongue and heel on the line over the joint
    corner: thickness jumps there.
    """
    nodes, elements = _eight_nodes(one.corners, one.cells)
    middle = one.corners[:, one.cells].mean(axis=1)
    part = np.where(one.board, 0, np.where(middle[0] < OUTLINE.joint, 1, 2))
    own: dict[tuple[int, int], int] = {}
    renumbered = np.empty_like(elements)
    for e in range(elements.shape[1]):
        for k, node in enumerate(elements[:, e]):
            renumbered[k, e] = own.setdefault((int(node), int(part[e])), len(own))
    keys = np.array(list(own))
    x, z = nodes[:, keys[:, 0]]
    # a hair inside the tongue, since its end of the joint line counts as heel
    inside = np.where(keys[:, 1] == 2, np.maximum(x, OUTLINE.joint + 1e-9), x)
    thickness = np.where(
        keys[:, 1] == 0,
        OUTLINE.board_thickness_across(x, np.maximum(z, 0.0)),
        OUTLINE.neck_thickness_across(inside, np.minimum(z, 0.0)),
    )
    first: dict[int, int] = {}
    tied = []
    for number, (node, _) in enumerate(own):
        if node in first:
            tied.append((number, first[node]))
        else:
            first[node] = number
    return np.stack([x, z]), renumbered, thickness, tied


def deck(fineness: int = 1) -> str:
    """Input deck, plane x-y for our x-z."""
    one = grid(fineness)
    nodes, elements, thickness, tied = _nodes_of_both(one)
    follower = {a for a, _ in tied}
    x, z = nodes
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{i + 1}, {a:.9e}, {b:.9e}, 0." for i, (a, b) in enumerate(nodes.T)]
    for name, chosen in {"NECK": ~one.board, "BOARD": one.board}.items():
        lines.append(f"*ELEMENT, TYPE=CPS8, ELSET={name}")
        lines += [", ".join(map(str, [e + 1, *(elements[:, e] + 1)])) for e in np.flatnonzero(chosen)]
    for name, (along, across, poisson, shear) in {"NECK": NECK_WOOD, "BOARD": BOARD_WOOD}.items():
        # E1, E2, E3, nu12, nu13, nu23, G12, G13, then G23; 3 is out of the plane
        lines += [
            f"*MATERIAL, NAME={name}",
            "*ELASTIC, TYPE=ENGINEERING CONSTANTS",
            f"{along:.6e}, {across:.6e}, {across:.6e}, {poisson}, 0., 0., {shear:.6e}, {shear:.6e}",
            f"{shear:.6e}",
            f"*SOLID SECTION, ELSET={name}, MATERIAL={name}, NODAL THICKNESS",
            "1.",
        ]
    lines.append("*NODAL THICKNESS")
    lines += [f"{i + 1}, {PART * b:.9e}" for i, b in enumerate(thickness)]
    for a, b in tied:
        for axis in (1, 2):
            lines += ["*EQUATION", "2", f"{a + 1}, {axis}, 1., {b + 1}, {axis}, -1."]
    face = np.isclose(x, OUTLINE.joint) & (z < -OUTLINE.tongue_depth + 1e-9)
    lines.append("*BOUNDARY")
    lines += [f"{i + 1}, 1, 2" for i in np.flatnonzero(face) if i not in follower]
    read = [int(np.argmin(np.hypot(x - a, z - b))) for a, b in readings().values()]
    lines += ["*NSET, NSET=READ", ", ".join(str(i + 1) for i in read)]
    nut = [i for i in np.flatnonzero(np.isclose(x, 0.0)) if i not in follower]
    lines += ["*STEP", "*STATIC", "*CLOAD"]
    lines += [f"{i + 1}, 2, {PART / len(nut):.9e}" for i in nut]
    lines += ["*NODE PRINT, NSET=READ", "U", "*END STEP", ""]
    return "\n".join(lines)


def run(text: str) -> tuple[Lifts, str]:
    """Lifts and the version of the program, run on a deck; RuntimeError if it prints no displacements."""
    printed, said = printed_by_program(text)
    rows = [line.split() for line in printed.splitlines() if re.match(r"\s+\d+\s+\S+E", line)]
    if len(rows) != len(readings()):
        raise RuntimeError("ccx printed no displacements; the end of its output:\n" + said[-2000:])
    by_node = {int(row[0]): float(row[2]) for row in rows}
    numbers = text[text.index("NSET=READ\n") :].splitlines()[1]
    return Lifts(*(by_node[int(n)] for n in numbers.split(","))), program()[1]


def stored() -> dict[str, object]:
    """What the program gave when it was last run."""
    return dict(json.loads(STORED.read_text(encoding="utf-8")))


def digest(text: str) -> str:
    """Short fingerprint of a deck."""
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:16]


FINENESS = 2


def main() -> int:
    """Run on two meshes and store lifts, version, fingerprint."""
    text = deck(FINENESS)
    lifts, version = run(text)
    rough, _ = run(deck())
    content = {
        "program": "CalculiX",
        "version": version,
        "deck_sha256": digest(text),
        "lifts": vars(lifts),
        "lifts_on_a_mesh_half_as_fine": vars(rough),
    }
    STORED.write_text(json.dumps(content, indent=2) + "\n", encoding="utf-8")
    print(STORED.read_text(encoding="utf-8"))
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Input deck of the outside program for one instrument bonded on seats or on its block: linear."""

import numpy as np

from tests.reference.hexahedron import weights_at
from tests.reference.instruments import Instrument
from tests.reference.solid_deck import (
    BLOCK_AXES,
    THIN,
    Deck,
    begin,
    hold_block,
    middle_lines,
    nut_section,
    pad_faces,
    pull_lines,
    read_nodes,
    shim_lines,
    wood_lines,
)
from tests.reference.solid_mesh import Body, Fineness, block, layer_on, lines_of


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
    place, turn = nut_section(deck, (wood, top))
    if on_block:
        for one_layer in layers:
            _bond(deck, one_layer, stem)
        middle_lines(deck, bodies)
        hold_block(deck, stem, one)
    else:
        middle_lines(deck, [*bodies, *layers])
        deck.lines.append("*BOUNDARY")
        for one_layer in layers:
            deck.lines += [f"{deck.of(one_layer, n)}, 1, 3" for n in _far_side(one_layer).values()]
    read = read_nodes(deck, one, top, lines, place)
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

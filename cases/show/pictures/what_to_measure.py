"""The drawing of docs/what-to-measure.md: every length of a case that is measured, with its letter.

`python -m cases.show.pictures.what_to_measure` writes it into docs/figures.
"""

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cases.casefile.case import Case
from cases.casefile.files import load
from cases.offset.build import MM, structure_of
from cases.show import style
from fem.geometry.outline import Array
from fem.geometry.structure import Structure

FILE = Path("docs/figures/what-to-measure.png")
SHIM_MM = 3.0
"""Thickness of a shim in the drawing [mm]; the real one is under a millimetre."""
CAPTION = (
    "From above, from the side and the joint: to scale, but for the shims, which are drawn thick. The small"
    " drawings are not to scale.\nWear eye protection; slacken all strings before you undo a neck bolt."
)
WOOD: Any = {"fc": style.WOOD, "ec": style.INK, "lw": 0.9}
BOARD: Any = {"fc": style.DARK_WOOD, "ec": style.INK, "lw": 0.9}
THIN: Any = {"color": style.QUIET, "lw": 0.7}
EDGE: Any = {"color": style.STEEL, "lw": 3.0, "solid_capstyle": "butt"}


@style.applied()
def what_to_measure_figure(case: Case) -> Figure:
    """A neck with two shims from above and from the side, its joint, and three gaps, lettered."""
    structure = structure_of(case)
    figure = style.figure(width=11.0, height=10.4)
    _from_above(structure, figure.add_axes((0.03, 0.745, 0.94, 0.185)))
    _from_the_side(structure, figure.add_axes((0.03, 0.455, 0.94, 0.26)))
    _joint(structure, figure.add_axes((0.03, 0.06, 0.50, 0.37)))
    _small(figure.add_axes((0.58, 0.325, 0.39, 0.1)), "Bare board, neck off the body", _bare_board)
    _small(figure.add_axes((0.58, 0.195, 0.39, 0.1)), "At pitch, fret 12", _action)
    _small(figure.add_axes((0.58, 0.065, 0.39, 0.1)), "At pitch, shaft", _relief)
    style.write_texts(figure, "What to measure", CAPTION, left=0.3)
    return figure


def _letter(axes: Axes, letter: str, at: tuple[float, float]) -> None:
    axes.text(
        *at, letter, ha="center", va="center", fontsize=11, fontweight="bold", color=style.BLUE, zorder=9,
        bbox={"boxstyle": "circle,pad=0.18", "fc": "white", "ec": style.BLUE, "lw": 1.0},
    )  # fmt: skip


def _length(
    axes: Axes,
    letter: str,
    one: tuple[float, float],
    other: tuple[float, float],
    *,
    at: tuple[float, float] | None = None,
) -> None:
    """A length between two points, its letter in the middle or at a place beside it."""
    look = {"arrowstyle": "<->", "color": style.BLUE, "lw": 1.3, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", xy=other, xytext=one, arrowprops=look, zorder=8)
    _letter(axes, letter, at or (0.5 * (one[0] + other[0]), 0.5 * (one[1] + other[1])))


def _bare(axes: Axes, title: str) -> None:
    axes.set_axis_off()
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_title(title, loc="left", fontsize=10, pad=2.0)


def _from_above(structure: Structure, axes: Axes) -> None:
    o, frets = structure.outline, structure.frets / MM
    ends = np.array([0.0, o.board_end])
    half = 0.5 * o.width(ends) / MM
    x = ends / MM
    axes.fill([x[0], x[1], x[1], x[0]], [half[0], half[1], -half[1], -half[0]], **BOARD)
    for fret in frets:
        reach = 0.5 * float(o.width(np.asarray(fret * MM))) / MM
        axes.plot([fret, fret], [-reach, reach], color="#d8dde0", lw=1.2)
    joint, twelfth = o.joint / MM, float(frets[11])
    low = -half[1] - 12.0
    for at in (0.0, twelfth):
        axes.plot([at, at], [low - 5.0, 0.0], zorder=0, **THIN)
    _length(axes, "A", (0.0, low), (twelfth, low))
    axes.text(0.5 * twelfth + 12.0, low, "A is twice this", va="center", fontsize=8,
              bbox={"fc": "white", "ec": "none", "pad": 1.5}, zorder=9)  # fmt: skip
    for letter, at in (("B", -9.0), ("C", joint)):
        reach = 0.5 * float(o.width(np.asarray(max(at, 0.0) * MM))) / MM
        _length(axes, letter, (at, reach), (at, -reach))
    for place, name in ((0.0, "nut"), (twelfth, "fret 12"), (joint, "joint fret")):
        axes.text(place, half[1] + 5.0, name, ha="center", fontsize=8)
    axes.set_xlim(-22.0, x[1] + 34.0)
    axes.set_ylim(low - 7.0, half[1] + 12.0)
    axes.set_aspect("equal", anchor="W")
    _bare(axes, "From above")


def _neck_and_board(structure: Structure, axes: Axes) -> None:
    o = structure.outline
    back = np.linspace(o.joint, 0.0, 300)
    wood = [(0.0, 0.0), (o.tongue_end, 0.0), (o.tongue_end, -o.tongue_depth), (o.joint, -o.tongue_depth)]
    points = np.concatenate([np.array(wood), np.stack([back, -o.depth(back)], axis=1)]) / MM
    axes.fill(*points.T, **WOOD)
    top = o.board_thickness / MM
    axes.fill([0.0, o.board_end / MM, o.board_end / MM, 0.0], [0.0, 0.0, top, top], **BOARD)


def _from_the_side(structure: Structure, axes: Axes) -> None:
    o, frets = structure.outline, structure.frets / MM
    _neck_and_board(structure, axes)
    top = o.board_thickness / MM
    for fret in frets:
        axes.plot([fret, fret], [top, top + 2.0], color=style.STEEL, lw=1.5)
    for letter, number in (("D", 1), ("E", 10)):
        x = float(frets[number - 1]) - 4.0
        deep = -float(o.depth(np.asarray(x * MM))) / MM
        _length(axes, letter, (x, top), (x, deep), at=(x, deep - 9.0))
        axes.text(x + 4.0, top + 5.0, f"fret {number}", ha="center", fontsize=8)
    joint, low = o.joint / MM, -o.heel_height / MM
    x = joint + 14.0
    axes.plot([joint, x + 5.0], [low, low], **THIN)
    _length(axes, "G", (x, 0.0), (x, low))
    axes.text(
        joint + 24.0, 0.5 * low, "heel height:\nfrom the glue line\nto the heel cap", va="center", fontsize=8
    )
    axes.text(joint - 22.0, 0.62 * low, "heel", ha="center", fontsize=9)
    axes.text(0.35 * joint, -8.0, "neck", ha="center", va="center", fontsize=9)
    axes.text(joint, top + 5.0, "joint fret", ha="center", fontsize=8)
    axes.set_xlim(-22.0, o.board_end / MM + 34.0)
    axes.set_ylim(low - 6.0, top + 14.0)
    axes.set_aspect("equal", anchor="W")
    _bare(axes, "From the side")


def _joint(structure: Structure, axes: Axes) -> None:
    """Heel and tongue on their shims and the block, with bolts."""
    o, block = structure.outline, structure.block
    _neck_and_board(structure, axes)
    x, corner, low = o.joint / MM, -o.tongue_depth / MM, -o.heel_height / MM
    seat = corner - SHIM_MM
    face = x + SHIM_MM
    stem, shelf, end = face + block.stem / MM, seat - block.shelf / MM, face + block.length / MM
    axes.fill([face, end, end, stem, stem, face], [seat, seat, shelf, shelf, low, low], fc=style.BLOCK,
              ec=style.INK, lw=0.9)  # fmt: skip
    upper, lower = structure.pads[0], structure.pads[1]
    for at in (_box(x + upper.start / MM, x + upper.end / MM, seat, corner),
               _box(x, face, corner - lower.end / MM, corner - lower.start / MM)):  # fmt: skip
        axes.fill(*at.T, fc=style.ORANGE, ec=style.INK, lw=0.7)
    for number, bolt in enumerate(structure.bolts):
        place = bolt.position / MM
        if bolt.face == "heel":
            z, column = corner - place, x - 36.0 - 13.0 * number
            axes.plot([x - bolt.insert_length / MM, stem + 4.0], [z, z], color=style.STEEL, lw=4.0)
            axes.plot([column - 4.0, x], [z, z], zorder=7, **THIN)
            _length(axes, "J", (column, corner), (column, z))
        else:
            axes.plot(
                [x + place] * 2, [corner + bolt.insert_length / MM, shelf - 4.0], color=style.STEEL, lw=4.0
            )
            row = low + 16.0
            axes.plot([x + place] * 2, [row - 4.0, shelf], **THIN)
            _length(axes, "J", (x, row), (x + place, row))
    axes.plot([x - 66.0, x], [corner, corner], zorder=7, **THIN)
    axes.plot(x, corner, "o", color=style.BLUE, ms=6, zorder=9)
    axes.annotate("joint corner", xy=(x, corner), xytext=(x - 58.0, corner + 30.0), fontsize=8, va="center",
                  arrowprops={"arrowstyle": "-", "color": style.QUIET, "lw": 0.7})  # fmt: skip
    leads = (
        ((x + upper.end / MM - 4.0, seat + 1.5), (end + 12.0, seat - 22.0)),
        ((face - 1.5, low + 8.0), (x - 14.0, low - 11.0)),
    )
    for target, spot in leads:
        look = {"arrowstyle": "-", "color": style.BLUE, "lw": 1.0}
        axes.annotate("", xy=target, xytext=spot, arrowprops=look, zorder=8)
        _letter(axes, "H", spot)
    axes.text(end + 2.0, seat - 8.0, "upper shim", fontsize=8, ha="left")
    axes.text(x - 24.0, low - 11.0, "lower shim", fontsize=8, ha="right", va="center")
    axes.text(x + 50.0, 0.5 * corner, "tongue", ha="center", va="center", fontsize=9)
    axes.text(x - 12.0, low + 10.0, "heel", ha="center", fontsize=9)
    axes.text(0.5 * (face + stem), low + 4.0, "neck block", ha="center", fontsize=9)
    axes.set_xlim(x - 92.0, end + 34.0)
    axes.set_ylim(low - 20.0, corner + 40.0)
    axes.set_aspect("equal", anchor="W")
    _bare(axes, "The joint, shims drawn thick")


def _box(left: float, right: float, low: float, high: float) -> Array:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


def _small(axes: Axes, title: str, draw: Any) -> None:
    axes.set_xlim(0.0, 100.0)
    axes.set_ylim(-8.0, 26.0)
    draw(axes)
    _bare(axes, title)


def _bare_board(axes: Axes) -> None:
    x = np.array([2.0, 68.0, 92.0, 96.0])
    top = np.array([8.0, 8.0, 2.0, 1.0])
    axes.fill([*x, 96.0, 2.0], [*top, -6.0, -6.0], **BOARD)
    axes.plot([2.0, 98.0], [9.2, 9.2], **EDGE)
    _length(axes, "F", (92.0, 8.3), (92.0, 2.0), at=(92.0, 18.0))
    _ticks(axes, {4.0: "nut end", 68.0: "joint fret", 84.0: "last fret"})
    axes.text(38.0, 13.5, "straightedge", ha="center", fontsize=8, color=style.STEEL)


def _action(axes: Axes) -> None:
    axes.fill([2.0, 98.0, 98.0, 2.0], [2.0, 2.0, -6.0, -6.0], **BOARD)
    for place in (10.0, 30.0, 50.0, 70.0, 90.0):
        axes.plot([place, place], [2.0, 5.0], color=style.STEEL, lw=4.0, solid_capstyle="round")
    axes.plot([2.0, 98.0], [14.0, 19.0], color=style.INK, lw=1.4)
    _length(axes, "K", (50.0, 6.0), (50.0, 16.3), at=(56.0, 11.0))
    axes.text(20.0, 19.0, "string", fontsize=8, ha="center")
    axes.text(44.0, 8.0, "fret 12", fontsize=8, ha="right")


def _relief(axes: Axes) -> None:
    x = np.linspace(2.0, 98.0, 60)
    top = 8.0 - 6.0 * (1.0 - ((x - 50.0) / 44.0) ** 2)
    axes.fill([*x, 98.0, 2.0], [*top, -6.0, -6.0], **BOARD)
    axes.plot([6.0, 94.0], [9.2, 9.2], **EDGE)
    _length(axes, "L", (50.0, 8.3), (50.0, 2.0), at=(50.0, 17.0))
    axes.text(6.0, 13.5, "fret 1", ha="left", fontsize=8)
    axes.text(94.0, 13.5, "joint fret", ha="right", fontsize=8)


def _ticks(axes: Axes, names: dict[float, str]) -> None:
    for place, name in names.items():
        axes.text(place, 13.5, name, ha="left" if place < 10.0 else "center", fontsize=8)


if __name__ == "__main__":
    style.save(what_to_measure_figure(load("fourteen-mahogany")), FILE)

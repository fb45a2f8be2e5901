"""Constants of cross-sections against closed forms, tables, a textbook and independent programs."""

import math
from itertools import pairwise
from typing import Any

import numpy as np

from fem.members.section import Channel, SectionMaterial, SectionShape, SectionStiffness, section_stiffness

MM, GPA = 1e-3, 1e9
PLAIN = SectionMaterial(young=10 * GPA, shear_xy=1 * GPA, shear_xz=1 * GPA)
STIFF = SectionMaterial(young=17 * GPA, shear_xy=3 * GPA, shear_xz=3 * GPA)


def bar(
    width: float,
    depth: float,
    *,
    board: float = 0.0,
    exponent: float = math.inf,
    radius: float = math.inf,
    channel: Channel | None = None,
) -> SectionShape:
    """Wood under a board [m]; a rectangle unless an exponent is given."""
    return SectionShape(
        width=width,
        neck_depth=depth,
        profile_exponent=exponent,
        board_thickness=board,
        board_radius=radius,
        channel=channel,
    )


def stiffness(shape: SectionShape, *, board: SectionMaterial = PLAIN) -> SectionStiffness:
    """Constants with PLAIN below the glue line."""
    return section_stiffness(shape, neck=PLAIN, board=board)


TWO_LAYERS = bar(40 * MM, 20 * MM, board=6 * MM)
NECK = bar(54 * MM, 17.6 * MM, board=6.35 * MM, exponent=2.3, radius=406 * MM)
SEMICIRCLE = bar(40 * MM, 20 * MM, exponent=2.0)
HOLLOW = bar(40 * MM, 40 * MM, channel=Channel(width=20 * MM, top=-10 * MM, bottom=-30 * MM))

INCH, PSI = 25.4e-3, 6894.757
GERE = bar(4 * INCH, 6 * INCH, board=0.5 * INCH)
GERE_WOOD = SectionMaterial(young=1.5e6 * PSI, shear_xy=1e5 * PSI, shear_xz=1e5 * PSI)
GERE_STEEL = SectionMaterial(young=30e6 * PSI, shear_xy=11.5e6 * PSI, shear_xz=11.5e6 * PSI)


def neck_by_program() -> float:
    """EI about the neutral axis of NECK [N·m2]."""
    return float(by_program(NECK, {"neck": PLAIN.young, "board": STIFF.young}).get_eic()[0]) * MM**2


def by_program(shape: SectionShape, young: dict[str, float]) -> Any:
    """A section in the program sectionproperties, in mm and MPa; ``young`` by neck, board and bars [Pa]."""
    from sectionproperties.analysis import Section
    from sectionproperties.pre import CompoundGeometry, Geometry, Material
    from shapely import Polygon, box, set_precision

    n, half = shape.profile_exponent, shape.width / 2
    # Equal steps of the angle follow the superellipse closely at the sides and at the back alike.
    t = np.linspace(0.0, np.pi, 401)
    across = half * np.sign(np.cos(t)) * np.abs(np.cos(t)) ** (2 / n)
    wood = Polygon(1e3 * np.column_stack([across, -shape.neck_depth * np.sin(t) ** (2 / n)]))
    boxes = [(bar.y, bar.width, bar.bottom, bar.top) for bar in shape.bars]
    boxes += [(0.0, c.width, c.bottom, c.top) for c in (shape.channel,) if c is not None]
    # Its mesher wants neighbours to share their corners, to the last digit.
    edges = {side * abs(y + k * width / 2) for y, width, *_ in boxes for k in (1, -1) for side in (1, -1)}
    y = np.linspace(half, -half, 101)
    under = [[edge, 0.0] for edge in sorted({-half, half, *edges})]
    pieces = [("board", Polygon(1e3 * np.vstack([np.column_stack([y, shape.board_top(y)]), under])))]
    for number, (y, width, bottom, top) in enumerate(boxes):
        hole = box(*(1e3 * v for v in (y - width / 2, bottom, y + width / 2, top)))
        wood = wood.difference(hole)
        if number < len(shape.bars):
            pieces.append(("bars", hole))
    parts = [
        Geometry(set_precision(outline, 1e-5), Material(name, young[name] / 1e6, 0.0, 1.0, 1.0, "w"))
        for name, outline in [("neck", wood), *pieces]
    ]
    section = Section(CompoundGeometry(parts).create_mesh(mesh_sizes=[1.2]))
    section.calculate_geometric_properties()
    return section


def gere() -> SectionStiffness:
    """The wood beam with a steel plate over its full width."""
    return section_stiffness(GERE, neck=GERE_WOOD, board=GERE_STEEL)


def layered_shear() -> float:
    """Shear stiffness of the two-layer bar from its stress by equilibrium, tau = V S(z) / (EI b) [N]."""
    width, bottom, top = 40 * MM, -20 * MM, 6 * MM
    young, shear = (PLAIN.young, STIFF.young), (PLAIN.shear_xz, STIFF.shear_xz)
    levels = (bottom, 0.0, top)
    ea, es, ei = (
        sum(e * width * (b**k - a**k) / k for e, (a, b) in zip(young, pairwise(levels), strict=True))
        for k in (1, 2, 3)
    )
    axis, centroidal = es / ea, ei - es**2 / ea
    points, weights = np.polynomial.legendre.leggauss(8)
    flexibility, moment_below = 0.0, 0.0
    for e, g, (a, b) in zip(young, shear, pairwise(levels), strict=True):
        z = (a + b) / 2 + (b - a) / 2 * points
        moment = moment_below + e * width * ((z - axis) ** 2 - (a - axis) ** 2) / 2
        flexibility += float(weights @ (moment**2)) * (b - a) / 2 / (centroidal**2 * g * width)
        moment_below += e * width * ((b - axis) ** 2 - (a - axis) ** 2) / 2
    return 1 / flexibility


OURS = {
    "section-rectangle-bending": lambda: stiffness(bar(40 * MM, 26 * MM)).ei_centroid,
    "section-semicircle-bending": lambda: stiffness(SEMICIRCLE).ei,
    "section-semicircle-centroid": lambda: stiffness(SEMICIRCLE).neutral_axis,
    "section-superellipse-area": lambda: stiffness(bar(54 * MM, 18 * MM, exponent=2.5)).area,
    "section-hollow-bending": lambda: stiffness(HOLLOW).ei_centroid,
    "section-wood-steel-axis": lambda: 0.5 - gere().neutral_axis / INCH,
    "section-wood-steel-bending": lambda: gere().ei_centroid / (GERE_WOOD.young * INCH**4),
    "section-neck-bending-program": lambda: stiffness(NECK, board=STIFF).ei_centroid,
    "section-rectangle-shear": lambda: (
        stiffness(bar(40 * MM, 26 * MM)).shear_stiffness / (1e9 * 0.040 * 0.026)
    ),
    "section-layered-shear": lambda: stiffness(TWO_LAYERS, board=STIFF).shear_stiffness,
}
OUTSIDE = {
    "section-rectangle-bending": 10e9 * 0.040 * 0.026**3 / 12,
    "section-semicircle-bending": 10e9 * math.pi * 0.020**4 / 8,
    "section-semicircle-centroid": -4 * 0.020 / (3 * math.pi),
    "section-superellipse-area": 2 * 0.027 * 0.018 * math.gamma(1.4) ** 2 / math.gamma(1.8),
    "section-hollow-bending": 10e9 * (0.040**4 - 0.020**4) / 12,
    "section-neck-bending-program": neck_by_program,
    "section-rectangle-shear": 5 / 6,
    "section-layered-shear": layered_shear,
}

"""Constants of cross-sections against closed forms, tables, a textbook and independent programs."""

import math
from functools import cache
from itertools import pairwise

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


def stiffness(
    shape: SectionShape, *, board: SectionMaterial = PLAIN, torsion: bool = False
) -> SectionStiffness:
    """Constants with PLAIN below the glue line."""
    return section_stiffness(shape, neck=PLAIN, board=board, torsion=torsion)


TWO_LAYERS = bar(40 * MM, 20 * MM, board=6 * MM)
NECK = bar(54 * MM, 17.6 * MM, board=6.35 * MM, exponent=2.3, radius=406 * MM)
SEMICIRCLE = bar(40 * MM, 20 * MM, exponent=2.0)
HOLLOW = bar(40 * MM, 40 * MM, channel=Channel(width=20 * MM, top=-10 * MM, bottom=-30 * MM))
WALL = 2 * MM
BOX = bar(40 * MM, 40 * MM, channel=Channel(width=36 * MM, top=-2 * MM, bottom=-38 * MM))

INCH, PSI = 25.4e-3, 6894.757
GERE = bar(4 * INCH, 6 * INCH, board=0.5 * INCH)
GERE_WOOD = SectionMaterial(young=1.5e6 * PSI, shear_xy=1e5 * PSI, shear_xz=1e5 * PSI)
GERE_STEEL = SectionMaterial(young=30e6 * PSI, shear_xy=11.5e6 * PSI, shear_xz=11.5e6 * PSI)


@cache
def neck_by_program() -> tuple[float, float]:
    """EI about the neutral axis and GJ [N·m2] of NECK, by the program sectionproperties."""
    from sectionproperties.analysis import Section
    from sectionproperties.pre import Geometry, Material
    from shapely import Polygon

    half, depth, n = NECK.width / 2 / MM, NECK.neck_depth / MM, NECK.profile_exponent
    angle = np.linspace(0, math.pi, 401)
    across = half * np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** (2 / n)
    back = list(zip(across, -depth * np.sin(angle) ** (2 / n), strict=True))
    radius, y = NECK.board_radius / MM, np.linspace(half, -half, 81)
    top = NECK.board_thickness / MM - radius + np.sqrt(radius**2 - y**2)
    board = [(-half, 0.0), (half, 0.0), *zip(y, top, strict=True)]

    def solved(neck_modulus: float, board_modulus: float) -> Section:
        def named(modulus: float) -> Material:
            return Material("wood", modulus, 0.0, 1.0, 1.0, "white")

        geometry = Geometry(Polygon(back), named(neck_modulus)) + Geometry(
            Polygon(board), named(board_modulus)
        )
        section = Section(geometry.create_mesh(mesh_sizes=[1.5]))
        section.calculate_geometric_properties()
        return section

    bending = solved(PLAIN.young, STIFF.young).get_eic()[0]
    # The program weighs torsion by E; given G in its place and no Poisson's ratio its EJ is GJ.
    twisting = solved(PLAIN.shear_xy, STIFF.shear_xy)
    twisting.calculate_warping_properties()
    return bending * MM**4, twisting.get_ej() * MM**4


def gere() -> SectionStiffness:
    """The wood beam with a steel plate over its full width."""
    return section_stiffness(GERE, neck=GERE_WOOD, board=GERE_STEEL, torsion=False)


def torsion_constant(shape: SectionShape) -> float:
    """J = GJ / G [m4] of a section in one wood."""
    twist = stiffness(shape, torsion=True).torsion_stiffness
    assert twist is not None
    return twist / PLAIN.shear_xy


def box_torsion(side: float, wall: float) -> float:
    """J of a thin square box [m4]: Bredt, the corners as the plane flow problem has them, and the open walls.

    Across a thin wall the stress function falls linearly, so J = 4 A^2 / sum(length/t); a sharp corner counts
    0.54 squares, as heat flow through the edge of two walls does, where the median line would count one.
    """
    enclosed = (side - wall) ** 2
    squares = 4 * (side - 2 * wall) / wall + 4 * 0.54
    return 4 * enclosed**2 / squares + 4 * (side - wall) * wall**3 / 3


TORSION_RATIOS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 10.0)
TORSION_TABLE = (0.141, 0.166, 0.196, 0.229, 0.249, 0.263, 0.281, 0.291, 0.312)


def torsion_table_error() -> float:
    """Largest departure from the table of J / (b t^3) over its aspect ratios."""
    thickness = 10 * MM
    return max(
        abs(torsion_constant(bar(ratio * thickness, thickness)) / (ratio * thickness**4) - tabulated)
        for ratio, tabulated in zip(TORSION_RATIOS, TORSION_TABLE, strict=True)
    )


def torsion_series(ratio: float) -> float:
    """J / (b t^3) of a rectangle, Saint-Venant's series [-]."""
    terms = (math.tanh(n * math.pi * ratio / 2) / n**5 for n in range(1, 60, 2))
    return (1 - 192 / (math.pi**5 * ratio) * sum(terms)) / 3


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
    "section-rectangle-torsion-table": torsion_table_error,
    "section-rectangle-torsion-series": lambda: torsion_constant(bar(30 * MM, 10 * MM)) / (0.030 * 0.010**3),
    "section-semicircle-torsion": lambda: torsion_constant(SEMICIRCLE) / 0.020**4,
    "section-box-torsion": lambda: torsion_constant(BOX),
    "section-two-layer-torsion": lambda: (
        stiffness(TWO_LAYERS, board=STIFF, torsion=True).torsion_stiffness or math.nan
    ),
    "section-neck-torsion-program": lambda: (
        stiffness(NECK, board=STIFF, torsion=True).torsion_stiffness or math.nan
    ),
}
OUTSIDE = {
    "section-rectangle-bending": 10e9 * 0.040 * 0.026**3 / 12,
    "section-semicircle-bending": 10e9 * math.pi * 0.020**4 / 8,
    "section-semicircle-centroid": -4 * 0.020 / (3 * math.pi),
    "section-superellipse-area": 2 * 0.027 * 0.018 * math.gamma(1.4) ** 2 / math.gamma(1.8),
    "section-hollow-bending": 10e9 * (0.040**4 - 0.020**4) / 12,
    "section-neck-bending-program": lambda: neck_by_program()[0],
    "section-rectangle-shear": 5 / 6,
    "section-layered-shear": layered_shear,
    "section-rectangle-torsion-series": torsion_series(3.0),
    "section-semicircle-torsion": math.pi / 2 - 4 / math.pi,
    "section-box-torsion": box_torsion(0.040, WALL),
    "section-neck-torsion-program": lambda: neck_by_program()[1],
}

"""Bars and necks that several rows of cross-section evidence share, and one neck by an independent program."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from fem.members.section import Channel, SectionMaterial, SectionShape, SectionStiffness, section_stiffness

MM = 1e-3
GPA = 1e9
PLAIN = SectionMaterial(young=10 * GPA, shear_xy=1 * GPA, shear_xz=1 * GPA)
STIFF = SectionMaterial(young=17 * GPA, shear_xy=3 * GPA, shear_xz=3 * GPA)


def bare(
    width: float, depth: float, *, exponent: float = math.inf, channel: Channel | None = None
) -> SectionShape:
    """One wood, no board [m]; a rectangle unless an exponent is given."""
    return SectionShape(
        width=width,
        neck_depth=depth,
        profile_exponent=exponent,
        board_thickness=0.0,
        board_radius=math.inf,
        channel=channel,
    )


def stiffness(
    shape: SectionShape, *, board: SectionMaterial = PLAIN, torsion: bool = False
) -> SectionStiffness:
    """Constants with PLAIN below the glue line."""
    return section_stiffness(shape, neck=PLAIN, board=board, torsion=torsion)


TWO_LAYERS = SectionShape(
    width=40 * MM,
    neck_depth=20 * MM,
    profile_exponent=math.inf,
    board_thickness=6 * MM,
    board_radius=math.inf,
)


NECK = SectionShape(
    width=54 * MM,
    neck_depth=17.6 * MM,
    profile_exponent=2.3,
    board_thickness=6.35 * MM,
    board_radius=406 * MM,
)


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

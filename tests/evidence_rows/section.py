"""Areas, axes and bending stiffness of cross-sections against closed forms, a textbook and a program."""

from __future__ import annotations

import math

from fem.members.section import Channel, SectionMaterial, SectionShape, SectionStiffness, section_stiffness
from tests.evidence_rows.mutation import Edited
from tests.evidence_rows.row import Row
from tests.evidence_rows.section_bars import MM, NECK, PLAIN, STIFF, bare, neck_by_program, stiffness

NO_CUBE = Edited(
    "second moment of a rectangle with 1/2 for 1/3",
    "fem.geometry.section_shape:rectangle_moments",
    "/ k ",
    "/ min(k, 2) ",
)
NO_AXIS_SHIFT = Edited(
    "bending stiffness not reduced to the neutral axis",
    "fem.members.section:section_stiffness",
    "ei_centroid=ei - es**2 / ea",
    "ei_centroid=ei",
)
SIGN_OF_ES = Edited(
    "sign of the neutral axis (ES)",
    "fem.members.section:section_stiffness",
    "neutral_axis=es / ea",
    "neutral_axis=-es / ea",
)
NECK_SIGN = Edited(
    "first moment of the neck counted upwards",
    "fem.geometry.section_shape:neck_moments",
    "(-1) ** k",
    "(1) ** k",
)
NECK_BETA = Edited(
    "profile exponent lost in the neck's moments",
    "fem.geometry.section_shape:neck_moments",
    "1.0 + 1.0 / n",
    "1.0",
)
NO_CHANNEL = Edited(
    "rod channel not taken out",
    "fem.members.section:section_integrals",
    "wood = wood - rectangle",
    "wood = wood + 0 * rectangle",
)
ONE_WOOD = Edited(
    "board given the neck's modulus",
    "fem.members.section:section_integrals",
    "board.young * stiff",
    "neck.young * stiff",
)

SEMICIRCLE = bare(40 * MM, 20 * MM, exponent=2.0)
HOLLOW = bare(40 * MM, 40 * MM, channel=Channel(width=20 * MM, top=-10 * MM, bottom=-30 * MM))

INCH, PSI = 25.4e-3, 6894.757
GERE = SectionShape(
    width=4 * INCH,
    neck_depth=6 * INCH,
    profile_exponent=math.inf,
    board_thickness=0.5 * INCH,
    board_radius=math.inf,
)
GERE_WOOD = SectionMaterial(young=1.5e6 * PSI, shear_xy=1e5 * PSI, shear_xz=1e5 * PSI)
GERE_STEEL = SectionMaterial(young=30e6 * PSI, shear_xy=11.5e6 * PSI, shear_xz=11.5e6 * PSI)


def gere() -> SectionStiffness:
    """The wood beam with a steel plate over its full width."""
    return section_stiffness(GERE, neck=GERE_WOOD, board=GERE_STEEL, torsion=False)


EXACT = "both sides are closed forms, so only rounding separates them"
GERE_SOURCE = "Gere, Mechanics of Materials, example 6-1 (wood 4 x 6 in under a 4 x 0.5 in steel plate)"

ROWS = [
    Row(
        "section-rectangle-bending [N·m2]",
        "bending stiffness b h^3/12 of a rectangle 40 x 26 mm, E = 10 GPa, about its neutral axis",
        ours=lambda: stiffness(bare(40 * MM, 26 * MM)).ei_centroid,
        outside=10e9 * 0.040 * 0.026**3 / 12,
        tolerance=f"1e-7 %: {EXACT}",
        source="memory: any text on strength of materials, e.g. Gere, Mechanics of Materials, appendix E",
        mutations=(NO_CUBE, NO_AXIS_SHIFT),
    ),
    Row(
        "section-semicircle-bending [N·m2]",
        "second moment pi r^4/8 of a semicircle about its diameter, r = 20 mm, times E = 10 GPa",
        ours=lambda: stiffness(SEMICIRCLE).ei,
        outside=10e9 * math.pi * 0.020**4 / 8,
        tolerance=f"1e-7 %: {EXACT}",
        source="seen: worked solution page 'moment of inertia of a semicircle' (half of a circle about its diameter)",
        mutations=(NECK_BETA,),
    ),
    Row(
        "section-semicircle-centroid [m]",
        "height of the centroid of a semicircle below its diameter, -4 r/(3 pi), r = 20 mm",
        ours=lambda: stiffness(SEMICIRCLE).neutral_axis,
        outside=-4 * 0.020 / (3 * math.pi),
        tolerance=f"1e-7 %: {EXACT}",
        source="seen: worked solution page 'moment of inertia of a semicircle', centroid 4a/(3 pi)",
        mutations=(SIGN_OF_ES, NECK_SIGN),
    ),
    Row(
        "section-superellipse-area [m2]",
        "area below the glue line, 2 a b Gamma(1 + 1/n)^2/Gamma(1 + 2/n), a = 27, b = 18 mm, n = 2.5",
        ours=lambda: stiffness(bare(54 * MM, 18 * MM, exponent=2.5)).area,
        outside=2 * 0.027 * 0.018 * math.gamma(1.4) ** 2 / math.gamma(1.8),
        tolerance=f"1e-7 %: {EXACT}",
        source="seen: area of a superellipse (Lame curve), formula on a calculator page",
        mutations=(NECK_BETA,),
    ),
    Row(
        "section-hollow-bending [N·m2]",
        "bending stiffness of a square 40 mm with a square hole 20 mm (rod channel), E = 10 GPa",
        ours=lambda: stiffness(HOLLOW).ei_centroid,
        outside=10e9 * (0.040**4 - 0.020**4) / 12,
        tolerance=f"1e-7 %: {EXACT}",
        source="memory: any text on strength of materials, difference of two squares",
        mutations=(NO_CHANNEL,),
    ),
    Row(
        "section-wood-steel-axis [in]",
        "neutral axis of the wood and steel beam, 1.469 in from the steel's outer face",
        ours=lambda: 0.5 - gere().neutral_axis / INCH,
        outside=1.469,
        tolerance="0.05 %: the book prints four digits",
        source=f"memory: {GERE_SOURCE}, h2",
        mutations=(SIGN_OF_ES, ONE_WOOD),
    ),
    Row(
        "section-wood-steel-bending [in4]",
        "bending stiffness of the wood and steel beam as a wooden section, I = 231.3 in^4",
        ours=lambda: gere().ei_centroid / (GERE_WOOD.young * INCH**4),
        outside=231.3,
        tolerance="0.05 %: the book prints four digits",
        source="memory: Gere, Mechanics of Materials, example 6-3 (the beam of example 6-1 by the transformed section)",
        mutations=(NO_AXIS_SHIFT, ONE_WOOD),
    ),
    Row(
        "section-neck-bending-program [N·m2]",
        "EI about the neutral axis of a neck 54 x 17.6 mm, exponent 2.3, under a board 6.35 mm, radius 406 mm",
        ours=lambda: section_stiffness(NECK, neck=PLAIN, board=STIFF, torsion=False).ei_centroid,
        outside=lambda: neck_by_program()[0],
        tolerance="0.05 %: the program takes the curved back as a polygon of 400 sides, inside the curve by about 1e-4",
        source="program: sectionproperties 3.10, run by the tests",
        mutations=(NECK_BETA, NECK_SIGN, ONE_WOOD),
    ),
]

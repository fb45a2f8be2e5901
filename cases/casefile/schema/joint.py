"""The keys of heel, tongue and neck block, shims and bolts."""

from typing import Literal

from cases.casefile.schema.instrument import HANDBOOK_MOISTURE, NO_MEASUREMENT
from cases.casefile.schema.key import (
    ASSUMPTION,
    NUT_FACTOR,
    PRACTICE,
    TORQUE_SCATTER,
    Table,
    computed,
    defaulted,
    label,
    required,
)

Held = Literal["top", "bottom", "back"]


class Heel(Table):
    """The deep end of the neck; its heel face is at the body joint."""

    height_mm: float = required("From the glue line down to the heel cap [mm].", within=(10, 150))
    start_mm: float = defaulted(
        "Where the heel begins: distance from the joint towards the nut [mm].",
        62.0,
        PRACTICE,
        within=(15, 150),
    )
    curve_exponent: float = defaulted(
        "Exponent of the heel's depth from its start to the cap: 1 is straight, larger is hollower [1].",
        2.5,
        ASSUMPTION,
        within=(1, 6),
    )
    width_top_mm: float = computed(
        "Width of the heel at its top, under the fretboard [mm].",
        "0.80 x neck.width_joint_mm; flat-pocket neck.width_joint_mm",
        ASSUMPTION,
        within=(15, 100),
    )
    width_cap_mm: float = computed(
        "Width of the heel at the cap [mm].",
        "22.0; flat-pocket heel.width_top_mm",
        "15-22 mm, " + PRACTICE + " (from memory)",
        within=(6, 100),
    )
    cap_length_mm: float = defaulted(
        "Length of the cap, from the heel face towards the nut [mm].",
        28.0,
        "25-38 mm, " + PRACTICE + " (from memory)",
        within=(5, 140),
    )
    outline_csv: str | None = defaulted(
        "A measured outline in place of the curve: a CSV file of x_mm (from the heel start towards the heel "
        "face) and depth_mm (below the glue line), its path from the case file's folder.",
        None,
        "not given: the curve of curve_exponent",
    )
    mesh: str | None = defaulted(
        "A flat mesh of quadrilaterals in place of outline and mesh, with named parts board, heel, tongue "
        "and block, in mm; its path from the case file's folder.",
        None,
        "not given: meshed by the program",
    )


class Tongue(Table):
    """The tongue, neck wood under the fretboard extension past the body joint; in a flat pocket, the heel."""

    depth_mm: float = computed(
        "Depth of the neck wood under the glue line [mm].",
        "12.0; flat-pocket heel.height_mm",
        PRACTICE,
        within=(3, 40),
    )
    width_mm: float = computed(
        "Width [mm].",
        "0.75 x neck.width_joint_mm; flat-pocket neck.width_joint_mm",
        ASSUMPTION,
        within=(10, 100),
    )
    length_mm: float = computed(
        "Length from the joint [mm].",
        "to the end of the fretboard: distance joint to last fret + instrument.overhang_mm",
        PRACTICE,
        within=(10, 300),
    )


class Block(Table):
    """The wood block inside the body that receives heel and tongue."""

    wood: str = defaulted(
        "Wood of the block, a name of `neckpreload woods` or of `[[woods]]`.", "mahogany-honduran", PRACTICE
    )
    length_mm: float = computed(
        "Length from the heel face towards the bridge; it must carry the whole tongue [mm].",
        "the larger of 75 and tongue.length_mm + 12; flat-pocket tongue.length_mm + 60",
        ASSUMPTION,
        within=(15, 400),
    )
    stem_mm: float = computed(
        "Thickness of the upright part behind the heel face, from the heel face towards the bridge [mm].",
        "40.0; flat-pocket block.length_mm (the body is solid under the pocket)",
        ASSUMPTION,
        within=(10, 400),
    )
    shelf_mm: float = computed(
        "Depth of the part that carries the tongue, under its seat [mm].",
        "15.0; flat-pocket block.height_mm - tongue.depth_mm",
        ASSUMPTION,
        within=(5, 190),
    )
    height_mm: float = computed(
        "From the plane of the glue line down to its lower end, the seat of the tongue included [mm].",
        "heel.height_mm; flat-pocket tongue.depth_mm + 29",
        ASSUMPTION,
        within=(20, 200),
    )
    wall_mm: float | None = computed(
        "Flat pocket: height of the wall behind the heel's end, over its seat [mm].",
        "none; flat-pocket 0.8 x tongue.depth_mm",
        ASSUMPTION,
        within=(3, 40),
    )
    width_mm: float = defaulted("Width across the body [mm].", 80.0, PRACTICE, within=(20, 200))
    grain: Literal["vertical", "lengthwise", "across"] = defaulted(
        "Grain of the block: vertical (top to back), lengthwise (along the strings) or across.",
        "vertical",
        PRACTICE,
    )
    held: tuple[Held, ...] = computed(
        "Edges glued to the body: top (upper face beyond the tongue, to the soundboard), bottom (lower end, "
        "to the back), back (the face towards the bridge).",
        "top and bottom; flat-pocket back",
        PRACTICE,
    )
    moisture_percent: float = defaulted(
        "Moisture content of the block [%].", 12.0, HANDBOOK_MOISTURE, within=(4, 28)
    )
    e_l_gpa: float | None = defaulted(
        "Measured modulus of elasticity along the grain of this block [GPa].",
        None,
        NO_MEASUREMENT,
        within=(3, 30),
    )


class Joint(Table):
    """How neck and body meet."""

    kind: Literal["two-shim", "flat-pocket"] = defaulted(
        "two-shim: tongue and heel both on tapered shims, bolted; flat-pocket: the heel lies in a pocket on "
        "one full-length shim, drawn down by screws or a bolt.",
        "two-shim",
        PRACTICE,
    )
    friction: float = defaulted("Friction of both seats, Coulomb [1].", 0.30, ASSUMPTION, within=(0, 1))
    friction_low: float = defaulted("Lower end of the friction band [1].", 0.15, ASSUMPTION, within=(0, 1))
    friction_high: float = defaulted("Upper end of the friction band [1].", 0.50, ASSUMPTION, within=(0, 1.5))
    end_gap_mm: float | None = computed(
        "Flat pocket: gap between the heel's end and the pocket's wall before bolting [mm].",
        "none; flat-pocket 0, a fitted pocket",
        ASSUMPTION,
        within=(0, 3),
    )


class Shim(Table):
    """A tapered spacer; `upper` lies under the tongue, `lower` between heel face and block, `pocket` under
    the heel in a flat pocket.
    """

    name: str = label("`upper` (under the tongue), `lower` (heel face) or `pocket` (flat pocket).")
    from_mm: float = computed(
        "Where the pad begins: from the joint's corner along the seat [mm].",
        "3; pocket 0",
        ASSUMPTION,
        within=(0, 300),
    )
    to_mm: float = computed(
        "Where the pad ends: from the joint's corner along the seat [mm].",
        "the seat's length - 3 (upper: tongue.length_mm; lower: heel.height_mm - tongue.depth_mm); "
        "pocket tongue.length_mm",
        "full-length taper, " + PRACTICE + "; margin " + ASSUMPTION,
        within=(3, 300),
    )
    bearing_width_mm: float = computed(
        "Width of the seat in contact; both edges together if only the edges touch [mm].",
        "upper, pocket: tongue.width_mm; lower: heel.width_cap_mm",
        ASSUMPTION,
        within=(2, 150),
    )
    thickness_mm: float = defaulted(
        "Thickness in the middle of the pad, the same for every angle in stock, so that a swap turns the "
        "neck without raising it; the thin edge must be at least 0.2 mm [mm].",
        0.9,
        PRACTICE,
        within=(0.2, 10),
    )
    material: str = defaulted("Material, a name of the table of shim materials.", "maple", PRACTICE)
    compliance_um_per_mpa: float = defaulted(
        "Normal compliance of the two contact surfaces, in addition to the shim's own [um/MPa].",
        1.0,
        ASSUMPTION,
        within=(0.05, 100),
    )


class Bolt(Table):
    """A bolt that draws neck and block together, set by torque or by tension."""

    name: str = label("A unique name, by which `--set bolts.NAME.key=value` finds it.")
    face: Literal["heel", "tongue"] = required(
        "heel (through the heel face) or tongue (into the tongue's underside)."
    )
    position_mm: float = required("From the joint's corner along the face [mm].", within=(0, 300))
    angle_deg: float = defaulted(
        "Tilt of its axis, positive = it also pulls the neck into the joint: a tongue bolt towards the "
        "bridge, a heel bolt down on the seat [deg].",
        0.0,
        "square to its face, " + PRACTICE,
        within=(-10, 10),
    )
    diameter_mm: float = defaulted(
        "Diameter of the thread [mm].", 6.0, "M6 or 1/4 in, " + PRACTICE, within=(2, 16)
    )
    torque_n_m: float | None = defaulted(
        "Tightening torque (instead of tension_n) [N m].", None, "see tension_n", within=(0.01, 30)
    )
    tension_n: float | None = defaulted(
        "Tension (instead of torque_n_m) [N].", None, "see torque_n_m", within=(1, 20000)
    )
    nut_factor: float = defaulted(
        "k in torque = k x tension x diameter [1].",
        0.20,
        NUT_FACTOR,
        within=(0.05, 0.6),
    )
    torque_scatter: float = defaulted(
        "Scatter of the tension for a given torque, plus or minus this share [1].",
        0.30,
        TORQUE_SCATTER,
        within=(0, 0.9),
    )
    washer_diameter_mm: float = defaulted(
        "Outer diameter of the washer on the block [mm].", 18.0, "M6 wide washer, from memory", within=(4, 80)
    )
    insert_length_mm: float = defaulted(
        "Length of the threaded insert in the neck [mm].", 12.0, PRACTICE, within=(3, 60)
    )
    insert_diameter_mm: float = defaulted(
        "Outer diameter of the threaded insert [mm].", 9.0, PRACTICE, within=(3, 30)
    )
    young_gpa: float = defaulted(
        "Modulus of the bolt [GPa].", 210.0, "steel: the table of metals", within=(40, 250)
    )


class Hollow(Table):
    """Neck wood that is missing over the joint: a wire slot or a hollow for a pickup."""

    name: str = label("A unique name, by which `--set hollows.NAME.key=value` finds it.")
    from_mm: float = required(
        "Where it begins: from the joint towards the bridge, negative towards the nut [mm].",
        within=(-150, 300),
    )
    to_mm: float = required("Where it ends, likewise [mm].", within=(-150, 300))
    top_mm: float = defaulted("Depth of its top under the glue line [mm].", 0.0, PRACTICE, within=(0, 140))
    bottom_mm: float = required("Depth of its bottom under the glue line [mm].", within=(1, 150))
    width_mm: float = required(
        "Width of wood that is missing; a seat that it opens into needs its own bearing_width_mm [mm].",
        within=(1, 100),
    )

"""The keys of the truss rod and of bars bonded into the neck."""

from typing import Literal

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

STEEL_MODULUS = "steel: the table of metals"
ROD_SLOT = "slot 6.35 mm wide, at least 10.2 mm deep, filler strip 4.8 mm over it, " + PRACTICE


class Rod(Table):
    """The adjustable rod: one-way in a channel that dips in the middle, two-way as a pair that bends."""

    kind: Literal["one-way", "two-way", "none"] = defaulted(
        "one-way (one rod in a dipping channel), two-way (two rods joined at their ends) or none.",
        "one-way",
        PRACTICE,
    )
    start_mm: float = defaulted("Where the rod begins, from the nut [mm].", 12.0, PRACTICE, within=(0, 200))
    end_mm: float = computed(
        "Where the rod ends, from the nut [mm].",
        "where the heel begins: distance nut to joint - heel.start_mm",
        "the rod's effect ends where the heel starts, " + PRACTICE,
        within=(50, 900),
    )
    depth_ends_mm: float = computed(
        "Depth of the rod's axis under the glue line at both ends [mm].",
        "one-way 5.0; two-way 6.0 (the middle between its two rods)",
        PRACTICE,
        within=(0.5, 30),
    )
    depth_middle_mm: float = computed(
        "Depth of the rod's axis under the glue line in the middle of its run [mm].",
        "one-way depth_ends_mm + 6.0; two-way depth_ends_mm (straight)",
        "lowest point about 6 mm (1/4 in) deeper than the ends, " + PRACTICE,
        within=(0.5, 35),
    )
    slot_width_mm: float = defaulted("Width of the channel [mm].", 6.35, ROD_SLOT, within=(2, 20))
    slot_depth_mm: float = computed(
        "Height of the open channel, centred on the rod's axis; the filler strip counts as wood [mm].",
        "one-way 5.4; two-way 11.0; none 0",
        ROD_SLOT,
        within=(0, 25),
    )
    diameter_mm: float = defaulted(
        "Diameter of the rod (two-way: of each of the two) [mm].",
        4.83,
        "10-32 rod, " + PRACTICE,
        within=(2, 12),
    )
    thread_diameter_mm: float = defaulted(
        "Outer diameter of the thread under the nut [mm].", 4.83, "10-32 thread, from memory", within=(2, 12)
    )
    thread_pitch_mm: float = defaulted(
        "Pitch of the thread [mm].", 0.79, "10-32 thread: 25.4/32 mm, from memory", within=(0.2, 2)
    )
    arm_mm: float = defaulted(
        "Two-way rod: distance between the two axes [mm].", 6.0, PRACTICE, within=(2, 15)
    )
    nut_factor: float = defaulted(
        "k in torque = k x tension x thread diameter [1].",
        0.20,
        NUT_FACTOR,
        within=(0.05, 0.6),
    )
    nut_factor_scatter: float = defaulted(
        "Scatter of k, plus or minus this fraction [1].",
        0.30,
        TORQUE_SCATTER,
        within=(0, 0.9),
    )
    limit_torque_n_m: float = defaulted(
        "Working limit of the nut's torque; the rod maker's own limit takes precedence [N m].",
        2.5,
        "derived: about 200 MPa on a 12.9 mm2 stress area at k = 0.20",
        within=(0.2, 20),
    )
    young_gpa: float = defaulted("Modulus of the rod [GPa].", 210.0, STEEL_MODULUS, within=(40, 250))


class Bar(Table):
    """A bar bonded into the neck."""

    name: str = label("A unique name, by which `--set bars.NAME.key=value` finds it.")
    y_mm: float = required(
        "Offset of its centre from the neck's centre line, positive to the treble side [mm].",
        within=(-40, 40),
    )
    depth_mm: float = required("Depth of its centre under the glue line [mm].", within=(0, 40))
    width_mm: float = defaulted("Width [mm].", 3.2, "1/8 x 1/4 in, " + PRACTICE, within=(0.5, 20))
    height_mm: float = defaulted("Height [mm].", 6.4, "1/8 x 1/4 in, " + PRACTICE, within=(0.5, 25))
    material: str = defaulted("Material, a name of the table of metals and bars.", "carbon-bar", PRACTICE)
    start_mm: float = defaulted("Where it begins, from the nut [mm].", 12.0, ASSUMPTION, within=(0, 300))
    end_mm: float = computed(
        "Where it ends, from the nut [mm].",
        "where the heel begins: distance nut to joint - heel.start_mm",
        ASSUMPTION,
        within=(20, 900),
    )

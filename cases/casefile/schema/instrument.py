"""The keys of the instrument's main dimensions, its neck, fretboard and frets."""

from typing import Literal

from cases.casefile.schema.key import PRACTICE, Table, defaulted, label, required

Rings = Literal["quarter", "rift", "flat"]
HANDBOOK_MOISTURE = "state of the wood table: Wood Handbook [fpl2021], Table 5-5, 12 % moisture"
NO_MEASUREMENT = "not given: the value of the wood table is used"


class Instrument(Table):
    """The main dimensions."""

    scale_mm: float = required("Scale length, nut to saddle before compensation [mm].", within=(480, 1000))
    body_joint_fret: int = required("The fret at the body joint, a whole number.", within=(10, 24))
    last_fret: int = required("The last fret of the fretboard, a whole number.", within=(12, 30))
    overhang_mm: float = defaulted("Fretboard beyond the last fret [mm].", 5.0, PRACTICE, within=(0, 30))


class Neck(Table):
    """The neck's wood and shape; both depths are total: fretboard and neck together, without frets."""

    wood: str = required("Wood of the neck, a name of `neckpreload woods` or of `[[woods]]`.")
    width_nut_mm: float = required("Width at the nut [mm].", within=(30, 80))
    width_joint_mm: float = required("Width of the fretboard at the body joint [mm].", within=(35, 100))
    depth_fret1_mm: float = required("Total depth at fret 1, fretboard and neck [mm].", within=(14, 40))
    depth_fret10_mm: float = required("Total depth at fret 10, fretboard and neck [mm].", within=(14, 45))
    profile_exponent: float = defaulted(
        "Exponent of the back's superellipse: 2 half ellipse, larger is fuller, smaller nearer to a V [1].",
        2.0,
        PRACTICE,
        within=(1.2, 4.0),
    )
    ring_orientation: Rings = defaulted(
        "Growth rings in the cross-section: quarter (upright), rift (45 degrees) or flat (lying).",
        "quarter",
        PRACTICE,
    )
    grain_runout_deg: float = defaulted(
        "Angle of the grain to the neck's length in side view, positive = rises towards the body [deg].",
        0.0,
        PRACTICE,
        within=(-15, 15),
    )
    moisture_percent: float = defaulted(
        "Moisture content of the neck wood [%].", 12.0, HANDBOOK_MOISTURE, within=(4, 28)
    )
    e_l_gpa: float | None = defaulted(
        "Measured modulus of elasticity along the grain of this plank [GPa].",
        None,
        NO_MEASUREMENT,
        within=(3, 30),
    )
    density_kg_m3: float | None = defaulted(
        "Measured density of this plank [kg/m3].", None, NO_MEASUREMENT, within=(200, 1400)
    )


class Fretboard(Table):
    """The fretboard; in the cross-section its wood is that over the slots' floor and between the slots."""

    wood: str = required("Wood of the fretboard, a name of `neckpreload woods` or of `[[woods]]`.")
    thickness_mm: float = defaulted(
        "Thickness at the centre line [mm].",
        6.35,
        "6.0-6.5 mm, " + PRACTICE + " (from memory)",
        within=(2.5, 12),
    )
    radius_mm: float = defaulted(
        "Radius of the playing surface across the board [mm].",
        406.0,
        "16 in, " + PRACTICE,
        within=(150, 5000),
    )
    slot_depth_mm: float = defaulted(
        "Depth of the fret slots [mm].", 2.8, "2.5-3.5 mm, " + PRACTICE + " (from memory)", within=(0.5, 8)
    )
    ring_orientation: Rings = defaulted(
        "Growth rings in the cross-section, as for the neck.", "quarter", PRACTICE
    )
    moisture_percent: float = defaulted(
        "Moisture content of the fretboard wood [%].", 12.0, HANDBOOK_MOISTURE, within=(4, 28)
    )
    e_l_gpa: float | None = defaulted(
        "Measured modulus of elasticity along the grain of this board [GPa].",
        None,
        NO_MEASUREMENT,
        within=(3, 35),
    )
    fallaway_mm: float = defaulted(
        "Depth planed off the board at the last fret, below the line from fret 1 to the joint [mm].",
        0.0,
        "none unless planed",
        within=(0, 2),
    )
    planed_relief_mm: float = defaulted(
        "Forward bow planed into the board, largest gap between fret 1 and the joint [mm].",
        0.0,
        "none unless planed",
        within=(0, 1),
    )


class OwnWood(Table):
    """A wood that the table lacks; both values at 12 % moisture."""

    name: str = label("Its name, none of `neckpreload woods`.")
    density_kg_m3: float = required("Density [kg/m3].", within=(200, 1400))
    e_l_gpa: float = required(
        "Modulus of elasticity along the grain; 1.10 times a published bending modulus [GPa].", within=(3, 35)
    )
    relative: str | None = defaulted(
        "Wood of the table whose elastic ratios and shrinkage it takes.",
        None,
        "not given: same first word in the name, else same kind; the nearest in density",
    )
    kind: Literal["hardwood", "softwood"] | None = defaulted(
        "hardwood or softwood, for the relative and the strength across the grain.",
        None,
        "not given: by the name, as spruce; else hardwood",
    )


class Frets(Table):
    """The frets."""

    crown_height_mm: float = defaulted(
        "Height of a fret crown over the board [mm].",
        1.1,
        "0.9-1.2 mm, " + PRACTICE + " (from memory)",
        within=(0.4, 2),
    )

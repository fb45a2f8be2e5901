"""The keys of strings, set-up, bridge, body and targets."""

from typing import Literal

from cases.casefile.schema.key import ASSUMPTION, PRACTICE, Table, computed, defaulted


class Strings(Table):
    """A set by its name, or own strings by gauge or by weight."""

    set: str | None = defaulted(
        "Name of a string set, a name of `neckpreload strings`.",
        None,
        "not given: gauges_in holds own strings",
    )
    gauges_in: tuple[str | float, ...] | None = defaulted(
        'Own gauges, 1st (thinnest) to last: thousandths of an inch as "12", inches as "0.012" [in], or '
        '"0.30mm"; with a `w` for wound, as "24w".',
        None,
        "not given: the set's gauges",
    )
    alloy: str = defaulted(
        "Wrap of own wound strings, a name of the table of alloys.", "phosphor-bronze", PRACTICE
    )
    unit_weights_kg_m: tuple[float, ...] | None = defaulted(
        "Own mass per length, 1st to last, instead of that of the gauges [kg/m].",
        None,
        "not given: from the gauges",
    )
    tuning: str | None = defaulted(
        'Notes from the lowest string to the highest, as "E2 A2 D3 G3 B3 E4"; without octaves, as '
        '"D A D G A D", each is the nearest to the string\'s usual note.',
        None,
        "not given: the set's usual tuning",
    )


class Setup(Table):
    """Heights of the strings; nut height and action are those of the strung guitar with the rod set."""

    nut_height_bass_mm: float = defaulted(
        "Gap between the open string and the crown of fret 1, bass side [mm].",
        0.51,
        "wound 0.020 in, " + PRACTICE,
        within=(0.05, 3),
    )
    nut_height_treble_mm: float = defaulted(
        "Gap between the open string and the crown of fret 1, treble side [mm].",
        0.30,
        "plain 0.012 in, " + PRACTICE,
        within=(0.05, 3),
    )
    action_bass_mm: float = defaulted(
        "Action over the crown of fret 12, bass side [mm].", 2.4, PRACTICE, within=(0.5, 8)
    )
    action_treble_mm: float = defaulted(
        "Action over the crown of fret 12, treble side [mm].", 1.6, PRACTICE, within=(0.5, 8)
    )
    mode: Literal["action", "saddle-fixed"] = defaulted(
        "action: the saddle is cut to the action given; saddle-fixed: the saddle stays, the action follows.",
        "action",
        "the usual order of work, " + PRACTICE,
    )
    saddle_height_mm: float | None = defaulted(
        "For saddle-fixed: height of the strings' underside at the saddle over the glue line's plane [mm].",
        None,
        "not given: solved from the action",
        within=(2, 40),
    )


class Bridge(Table):
    """Bridge, saddle and the top under them."""

    compensation_mm: float = defaulted(
        "Distance of the saddle beyond the scale length, mean of all strings [mm].",
        3.0,
        PRACTICE,
        within=(-5, 12),
    )
    bridge_height_mm: float = defaulted(
        "Height of the bridge over the top [mm].",
        8.0,
        "6.4-7.9 mm, " + PRACTICE + "; rounded up",
        within=(3, 20),
    )
    saddle_projection_mm: float = defaulted(
        "Height of the saddle over the bridge [mm].",
        3.2,
        "1/8 in, " + PRACTICE,
        within=(0.5, 12),
    )
    saddle_lowest_mm: float = defaulted(
        "Lowest usable saddle height over the bridge [mm].", 1.5, PRACTICE, within=(0, 12)
    )
    saddle_highest_mm: float = defaulted(
        "Highest usable saddle height over the bridge [mm].", 5.0, PRACTICE, within=(0.5, 20)
    )
    top_dome_mm: float = defaulted(
        "Rise of the top at the bridge over the top's plane at the joint [mm].",
        3.5,
        "derived: with it the neck-angle formula gives about 1 degree, which is usual (" + PRACTICE + ")",
        within=(-5, 15),
    )
    top_to_board_mm: float = defaulted(
        "Height of the glue line over the top at the joint [mm].",
        0.0,
        "the board lies on the top, " + PRACTICE,
        within=(-5, 30),
    )


class Body(Table):
    """Rotation of the body under the strings; without either key the body is rigid."""

    stiffness_n_m_per_rad: float | None = defaulted(
        "Rotational stiffness of the body at the joint [N m/rad].",
        None,
        "not given: the body is taken as rigid",
        within=(100, 1e8),
    )
    straightedge_drop_mm: float | None = defaulted(
        "Instead: measured drop of the straightedge at the saddle, to pitch from strings slackened after a "
        "first tuning [mm].",
        None,
        "not given: the body is taken as rigid",
        within=(0, 10),
    )


class Targets(Table):
    """Targets of the strung guitar."""

    relief_mm: float = defaulted(
        "Relief with the rod set [mm].",
        0.20,
        "0-0.30 mm, " + PRACTICE,
        within=(0, 1),
    )
    kink_deg: float | None = computed(
        "Kink at the body joint, positive = the tongue rises [deg].",
        "0, unless tongue_gap_mm is given",
        ASSUMPTION,
        within=(-1, 1),
    )
    tongue_gap_mm: float | None = defaulted(
        "Instead of kink_deg: gap at the last fret from the line of frets 1 to the joint, positive = rises "
        "[mm].",
        None,
        "not given: kink_deg holds",
        within=(-2, 2),
    )

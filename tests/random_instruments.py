"""Random instruments of both joint kinds from stated ranges, as the content of case files."""

from typing import Any

from hypothesis import strategies as st

from materials.strings import set_names, string_set, tensions
from materials.wood import wood_names

SCALE_MM = (560.0, 890.0)
PULL_N = (250.0, 1000.0)
"""Together the strings of a drawn instrument pull between these [N]."""
RINGS = ("quarter", "rift", "flat")


def millimetres(low: float, high: float) -> st.SearchStrategy[float]:
    """A measure as a drawing gives it, in tenths."""
    return st.integers(round(10 * low), round(10 * high)).map(lambda tenths: tenths / 10)


def sets_for(scale_mm: float) -> list[str]:
    """Sets that pull within the range at a scale, at their own tuning."""

    def pull(name: str) -> float:
        return sum(one.tension_n for one in tensions(string_set(name), scale=1e-3 * scale_mm))

    return [name for name in set_names() if PULL_N[0] <= pull(name) <= PULL_N[1]]


@st.composite
def _shaft(draw: st.DrawFn) -> dict[str, Any]:
    """Tables of neck, fretboard, rod and strings."""
    scale = draw(millimetres(*SCALE_MM))
    nut = draw(millimetres(38.0, 56.0))
    woods = st.sampled_from(wood_names())
    return {
        "name": "drawn",
        "instrument": {"scale_mm": scale},
        "neck": {
            "wood": draw(woods),
            "width_nut_mm": nut,
            "width_joint_mm": nut + draw(millimetres(8.0, 15.0)),
            "depth_fret1_mm": draw(millimetres(21.0, 24.0)),
            "depth_fret10_mm": draw(millimetres(24.0, 27.0)),
            "profile_exponent": draw(st.sampled_from([1.8, 2.0, 2.4])),
            "ring_orientation": draw(st.sampled_from(RINGS)),
            "moisture_percent": draw(millimetres(6.0, 16.0)),
        },
        "fretboard": {
            "wood": draw(woods),
            "thickness_mm": draw(millimetres(5.0, 7.0)),
            "radius_mm": draw(st.sampled_from([184.0, 254.0, 406.0, 5000.0])),
            "slot_depth_mm": 2.5,
            "ring_orientation": draw(st.sampled_from(RINGS)),
        },
        "rod": {"kind": draw(st.sampled_from(["one-way", "two-way", "none"])), "depth_ends_mm": 6.0},
        "strings": {"set": draw(st.sampled_from(sets_for(scale)))},
        "targets": {"relief_mm": draw(st.sampled_from([0.1, 0.2, 0.3]))},
        "frets": {},
        "stock": {"from_deg": -0.4, "to_deg": 0.4, "step_deg": 0.04},
    }


@st.composite
def two_shim(draw: st.DrawFn) -> dict[str, Any]:
    """An instrument with a full heel on two shims."""
    raw = draw(_shaft())
    joint = draw(st.integers(12, 14))
    raw["instrument"] |= {"body_joint_fret": joint, "last_fret": joint + draw(st.integers(6, 8))}
    raw["rod"]["depth_middle_mm"] = 9.0 if raw["rod"]["kind"] == "one-way" else 6.0
    raw["rod"]["slot_depth_mm"] = {"one-way": 5.4, "two-way": 11.0, "none": 0.0}[raw["rod"]["kind"]]
    raw["heel"] = {
        "height_mm": draw(millimetres(80.0, 100.0)),
        "start_mm": draw(millimetres(45.0, 70.0)),
        "curve_exponent": draw(st.sampled_from([2.0, 2.5, 3.0])),
        "cap_length_mm": draw(millimetres(20.0, 32.0)),
        "width_cap_mm": draw(millimetres(16.0, 26.0)),
    }
    raw["tongue"] = {"depth_mm": draw(millimetres(11.0, 14.0))}
    raw["block"] = {
        "wood": draw(st.sampled_from(wood_names())),
        "stem_mm": draw(millimetres(35.0, 45.0)),
        "grain": draw(st.sampled_from(["vertical", "lengthwise"])),
    }
    raw["shims"] = [{"name": name, "thickness_mm": 1.2} for name in ("upper", "lower")]
    raw["joint"] = {"kind": "two-shim", "friction": draw(st.sampled_from([0.2, 0.3, 0.45]))}
    return raw


@st.composite
def flat_pocket(draw: st.DrawFn) -> dict[str, Any]:
    """An instrument whose heel lies in a pocket on one shim."""
    raw = draw(_shaft())
    joint = draw(st.integers(15, 17))
    raw["instrument"] |= {"body_joint_fret": joint, "last_fret": joint + draw(st.integers(5, 7))}
    two_way = raw["rod"]["kind"] == "two-way"
    raw["rod"] |= {"depth_middle_mm": 6.0 if two_way else 8.0, "slot_depth_mm": 11.0 if two_way else 5.4}
    shaft = raw["neck"]["depth_fret10_mm"] - raw["fretboard"]["thickness_mm"]
    height = round(shaft + draw(millimetres(2.5, 3.5)), 1)
    raw["shims"] = [{"name": "pocket", "thickness_mm": 1.4}]
    raw["stock"] = {"from_deg": -1.0, "to_deg": 1.0, "step_deg": 0.1}
    raw["heel"] = {"height_mm": height, "start_mm": 30.0, "cap_length_mm": 6.0, "curve_exponent": 2.0}
    first, last = (2.0 ** (-fret / 12) for fret in (joint, raw["instrument"]["last_fret"]))
    extension = raw["instrument"]["scale_mm"] * (first - last) + 5.0
    raw["tongue"] = {"length_mm": round(draw(st.sampled_from([0.85, 0.95])) * extension, 1)}
    raw["block"] = {"wood": draw(st.sampled_from(wood_names())), "grain": "lengthwise", "width_mm": 150.0}
    raw["joint"] = {"kind": "flat-pocket", "friction": draw(st.sampled_from([0.2, 0.3, 0.45]))}
    # the board stands over the top so that the bridge in mid range asks for a small taper
    above = 11.3 - raw["fretboard"]["thickness_mm"] + draw(millimetres(-0.5, 0.5))
    raw["bridge"] = {"bridge_height_mm": 9.0, "top_dome_mm": 0.0, "top_to_board_mm": round(above, 1)}
    raw["bridge"] |= {"saddle_projection_mm": 5.5, "saddle_lowest_mm": 2.5, "saddle_highest_mm": 8.0}
    return raw


INSTRUMENTS = st.one_of(two_shim(), flat_pocket())

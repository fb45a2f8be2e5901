"""Each wrong input to the materials is refused with a sentence that says what to give."""

import math
from dataclasses import replace

import pytest

from materials import creep, metal, moisture, orientation, shim, strings
from materials.errors import InputError, MaterialError, NeckpreloadError
from materials.wood import wood

MAPLE, LIGHT, NAN = wood("maple-sugar"), strings.string_set("light"), math.nan


def string(*, gauge_in=0.024, wound=False, **given):
    return strings.own_string(gauge_in=gauge_in, wound=wound, **given)


def tuned(tuning):
    return strings.tensions(LIGHT, scale=0.6477, tuning=tuning)


def test_errors_are_one_family():
    assert issubclass(MaterialError, InputError)
    assert issubclass(InputError, NeckpreloadError)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: creep.kelvin_chain(k_def=60.0), "EN 1995-1-1"),
        (lambda: metal.metal("steal"), "nearest: steel"),
        (lambda: shim.shim_material("mapel"), "nearest: maple"),
        (lambda: moisture.check_moisture(0.12), "12 % is written 12"),
        (lambda: moisture.property_at(0.0, 8.0, moisture=12), "both must be positive"),
        (lambda: moisture.property_at(10.0, 8.0, moisture=12, intersection=12), "take 25"),
        (lambda: moisture.equilibrium_moisture(45.0), r"for 45 % write 0\.45"),
        (lambda: moisture.equilibrium_moisture(1.0), "give it as a fraction"),
        (lambda: moisture.equilibrium_moisture(0.5, 200.0), "degrees Celsius"),
        (lambda: moisture.shrinkage(4.1, moisture=12), r"4\.1 % is 0\.041"),
        (lambda: moisture.shrinkage(0.04, moisture=-1), "give the percentage"),
        (lambda: moisture.temperature_factor_along(70.0), "in that range"),
        (lambda: moisture.temperature_factor_across(-20.0), "in that range"),
        (lambda: moisture.temperature_factor_shear(60.0), "in that range"),
        (lambda: orientation.ring_angle("slab"), "take one of quarter, rift, flat"),
        (lambda: orientation.block_plane_stress(MAPLE, grain="diagonal"), "vertical, lengthwise, across"),
        (lambda: orientation.plane_stress(MAPLE, depth_axis=0.0, runout=3.0), "at most 30 degrees"),
        (lambda: orientation.plane_stress(MAPLE, depth_axis=0.0, runout=NAN), "at most 30 degrees"),
        (lambda: wood("walnut"), "unknown wood 'walnut'; nearest: .*walnut-black.*`neckpreload woods`"),
        (lambda: replace(MAPLE, nu_rt=1.6), r"not positive definite.*nu_RT 1\.6.*or use the table's values"),
        (lambda: replace(MAPLE, g_lt=-1.0), "give a positive number"),
        (lambda: replace(MAPLE, g_lt=math.inf), "give a positive number"),
        (lambda: MAPLE.with_measured(e_l=12.5), r"12\.5 Pa.*give 1 to 50 GPa"),
        (lambda: MAPLE.with_measured(e_l=NAN), "give 1 to 50 GPa"),
        (lambda: MAPLE.with_measured(density=0.5), "give 100 to 1400 kg/m3"),
        (lambda: MAPLE.at_moisture(3.9), "4 to 28 %"),
        (lambda: MAPLE.at_moisture(28.1), "4 to 28 %"),
        (lambda: MAPLE.at_moisture(NAN), "4 to 28 %"),
        (lambda: strings.note_frequency("H2"), "write notes like E2, F#3 or Bb2"),
        (lambda: strings.note_frequency("E9"), "write notes like E2, F#3 or Bb2"),
        (lambda: strings.note_frequency("E#b2"), "write notes like E2, F#3 or Bb2"),
        (lambda: strings.note_frequency("E2", a4=44.0), "ISO 16 sets 440"),
        (lambda: strings.tension(0.0, scale=0.6477, frequency=100.0), "all three must be positive"),
        (lambda: strings.tensions(LIGHT, scale=647.7), r"647\.7 mm is 0\.6477 m"),
        (lambda: strings.tensions(LIGHT, scale=-0.6), "give metres"),
        (lambda: strings.string_set("acoustic-ligth"), "'acoustic-ligth'; nearest: acoustic-light"),
        (lambda: strings.parse_gauge("163"), "is outside 6 to 160 thousandths"),
        (lambda: strings.parse_gauges("53w 42w 32w 24w 16 12"), "start with the 1st, the thinnest"),
        (lambda: strings.parse_gauges(" "), "no gauges are given"),
        (lambda: strings.own_set(["42"], tuning="A2"), "a plain steel string of 0.042 in .* write 42w"),
        (lambda: strings.own_set(["10"] * 6, tuning="E A D"), "names 3 courses, the strings have 6"),
        (lambda: strings.parse_gauge("0.30"), r"for 0\.3 millimetres write 0\.3mm"),
        (lambda: strings.parse_gauge("0"), "give thousandths"),
        (lambda: strings.parse_gauge("12mm"), "give thousandths"),
        (lambda: strings.parse_gauge("light"), "write 12 or 0.012, 24w"),
        (lambda: string(wound=True, alloy="plain-steel"), "for a wound string; take one of phosphor"),
        (lambda: string(alloy="nickel"), "is not for a plain string"),
        (lambda: string(wound=True, alloy="phosfor-bronze"), "nearest: phosphor-bronze"),
        (lambda: string(core_ratio=0.4), "only wound strings have one"),
        (lambda: string(wound=True, core_ratio=1.4), r"0\.2 to 0\.9"),
        (lambda: string(unit_weight_kg_m=0.57), r"1 g/m is 0\.001"),
        (lambda: string(unit_weight_kg_m=-1.0), "give kilograms per metre"),
        (lambda: string(gauge_in=NAN), "give thousandths"),
        (lambda: tuned("E2 A2 D3 G3 B3"), "names 5 courses.*have 6"),
        (lambda: tuned(""), "tuning is empty"),
        (lambda: tuned("E2 A2 D3 G3 B3 X4"), "'X4' is not a note name"),
        (lambda: tuned("E2/E3 A2 D3 G3 B3 E4"), "course 6 of acoustic-light has 1 string and 2 notes"),
    ],
)
def test_wrong_input_says_what_to_give(call, message):
    with pytest.raises(MaterialError, match=message):
        call()

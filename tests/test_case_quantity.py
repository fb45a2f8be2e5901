"""Lengths, angles and settings as a person types them."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases import load
from cases.casefile.errors import CaseError
from cases.casefile.files import loads
from cases.casefile.quantity import is_angle, parse_angle, parse_length
from cases.casefile.setting import parse_setting
from materials.errors import InputError


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1.8mm", 1.8),
        (".071in", 1.8034),
        ("5/64in", 5 / 64 * 25.4),
        ('5/64"', 5 / 64 * 25.4),
        ("1 5/64in", (1 + 5 / 64) * 25.4),
        ("1-5/64 in", (1 + 5 / 64) * 25.4),
        ("-0.5mm", -0.5),
        ("\u22120.5mm", -0.5),
        ("0.6477m", 647.7),
        ("12thou", 0.3048),
        ("1e-1mm", 0.1),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert parse_length(text) == pytest.approx(mm, rel=1e-9)


@pytest.mark.parametrize(
    "text", ["", "mm", "1.8", "1.8kg", "1,8mm", "1/0in", "1.8mm 2", "nan mm", "1e999mm", "--1mm", "5/64/2in"]
)
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(InputError, match="allowed: a number with its unit") as caught:
        parse_length(text, name="--reading")
    assert str(caught.value).startswith("--reading")


def test_angles() -> None:
    assert parse_angle("0.1deg") == 0.1
    assert parse_angle("-0.1 °") == -0.1
    assert parse_angle("0.001rad") == pytest.approx(math.degrees(0.001))
    assert is_angle("0.1deg")
    assert not is_angle("0.1mm")
    assert not is_angle("x")
    with pytest.raises(InputError, match="not known here"):
        parse_angle("0.1mm")


@given(st.integers(0, 40), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_inch_fractions_are_exact(whole: int, top: int, bottom: int) -> None:
    mm = pytest.approx((whole + top / bottom) * 25.4, abs=1e-8)
    assert parse_length(f"{whole} {top}/{bottom}in") == mm
    assert parse_length(f"{whole} {top}/{bottom}", bare_unit="in") == mm


@given(st.text(max_size=12))
def test_any_text_is_a_length_or_a_sentence(text: str) -> None:
    try:
        outcome = f"{parse_length(text, bare_unit='mm'):g}"
    except InputError as error:
        outcome = str(error)
    assert outcome not in ("nan", "inf", "-inf")
    assert outcome.replace(".", "").lstrip("-")[:1].isdigit() or "; allowed: " in outcome


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("neck.e_l_gpa=11.0", ("neck.e_l_gpa", 11.0)),
        ('neck.wood="maple-sugar"', ("neck.wood", "maple-sugar")),
        ("heel.height_mm=3.75in", ("heel.height_mm", 95.25)),
        ("heel.height_mm=15/4", "missing"),
        ("setup.action_bass_mm=5/64in", ("setup.action_bass_mm", 1.984375)),
        ("targets.kink_deg=0.001rad", ("targets.kink_deg", pytest.approx(0.0572957795))),
        ('block.held=["top"]', ("block.held", ["top"])),
        ("strings.tuning=D2 A2 D3 G3 B3 E4", ("strings.tuning", "D2 A2 D3 G3 B3 E4")),
        ("neck.wood", "key=value"),
        ("=3", "key=value"),
        ("a=", "key=value"),
        ("neck.e_l_gpa=12GPa", ("neck.e_l_gpa", 12.0)),
        ("bolts.heel-top.torque_n_m=1.2 N·m", ("bolts.heel-top.torque_n_m", 1.2)),
        (
            "bolts.heel-top.torque_n_m=9 in-lb",
            ("bolts.heel-top.torque_n_m", pytest.approx(1.01686, rel=1e-5)),
        ),
        ("bolts.heel-top.torque_n_m=1.2lbf", "the unit lbf is not known here; .* 1.2 N m, 10 in-lb"),
        ("bolts.tongue.tension_n=163 lbf", ("bolts.tongue.tension_n", pytest.approx(725.06, rel=1e-5))),
        ("neck.density_kg_m3=33 lb/ft3", ("neck.density_kg_m3", pytest.approx(528.61, rel=1e-5))),
        ("neck.e_l_gpa=1.6 Mpsi", ("neck.e_l_gpa", pytest.approx(11.0316, rel=1e-5))),
        ("neck.moisture_percent=12 %", ("neck.moisture_percent", 12.0)),
        (
            "setup.action_bass_mm=2,4mm",
            r"setup.action_bass_mm = 2,4mm: there is a comma .* write it as a point",
        ),
    ],
)
def test_settings(text: str, expected: object) -> None:
    if isinstance(expected, str):
        with pytest.raises(InputError, match=expected):
            parse_setting(text)
    else:
        assert parse_setting(text) == expected


@pytest.mark.parametrize(
    ("key", "typed", "meant"),
    [
        ("neck.moisture_percent", 0.12, "a fraction of one: write 12"),
        ("setup.action_bass_mm", 94.0, "thousandths of an inch: write 2.3876"),
        ("instrument.scale_mm", 25.5, "inches: write 647.7"),
        ("instrument.scale_mm", 0.648, "metres: write 648"),
        ("instrument.scale_mm", 64.8, "centimetres: write 648"),
        ("neck.e_l_gpa", 10340.0, "MPa (N/mm2): write 10.34"),
        ("neck.e_l_gpa", 1.5, "million psi: write 10.3421"),
        ("neck.density_kg_m3", 0.5, "g/cm3: write 500"),
        ("neck.density_kg_m3", 31.2, "lb/ft3: write 499.776"),
        ("bolts.heel-top.torque_n_m", 1200.0, "N mm: write 1.2"),
    ],
)
def test_a_slip_of_the_unit_is_put_right(key: str, typed: float, meant: str) -> None:
    """Conversions by the international inch and pound, to the digits written."""
    with pytest.raises(CaseError, match=re.escape(f"it looks like {meant}")):
        load("fourteen-mahogany").with_values({key: typed})


def test_a_file_may_give_values_with_their_units() -> None:
    changes = {
        "setup.action_bass_mm = 2.4": '"3/32in"',
        "targets.relief_mm = 0.20": '"0.008in"',
        "bolts.heel-top.torque_n_m = 1.2": '"10 in-lb"',
        "stock.to_deg = 0.40": '"0.40°"',
    }
    text = load("fourteen-mahogany").text or ""
    for change, typed in changes.items():
        path, _, number = change.partition(" = ")
        line = f"{path.rpartition('.')[2]} = {number}"
        assert line in text
        text = text.replace(line, f"{path.rpartition('.')[2]} = {typed}", 1)
    case = loads(text)
    assert case.setup.action_bass_mm == 2.38125
    assert case.targets.relief_mm == pytest.approx(0.2032)
    assert case.bolts[0].torque_n_m == pytest.approx(1.129848, rel=1e-6)
    assert case.stock.to_deg == 0.4
    assert sorted(map(str, case.typed))[-1] == 'targets.relief_mm = "0.008in": 0.2032 mm'
    assert {one.path for one in case.typed} == {change.partition(" = ")[0] for change in changes}
    same = case.with_values({"setup.action_treble_mm": "1/16in", "targets.relief_mm": 0.2})
    assert same.setup.action_treble_mm == 1.5875
    assert "targets.relief_mm" not in {one.path for one in same.typed}
    assert loads(case.to_toml()).sha256 == case.sha256


@pytest.mark.parametrize(
    ("path", "typed", "said"),
    [
        ("targets.relief_mm", "0.2 kg", "the unit kg is not known here"),
        ("targets.relief_mm", "1/5", "the unit is missing"),
        ("targets.relief_mm", "2in", "too large; allowed: 0 to 1 mm"),
        ("bolts.heel-top.torque_n_m", "2 lbf", "the unit lbf is not known here"),
        ("joint.friction", "0.3 mm", "write the number alone"),
    ],
)
def test_a_wrong_unit_is_one_sentence(path: str, typed: str, said: str) -> None:
    with pytest.raises(CaseError, match=said) as caught:
        load("fourteen-mahogany").with_values({path: typed})
    assert len(caught.value.problems) == 1
    assert caught.value.problems[0].startswith(path)

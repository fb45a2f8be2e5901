"""A case: its defaults, what it says it assumed, its hash, and copies with other values."""

import json
import re

import pytest

from cases.casefile.case import Case, resolve
from cases.casefile.defaults import field_source, table_models
from cases.casefile.describe import table_rows
from cases.casefile.errors import CaseError
from cases.casefile.files import LIBRARY, library_names, load, loads
from cases.casefile.key_values import LISTS
from cases.casefile.reference_page import case_file_page
from cases.casefile.schema.shop import Stock
from cases.casefile.stringing import strings_of
from materials.strings import string_set
from tests.test_house import ROOT

TWELVE = """
[instrument]
scale_mm = 647.7
body_joint_fret = 14
last_fret = 20
[neck]
wood = "mahogany-honduran"
width_nut_mm = 43.0
width_joint_mm = 56.0
depth_fret1_mm = 21.5
depth_fret10_mm = 24.0
[fretboard]
wood = "rosewood-indian"
[heel]
height_mm = 90.0
[strings]
set = "acoustic-light"
[stock]
list_deg = [-0.1, 0.0, 0.1]
"""


@pytest.fixture(scope="module")
def twelve() -> Case:
    return loads(TWELVE)


def test_twelve_keys_make_a_case(twelve: Case) -> None:
    assert len(twelve.given) == 12
    assert twelve.name == "unnamed"


def test_each_of_the_twelve_is_needed() -> None:
    lines = TWELVE.strip().splitlines()
    keys = [number for number, line in enumerate(lines) if "=" in line]
    assert len(keys) == 12
    for number in keys:
        with pytest.raises(CaseError, match="missing"):
            loads("\n".join(lines[:number] + lines[number + 1 :]))


def test_computed_defaults(twelve: Case) -> None:
    # Fret positions x = L (1 - 2^(-n/12)), equal temperament: L = 647.7 mm, frets 14 and 20.
    joint, last = 359.18, 443.69
    assert twelve.tongue.length_mm == pytest.approx(last + 5.0 - joint, abs=0.02)
    assert twelve.block.length_mm == pytest.approx(twelve.tongue.length_mm + 12.0)
    assert twelve.rod.end_mm == pytest.approx(joint - 62.0, abs=0.01)
    assert twelve.heel.width_top_mm == pytest.approx(0.80 * 56.0)
    assert twelve.tongue.width_mm == pytest.approx(0.75 * 56.0)
    assert twelve.block.height_mm == 90.0
    rod = twelve.rod
    assert (rod.depth_ends_mm, rod.depth_middle_mm, rod.slot_depth_mm) == (5.0, 11.0, 5.4)
    two_way = twelve.with_values({"rod.kind": "two-way"}).rod
    assert (two_way.depth_ends_mm, two_way.depth_middle_mm, two_way.slot_depth_mm) == (6.0, 6.0, 11.0)
    assert twelve.with_values({"rod.kind": "none"}).rod.slot_depth_mm == 0.0
    assert twelve.shim("upper").to_mm == pytest.approx(twelve.tongue.length_mm - 3.0)
    assert twelve.shim("lower").to_mm == pytest.approx(90.0 - 12.0 - 3.0)
    assert twelve.shim("upper").bearing_width_mm == twelve.tongue.width_mm
    assert twelve.shim("lower").bearing_width_mm == 22.0
    assert twelve.targets.kink_deg == 0.0


def test_usual_bolts(twelve: Case) -> None:
    # Common practice, no source: under the block's shelf with room for the washer, and low in the heel face.
    places = {bolt.name: (bolt.face, bolt.position_mm) for bolt in twelve.bolts}
    assert places["heel-top"] == ("heel", pytest.approx(twelve.block.shelf_mm + 13.0))
    assert places["heel-low"] == ("heel", pytest.approx(0.73 * (90.0 - 12.0)))
    middle = (twelve.block.stem_mm + twelve.tongue.length_mm) / 2
    assert places["tongue"] == ("tongue", pytest.approx(middle, abs=1e-3))
    taller = twelve.with_values({"heel.height_mm": 99.0})
    assert taller.bolts[1].position_mm == pytest.approx(0.73 * (99.0 - 12.0))


def test_partial_shim_and_bolt_are_completed() -> None:
    case = loads(
        TWELVE
        + '[[shims]]\nname = "lower"\nthickness_mm = 1.2\n'
        + '[[bolts]]\nname = "only"\nface = "heel"\nposition_mm = 40.0\ntension_n = 500\n'
    )
    assert case.shim("lower").thickness_mm == 1.2
    assert case.shim("upper").thickness_mm == load("fourteen-maple").shim("upper").thickness_mm != 1.2
    assert [bolt.name for bolt in case.bolts] == ["only"]
    assert case.bolts[0].nut_factor == 0.20


def test_assumed_lists_every_default_with_a_source(twelve: Case) -> None:
    assumed = {path: (value, source) for path, value, source in twelve.assumed()}
    values = dict(twelve.items())
    expected = {
        path
        for path, value in values.items()
        if value is not None and "." in path and path not in twelve.given and not path.endswith(".name")
    }
    assert set(assumed) == expected
    assert all(source for _, source in assumed.values())
    assert all(values[path] == value for path, (value, _) in assumed.items())
    assert "fret" not in assumed["bolts.heel-top.torque_n_m"][1]
    assert "washer" in assumed["bolts.heel-top.torque_n_m"][1]


def test_every_default_of_the_schema_has_a_source_and_every_key_a_meaning() -> None:
    for table, model in table_models(Case).items():
        for key, field in model.model_fields.items():
            assert field.description, f"{table}.{key}"
            if not field.is_required() or field.json_schema_extra:
                assert field_source(field), f"{table}.{key}"


def test_hash_follows_meaning_not_form(twelve: Case) -> None:
    same = loads("# a remark\n" + TWELVE.replace("647.7", "6.477e2").replace("90.0", "90"))
    spelled_out = loads(TWELVE + "[frets]\ncrown_height_mm = 1.1\n")
    assert same.sha256 == twelve.sha256 == spelled_out.sha256
    assert twelve.with_values({"frets.crown_height_mm": 1.11}).sha256 != twelve.sha256


def test_with_values_leaves_the_case_alone(twelve: Case) -> None:
    before = twelve.sha256
    other = twelve.with_values(
        {"neck.e_l_gpa": 11.0, "bolts.heel-top.torque_n_m": 2, "shims.upper.to_mm": 60}
    )
    assert (other.neck.e_l_gpa, other.bolts[0].torque_n_m, other.shim("upper").to_mm) == (11.0, 2.0, 60.0)
    assert other.bolts[1] == twelve.bolts[1]
    assert twelve.sha256 == before
    assert "neck.e_l_gpa" in other.given
    assert other.with_values({"neck.e_l_gpa": None}).neck.e_l_gpa is None


def test_own_strings_by_gauge_and_by_weight(twelve: Case) -> None:
    gauges = ["0.012", 0.016, "0.024w", "0.032w", "0.042w", "0.053w"]
    own = twelve.with_values({"strings.gauges_in": gauges})
    assert strings_of(own.strings).courses == string_set("acoustic-light").courses
    weights = [0.0005, 0.001, 0.002, 0.0035, 0.006, 0.010]
    weighed = own.with_values({"strings.unit_weights_kg_m": weights})
    assert [course[0].unit_weight_kg_m for course in strings_of(weighed.strings).courses] == weights
    assert strings_of(twelve.strings) == string_set("acoustic-light")


def test_numeric_keys_can_all_be_set_to_what_they_are(twelve: Case) -> None:
    keys = twelve.numeric_keys()
    assert {"heel.height_mm", "bolts.tongue.torque_n_m", "shims.lower.thickness_mm"} <= set(keys)
    assert "neck.wood" not in keys
    same = twelve.with_values({key: twelve.value(key) for key in keys})
    assert same.sha256 == twelve.sha256


def test_stock_angles() -> None:
    angles = Stock(from_deg=-0.4, to_deg=0.4, step_deg=0.04).angles_deg()
    assert angles == tuple(round(0.04 * number, 2) for number in range(-10, 11))
    assert "-0.00" not in [f"{angle:.2f}" for angle in angles]
    assert Stock(list_deg=(0.1, -0.2, 0.1)).angles_deg() == (-0.2, 0.1)


@pytest.mark.parametrize("name", library_names())
def test_library_case_is_right_and_survives_its_own_text(name: str) -> None:
    case = load(name)
    assert case.name == name
    assert case.text == (LIBRARY / f"{name}.toml").read_text(encoding="utf-8")
    again = loads(case.to_toml())
    assert (again.sha256, again.given) == (case.sha256, case.given)
    assert json.loads(case.model_dump_json())["instrument"]["scale_mm"] == case.instrument.scale_mm


def test_case_file_page_is_what_the_schema_says() -> None:
    page = (ROOT / "docs" / "case-file.md").read_text(encoding="utf-8")
    assert page == case_file_page(), "run: python -m cases.casefile.reference_page > docs/case-file.md"
    for table, model in table_models(Case).items():
        assert (f"## [[{table}]]" if table in LISTS else f"## [{table}]") in page
        assert all(f"| `{key}` |" in page for key in model.model_fields)


def test_the_twelve_keys_of_the_page_are_a_whole_case() -> None:
    (example,) = re.findall(r"## The twelve keys.*?```toml\n(.*?)```", case_file_page(), re.DOTALL)
    given = [
        f"{table}.{row.key}"
        for table, model in table_models(Case).items()
        if table not in LISTS
        for row in table_rows(model)
        if row.default == "required"
    ]
    assert set(loads(example).given) == {*given, "strings.set", "stock.list_deg"}
    assert len(given) == 10


def test_every_number_of_the_readme_s_case_has_its_source_behind_it() -> None:
    lines = load("fourteen-mahogany").text.splitlines()
    bolts = "torque_n_m = 1.2", "washer_diameter_mm = 25.0"  # in the comment above the bolts
    bare = [line for line in lines if re.search(r"= -?[\d.]+$", line) and line not in bolts]
    assert not bare
    assert sum("  # " in line or '" # ' in line for line in lines) > 60


def test_resolve_does_not_change_its_input() -> None:
    raw = load("twelve-string").model_dump(mode="json", exclude_none=True)
    before = json.dumps(raw)
    resolve(raw, where="test")
    assert json.dumps(raw) == before

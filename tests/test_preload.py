"""The main question from case to answer: what holds always, and what each way of asking does to it."""

import json
import subprocess
import sys
from dataclasses import fields, is_dataclass, replace
from math import isclose

import pytest

from cases import load, loads, preload
from cases.casefile.errors import CaseError
from cases.casefile.files import library_names
from cases.casefile.workshop import Workshop
from cases.offset.answer import Answer
from cases.offset.preload import answer_for
from cases.offset.solve import FINE, solve
from cases.show.text.answer import report
from fem.errors import ConvergenceError, ModelError
from fem.solve.condensation import condense
from fem.solve.offset import find_offset
from materials.wood import wood

TWELVE_KEYS = """
[instrument]
scale_mm = 645.0
body_joint_fret = 14
last_fret = 20
[neck]
wood = "mahogany-honduran"
width_nut_mm = 43.0
width_joint_mm = 56.0
depth_fret1_mm = 21.5
depth_fret10_mm = 24.0
[fretboard]
wood = "ebony-african"
[heel]
height_mm = 92.0
[strings]
set = "acoustic-light"
[stock]
from_deg = -0.3
to_deg = 0.3
step_deg = 0.05
"""


@pytest.fixture(scope="module")
def case():
    return load("fourteen-mahogany")


@pytest.fixture(scope="module")
def answer(case):
    return preload(case)


def _numbers(value, path=""):
    if is_dataclass(value):
        for field in fields(value):
            yield from _numbers(getattr(value, field.name), f"{path}.{field.name}")
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _numbers(item, f"{path}.{key}")
    elif isinstance(value, tuple):
        for number, item in enumerate(value):
            yield from _numbers(item, f"{path}[{number}]")
    elif isinstance(value, float):
        yield path, value


def test_every_number_of_the_answer_is_a_plain_finite_float(answer: Answer) -> None:
    found = list(_numbers(answer))
    assert len(found) > 200
    for path, value in found:
        assert type(value) is float, f"{path} is a {type(value)}"
        assert abs(value) < 1e6, path


def test_the_json_is_the_answer(answer: Answer) -> None:
    back = json.loads(json.dumps(answer.to_dict()))
    assert back["schema"] == 1
    assert back["preload_offset_deg"] == answer.preload_offset_deg
    assert back["states"]["strung"]["relief_mm"] == answer.states["strung"].relief_mm
    assert set(back) == {"schema", *(field.name for field in fields(answer))}


def test_the_strung_state_meets_its_targets(answer: Answer) -> None:
    assert abs(answer.states["strung"].kink_deg) < 1e-8
    assert isclose(answer.relief.set_mm, 0.20, abs_tol=1e-9)
    assert isclose(
        answer.heel_stretch_deg,
        answer.states["strung"].kink_deg - answer.states["bolted"].kink_deg,
        abs_tol=1e-12,
    )
    for state in answer.states.values():
        assert isclose(
            state.kink_deg, state.kink_straightedge_deg + state.kink_relief_part_deg, abs_tol=1e-12
        )


def test_every_run_proves_itself(answer: Answer) -> None:
    checks = answer.checks
    assert checks.residual < 1e-9
    assert checks.force_balance < 1e-8
    assert checks.moment_balance < 1e-8
    assert checks.energy_balance < 1e-8
    assert checks.budget_closure < 1e-8


def test_equal_angles_turn_the_neck_and_leave_the_kink(answer: Answer) -> None:
    # the rest of a half per cent is the wedge's own squeeze: the thick end of a taper gives more
    gain = answer.gain
    assert isclose(gain.shaft_per_upper + gain.shaft_per_lower, 1.0, abs_tol=5e-3)
    assert isclose(gain.kink_per_upper + gain.kink_per_lower, 0.0, abs_tol=5e-3)
    assert isclose(gain.kink_per_lower, answer.shim_transfer, rel_tol=0.01)


def test_pairs_come_from_the_stock_and_the_nearest_is_shown(case, answer: Answer) -> None:
    stock = case.stock.angles_deg()
    assert answer.pairs
    for pair in answer.pairs:
        assert pair.upper_deg in stock
        assert pair.lower_deg in stock
        assert abs(pair.lower_deg - pair.upper_deg - answer.preload_offset_deg) <= 0.5 * 0.04 + 1e-9
    # what rounding leaves is the transfer times what is missing, within the joint's slight curvature
    missing = answer.preload_offset_on_stock_deg - answer.preload_offset_deg
    assert isclose(answer.residual_kink_deg, missing * answer.shim_transfer, rel_tol=0.05)
    lower = answer.shims[1]
    rise = abs(lower.angle_deg) * 3.141592653589793 / 180.0 * 77.0
    assert isclose(lower.thick_edge_mm - lower.thin_edge_mm, rise, rel_tol=1e-3)


def test_the_budget_is_the_change(answer: Answer) -> None:
    budget = answer.budget
    assert isclose(sum(budget.nut_rise_shares_mm.values()), budget.nut_rise_mm, rel_tol=1e-8)
    assert isclose(sum(budget.heel_stretch_shares_deg.values()), budget.heel_stretch_deg, rel_tol=1e-8)
    assert isclose(sum(budget.nut_rise_by_cause_mm.values()), budget.nut_rise_mm, rel_tol=1e-8)
    # the budget's kink has the strung fret of largest relief; the bolted board's own differs a little
    assert isclose(budget.heel_stretch_deg, answer.heel_stretch_deg, rel_tol=0.05)


def test_twelve_keys_are_enough_and_the_rest_is_said() -> None:
    answer = preload(loads(TWELVE_KEYS, where="twelve keys"))
    assert len(answer.assumed) > 60
    assert not any(text.startswith("Bolt ") for text in answer.warnings), "usual bolts suit usual wood"
    effects = [abs(one.effect_deg) for one in answer.assumed if one.effect_deg is not None]
    assert effects == sorted(effects, reverse=True)
    assert effects[0] > 0.01
    keys = {one.key for one in answer.assumed}
    assert "heel.start_mm" in keys
    assert "neck.wood" not in keys
    # a wall of no thickness can be made neither a little thicker nor thinner: it is there or it is not
    numbers = [one for one in answer.assumed if isinstance(one.value, int | float)]
    assert [one.key for one in numbers if one.effect_deg is None] in ([], ["block.wall_mm"])


@pytest.mark.parametrize(
    "key",
    [
        "rod.end_mm",
        "block.height_mm",
        "block.moisture_percent",
        "shims.lower.from_mm",
        "shims.lower.bearing_width_mm",
        "bolts.heel-low.nut_factor",
        "bolts.tongue.angle_deg",
    ],
)
def test_an_effect_is_the_change_that_a_full_run_shows(case, answer: Answer, key: str) -> None:
    """An effect is of first order and on the coarse mesh: a tenth of it, and 0.0001 deg, may be amiss."""
    one = next(one for one in answer.assumed if one.key == key)
    changed = preload(case.with_values({key: one.value + one.step}), effects=False)
    change = changed.preload_offset_deg - answer.preload_offset_deg
    assert abs(change) > 5e-4
    assert isclose(change, one.effect_deg, rel_tol=0.1, abs_tol=1e-4)


def test_the_effect_of_a_pad_that_may_not_grow_is_that_of_a_shorter_one(case, answer: Answer) -> None:
    """A shorter pad moves its pressure, peaked at its end, over the mesh: its effect is good to a quarter."""
    one = next(one for one in answer.assumed if one.key == "shims.upper.to_mm")
    shorter = preload(case.with_values({one.key: one.value - one.step}), effects=False)
    assert isclose(
        answer.preload_offset_deg - shorter.preload_offset_deg, one.effect_deg, rel_tol=0.25, abs_tol=1e-4
    )


def test_heavier_strings_ask_for_more(case, answer: Answer) -> None:
    heavier = preload(case.with_values({"strings.set": "acoustic-medium"}), effects=False)
    assert heavier.preload_offset_deg < answer.preload_offset_deg < 0.0
    assert heavier.relief.rod_slack_mm > answer.relief.rod_slack_mm


def test_a_body_turns_the_neck_and_leaves_the_offset(case, answer: Answer) -> None:
    sprung = preload(case.with_values({"body.stiffness_n_m_per_rad": 5000.0}), effects=False)
    assert isclose(sprung.preload_offset_deg, answer.preload_offset_deg, abs_tol=5e-4)
    # 7 to 10 N m on 5000 N m/rad is 0.08 to 0.12 degrees, and the turn moves the strings a little further
    assert 0.08 < sprung.string_rotation_deg - answer.string_rotation_deg < 0.22
    assert sprung.checks.moment_balance < 1e-8
    measured = preload(case.with_values({"body.straightedge_drop_mm": 1.2}), effects=False)
    drop = measured.states["slack"].saddle_line_mm - measured.states["strung"].saddle_line_mm
    assert isclose(drop, 1.2, rel_tol=0.03)


def test_effects_keep_a_measured_drop() -> None:
    """The body that a drop gives stands in both states compared: a pocket's taper holds its turn."""
    case = load("solid-25").with_values({"body.straightedge_drop_mm": 1.0})
    answer = preload(case)
    one = next(one for one in answer.assumed if one.key == "rod.end_mm")
    longer = preload(case.with_values({one.key: one.value + one.step}), effects=False)
    assert answer.pocket is not None
    assert longer.pocket is not None
    change = longer.pocket.taper_deg - answer.pocket.taper_deg
    assert abs(change) > 2e-3
    assert isclose(change, one.effect_deg, rel_tol=0.1)
    inert = next(one for one in answer.assumed if one.key == "bolts.front-bass.young_gpa")
    assert abs(inert.effect_deg) < 2e-3


def test_a_measured_modulus_does_not_widen_the_band(case, answer: Answer) -> None:
    known = preload(case.with_values({"neck.e_l_gpa": wood("mahogany-honduran").e_l / 1e9}), effects=False)
    assert isclose(known.preload_offset_deg, answer.preload_offset_deg, abs_tol=1e-9)
    before = {share.name: share.deg for share in answer.scatter}
    assert {share.name for share in known.scatter} == before.keys() - {"neck wood"}
    half, whole = (
        0.5 * (one.preload_offset_band_deg[1] - one.preload_offset_band_deg[0]) for one in (known, answer)
    )
    assert isclose(half**2, whole**2 - (1.6449 * before["neck wood"]) ** 2, rel_tol=1e-6)


def test_a_drop_that_the_neck_alone_explains_is_refused(case) -> None:
    with pytest.raises(ModelError, match="leave the key out"):
        preload(case.with_values({"body.straightedge_drop_mm": 0.05}), effects=False)


def test_a_tongue_gap_may_be_the_target(case) -> None:
    answer = preload(case.with_values({"targets.tongue_gap_mm": 0.1}), effects=False)
    assert isclose(answer.states["strung"].tongue_gap_mm, 0.1, abs_tol=1e-7)


def test_a_fixed_saddle_gives_the_same_neck_at_the_same_height(case, answer: Answer) -> None:
    # the height of the strings' underside is the axis' height less the mean radius
    strings = [0.012, 0.016, 0.024, 0.032, 0.042, 0.053]
    pulls = answer.strings.tension_n
    radius = sum(0.5 * 25.4 * g * p for g, p in zip(strings, pulls, strict=True)) / sum(pulls)
    fixed = {"setup.mode": "saddle-fixed", "setup.saddle_height_mm": answer.saddle_height_mm - radius}
    again = preload(case.with_values(fixed), effects=False)
    assert isclose(again.preload_offset_deg, answer.preload_offset_deg, abs_tol=1e-7)


def test_no_pair_in_stock_says_which_end_is_short(case) -> None:
    bare = preload(case.with_values({"stock.list_deg": (0.0, 0.02)}), effects=False)
    assert bare.pairs == ()
    assert bare.preload_offset_on_stock_deg is None
    assert any("No pair in stock" in text and "thin at the heel cap" in text for text in bare.warnings)


def test_a_joint_without_bolts_worth_the_name_is_refused_with_a_remedy(case) -> None:
    loose = {f"bolts.{name}.torque_n_m": 0.05 for name in ("heel-top", "heel-low", "tongue")}
    with pytest.raises((ConvergenceError, ModelError), match="bolt"):
        preload(case.with_values(loose), effects=False)


def test_the_shop_s_own_number_anchors_the_answer(case, answer: Answer) -> None:
    shop = Workshop(
        known_offset_deg=-0.14, known_case="fourteen-mahogany", known_on=60, paper_thickness_mm=0.2
    )
    same = answer_for(case, shop, effects=False)
    assert isclose(same.anchored_offset_deg, -0.14, abs_tol=1e-9)
    assert isclose(same.paper_sheets, 0.5 * answer.paper_sheets, rel_tol=1e-9)
    heavier = answer_for(case.with_values({"strings.set": "acoustic-medium"}), shop, effects=False)
    assert isclose(heavier.anchored_offset_deg + 0.14, heavier.preload_offset_deg - answer.preload_offset_deg)


def test_the_report_says_the_answer_within_a_page(answer: Answer) -> None:
    text = report(answer)
    assert f"{answer.preload_offset_deg:+.3f} deg" in text
    assert len(text.splitlines()) <= 50
    assert "CAUTION" in text
    assert "nan" not in text


def test_the_answer_moves_when_the_case_does(case) -> None:
    shorter = case.with_values({"instrument.scale_mm": 640.0})
    assert shorter.sha256 != case.sha256
    assert (
        preload(shorter, effects=False).strings.total_tension_n
        < preload(case, effects=False).strings.total_tension_n
    )


def test_the_mesh_error_stated_is_no_smaller_than_the_real_one(case, answer: Answer) -> None:
    solved = solve(case)
    finer, _ = condense(solved.structure, FINE.refined(1))
    better = find_offset(replace(solved.question, flexibility=finer), upper=solved.upper)
    error = abs(better.offset - solved.offset.offset) * 180.0 / 3.141592653589793
    assert error < max(0.01 * abs(answer.preload_offset_deg), 0.001)
    assert error <= answer.checks.mesh_error_deg


@pytest.mark.full
@pytest.mark.parametrize("name", library_names())
def test_the_default_mesh_is_within_a_hundredth_of_one_refined_twice(name: str) -> None:
    solved = solve(load(name))
    finest, _ = condense(solved.structure, FINE.refined(2))
    best = find_offset(replace(solved.question, flexibility=finest), upper=solved.upper)
    to_degrees = 180.0 / 3.141592653589793
    error = abs(best.offset - solved.offset.offset) * to_degrees
    assert error < max(0.01 * abs(solved.offset.offset) * to_degrees, 0.001)
    assert error <= solved.mesh_error * to_degrees


def _command(*words: str, cwd=None) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-m", "cases.cli", *words],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
        timeout=120,
    )


def test_the_command_prints_and_writes(tmp_path) -> None:
    done = _command("offset", "fourteen-maple", "--strings", "acoustic-light", "--out", str(tmp_path / "out"))
    assert done.returncode == 0, done.stderr
    assert "PRELOAD OFFSET" in done.stdout
    written = json.loads((tmp_path / "out" / "fourteen-maple.json").read_text(encoding="utf-8"))
    assert f"{written['preload_offset_deg']:+.3f}" in done.stdout
    picture = (tmp_path / "out" / "fourteen-maple.png").read_bytes()
    assert picture.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("offset", "fourteen-mahagony"), "fourteen-mahogany"),
        (("offset", "fourteen-mahogany", "--strings", "acoustic-ligth"), "acoustic-light"),
        (("offset", "fourteen-mahogany", "--neck-wood", "mahogony"), "mahogany"),
        (("offset", "fourteen-mahogany", "--set", "heel.hight_mm=90"), "heel.height_mm"),
        (("offset", "fourteen-mahogany", "--set", "heel.height_mm"), "key=value"),
        (("offset", "fourteen-mahogany", "--set", "instrument.scale_mm=0.6477"), "scale_mm"),
        (("offset", "fourteen-mahogany", "--out", "/proc/none/here"), "folder"),
    ],
)
def test_a_wrong_word_gets_one_sentence_and_exit_code_two(words, part) -> None:
    done = _command(*words)
    assert done.returncode == 2, done.stderr
    assert part in done.stderr
    assert "Traceback" not in done.stderr


def test_several_errors_of_a_case_come_at_once() -> None:
    with pytest.raises(CaseError) as caught:
        loads(TWELVE_KEYS.replace('"ebony-african"', '"ebonny"').replace("43.0", "4.3"), where="text")
    assert len(caught.value.problems) == 2

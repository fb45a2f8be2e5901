"""The main question from case to answer: relations that always hold, and the effect of each setting."""

import json
from dataclasses import asdict, replace
from math import degrees, isclose, radians

import pytest

from cases import load, loads, preload
from cases.casefile.case import Case
from cases.casefile.files import library_names
from cases.casefile.workshop import Workshop
from cases.offset.answer import Answer
from cases.offset.assumed_effects import offset_change, step_of
from cases.offset.band import offset_band
from cases.offset.preload import answer_of, in_workshop
from cases.offset.solve import FINE, Solved, solve, with_measured_body
from fem.errors import ConvergenceError, ModelError
from fem.solve.condensation import condense
from fem.solve.offset import find_offset
from materials.wood import wood
from tests.command import Command
from tests.instrument import fine_offset_deg, resolved
from tests.pictures import readme_solved
from tests.test_case_schema import TWELVE


@pytest.fixture(scope="module")
def solved() -> Solved:
    return readme_solved()


@pytest.fixture(scope="module")
def case(solved: Solved) -> Case:
    return solved.case


@pytest.fixture(scope="module")
def answer(solved: Solved) -> Answer:
    return answer_of(solved, effects=True)


def test_the_strung_state_meets_its_targets(answer: Answer) -> None:
    assert abs(answer.states["strung"].kink_deg) < 1e-8
    assert isclose(answer.relief.set_mm, 0.20, abs_tol=1e-9)
    stretch = answer.states["strung"].kink_deg - answer.states["bolted"].kink_deg
    assert isclose(answer.heel_stretch_deg, stretch, abs_tol=1e-12)
    for state in answer.states.values():
        parts = state.kink_straightedge_deg + state.kink_relief_part_deg
        assert isclose(state.kink_deg, parts, abs_tol=1e-12)
    balances = [value for name, value in asdict(answer.checks).items() if name != "mesh_error_deg"]
    assert len(balances) == 5
    assert max(balances) < 1e-8


def test_equal_angles_turn_the_neck_and_leave_the_kink(answer: Answer) -> None:
    # the rest of half a per cent is compression of the wedge: its thick end is softer
    gain = answer.gain
    assert isclose(gain.shaft_per_upper + gain.shaft_per_lower, 1.0, abs_tol=5e-3)
    assert isclose(gain.kink_per_upper + gain.kink_per_lower, 0.0, abs_tol=5e-3)
    assert isclose(gain.kink_per_lower, answer.shim_transfer, rel_tol=0.01)


def test_pairs_come_from_the_stock_and_the_nearest_is_shown(case, answer: Answer) -> None:
    stock = case.stock.angles_deg()
    assert answer.pairs
    for pair in answer.pairs:
        assert {pair.upper_deg, pair.lower_deg} <= set(stock)
        assert abs(pair.lower_deg - pair.upper_deg - answer.preload_offset_deg) <= 0.5 * 0.04 + 1e-9
    # the residual is the transfer times the rounding error, within the joint's slight nonlinearity
    missing = answer.preload_offset_on_stock_deg - answer.preload_offset_deg
    assert isclose(answer.residual_kink_deg, missing * answer.shim_transfer, rel_tol=0.05)
    lower = answer.shims[1]
    rise = radians(abs(lower.angle_deg)) * 77.0
    assert isclose(lower.thick_edge_mm - lower.thin_edge_mm, rise, rel_tol=1e-3)


def test_the_budget_is_the_change(answer: Answer) -> None:
    budget = answer.budget
    assert isclose(sum(budget.nut_rise_shares_mm.values()), budget.nut_rise_mm, rel_tol=1e-8)
    assert isclose(sum(budget.heel_stretch_shares_deg.values()), budget.heel_stretch_deg, rel_tol=1e-8)
    assert isclose(sum(budget.nut_rise_by_cause_mm.values()), budget.nut_rise_mm, rel_tol=1e-8)
    # the budget's kink has the strung fret of largest relief; the bolted board's own differs a little
    assert isclose(budget.heel_stretch_deg, answer.heel_stretch_deg, rel_tol=0.05)


def test_twelve_keys_are_enough_and_the_rest_is_said() -> None:
    answer = preload(loads(TWELVE, where="twelve keys"))
    assert len(answer.assumed) > 60
    assert not any(text.startswith("Bolt ") for text in answer.warnings), "usual bolts suit usual wood"
    effects = [abs(one.effect_deg) for one in answer.assumed if one.effect_deg is not None]
    assert effects == sorted(effects, reverse=True)
    assert effects[0] > 0.01
    assert {"heel.start_mm", "neck.wood"} & {one.key for one in answer.assumed} == {"heel.start_mm"}
    # a wall of zero thickness has no step up or down: a pocket has a wall or none
    numbers = [one for one in answer.assumed if isinstance(one.value, int | float)]
    assert [one.key for one in numbers if one.effect_deg is None] in ([], ["block.wall_mm"])


@pytest.mark.parametrize(
    "key", ["rod.end_mm", "block.moisture_percent", "shims.lower.from_mm", "bolts.tongue.angle_deg"]
)
def test_an_effect_is_the_change_that_a_full_run_shows(case, answer: Answer, key: str) -> None:
    """An effect is first order, on the coarse mesh: within a tenth, and 0.0001 deg."""
    one = next(one for one in answer.assumed if one.key == key)
    change = fine_offset_deg(case.with_values({key: one.value + one.step})) - answer.preload_offset_deg
    assert abs(change) > 4e-4
    assert isclose(change, one.effect_deg, rel_tol=0.1, abs_tol=1e-4)


def test_the_effect_of_a_pad_that_may_not_grow_is_that_of_a_shorter_one(case, answer: Answer) -> None:
    """The pressure peak at the pad's end shifts over the mesh, so the effect is accurate to a quarter."""
    one = next(one for one in answer.assumed if one.key == "shims.upper.to_mm")
    shorter = fine_offset_deg(case.with_values({one.key: one.value - one.step}))
    assert isclose(answer.preload_offset_deg - shorter, one.effect_deg, rel_tol=0.25, abs_tol=1e-4)


def test_a_body_turns_the_neck_and_leaves_the_offset(solved: Solved, answer: Answer) -> None:
    sprung = answer_of(resolved(solved, {"body.stiffness_n_m_per_rad": 5000.0}), effects=False)
    assert isclose(sprung.preload_offset_deg, answer.preload_offset_deg, abs_tol=5e-4)
    # 7 to 10 N m on 5000 N m/rad is 0.08 to 0.12 degrees; the rotation displaces the strings a little more
    assert 0.08 < sprung.string_rotation_deg - answer.string_rotation_deg < 0.22
    assert sprung.checks.moment_balance < 1e-8
    measured = answer_of(resolved(solved, {"body.straightedge_drop_mm": 1.2}), effects=False)
    drop = measured.states["slack"].saddle_line_mm - measured.states["strung"].saddle_line_mm
    assert isclose(drop, 1.2, rel_tol=0.03)


def test_effects_keep_a_measured_drop() -> None:
    """A measured drop fixes the body in both states compared: a pocket's taper holds its rotation."""
    case = load("solid-25").with_values({"body.straightedge_drop_mm": 1.0})
    solved = solve(case)
    value = case.rod.end_mm
    effect = offset_change(solved, "rod.end_mm", value)
    longer = fine_offset_deg(case.with_values({"rod.end_mm": value + step_of(value)}))
    change = longer - degrees(solved.offset.offset)
    assert abs(change) > 2e-3
    assert isclose(change, effect, rel_tol=0.1)
    key = "bolts.front-bass.young_gpa"
    assert abs(offset_change(solved, key, case.value(key))) < 2e-3


def test_a_measured_modulus_does_not_widen_the_band(solved: Solved) -> None:
    known = solved.case.with_values({"neck.e_l_gpa": wood("mahogany-honduran").e_l / 1e9})
    assert isclose(fine_offset_deg(known), degrees(solved.offset.offset), abs_tol=1e-9)
    before, after = offset_band(solved), offset_band(replace(solved, case=known))
    names = [{name for name, _, _ in band.scatter} for band in (before, after)]
    assert names[1] == names[0] - {"neck wood"}
    assert before.low < after.low < after.median < after.high < before.high


def test_a_tongue_gap_may_be_the_target(solved: Solved) -> None:
    there = resolved(solved, {"targets.tongue_gap_mm": 0.1})
    gap = there.question.line.tongue_gap(there.question.heights(there.pair.strung))
    assert isclose(1e3 * gap, 0.1, abs_tol=1e-7)


def test_a_fixed_saddle_gives_the_same_neck_at_the_same_height(solved: Solved, answer: Answer) -> None:
    # the height of the strings' underside is the axis' height less the mean radius
    strings = [0.012, 0.016, 0.024, 0.032, 0.042, 0.053]
    pulls = answer.strings.tension_n
    radius = sum(0.5 * 25.4 * g * p for g, p in zip(strings, pulls, strict=True)) / sum(pulls)
    fixed = {"setup.mode": "saddle-fixed", "setup.saddle_height_mm": answer.saddle_height_mm - radius}
    assert isclose(resolved(solved, fixed).offset.offset, solved.offset.offset, abs_tol=1e-9)


def test_no_pair_in_stock_says_which_end_is_short(solved: Solved) -> None:
    bare = answer_of(
        replace(solved, case=solved.case.with_values({"stock.list_deg": (0.0, 0.02)})), effects=False
    )
    assert bare.pairs == ()
    assert bare.preload_offset_on_stock_deg is None
    assert any("No pair in stock" in text and "thin at the heel cap" in text for text in bare.warnings)


def test_what_cannot_be_solved_is_refused_with_a_remedy(solved: Solved) -> None:
    loose = {f"bolts.{name}.torque_n_m": 0.05 for name in ("heel-top", "heel-low", "tongue")}
    with pytest.raises((ConvergenceError, ModelError), match="bolt"):
        resolved(solved, loose)
    with pytest.raises(ModelError, match="leave the key out"):
        with_measured_body(solved.case.with_values({"body.straightedge_drop_mm": 0.05}), solved.question)


def test_the_known_offset_of_a_shop_anchors_the_answer(solved: Solved, answer: Answer, monkeypatch) -> None:
    def known(case: Case, *, effects: bool) -> Answer:
        assert (case.name, case.strings.set) == ("fourteen-mahogany", "acoustic-light")
        return answer

    monkeypatch.setattr("cases.offset.preload.preload", known)
    shop = Workshop(
        known_offset_deg=-0.14, known_case="fourteen-mahogany", known_on=60, paper_thickness_mm=0.2
    )
    same = in_workshop(answer, solved.case, shop)
    assert isclose(same.anchored_offset_deg, -0.14, abs_tol=1e-9)
    assert isclose(same.paper_sheets, 0.5 * answer.paper_sheets, rel_tol=1e-9)
    other = replace(answer, preload_offset_deg=answer.preload_offset_deg - 0.03)
    assert isclose(in_workshop(other, solved.case, shop).anchored_offset_deg, -0.17)


def assert_mesh_error_within(solved: Solved, *, refinements: int) -> None:
    """The offset is within 1 % or 0.001 deg of one on a finer mesh, and the stated error, itself the
    difference of two meshes, is no smaller than the real one to a twentieth.
    """
    finer, _ = condense(solved.structure, FINE.refined(refinements))
    better = find_offset(replace(solved.question, flexibility=finer), upper=solved.upper)
    error = abs(better.offset - solved.offset.offset)
    assert error < max(0.01 * abs(solved.offset.offset), radians(0.001))
    assert error <= 1.05 * solved.mesh_error


def test_the_mesh_error_stated_is_no_smaller_than_the_real_one(solved: Solved, answer: Answer) -> None:
    assert_mesh_error_within(solved, refinements=1)
    assert isclose(answer.checks.mesh_error_deg, degrees(solved.mesh_error))


@pytest.mark.full
@pytest.mark.parametrize("name", library_names())
def test_the_default_mesh_is_within_a_hundredth_of_one_refined_twice(name: str) -> None:
    assert_mesh_error_within(solve(load(name)), refinements=2)


def test_the_command_prints_and_writes(tmp_path, command: Command) -> None:
    folder = tmp_path / "out"
    done = command("offset", "fourteen-maple", "--strings", "acoustic-light", "--out", folder, "--full")
    assert done.code == 0, done.err
    assert "PRELOAD OFFSET" in done.out
    written = json.loads((folder / "fourteen-maple.json").read_text(encoding="utf-8"))
    assert f"{written['preload_offset_deg']:+.3f}" in done.out
    assert (folder / "fourteen-maple.png").read_bytes().startswith(b"\x89PNG")

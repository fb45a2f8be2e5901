"""The reduced model against the full one: held flexibilities, fit, batch, box."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cases import load
from cases.monte_carlo.draws import draw
from cases.monte_carlo.success_rate import Aims, _levers, _same, action_by_upper, gap_target, rates
from cases.monte_carlo.varied_case import VariedCase
from cases.offset.scatter import stiffened
from fem.errors import OutsideBoxError
from fem.geometry.fret_line import FretLine
from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.many.batch import Bench, Necks, bench, taken
from fem.many.matrix_fit import REACH, fit, training_points
from fem.many.moduli import Box, block_ratios, from_ratios, neck_ratios
from fem.many.offsets import Outcome, outcomes
from fem.many.pressure_shape import PressureShape, pressure_shape
from fem.many.reduced_model import ReducedModel, build
from fem.many.start import start_of
from fem.many.substructure import (
    MeshedInstrument,
    block_flexibility,
    grounded,
    layout,
    mesh_instrument,
    neck_flexibility,
)
from fem.results.reading import string_height
from fem.solve import assembly
from fem.solve.condensation import condense, grounding
from fem.solve.equilibrium import State
from fem.solve.offset import Offset, Pair, Question, find_offset, other_state, pair
from fem.solve.widening import widened
from materials.errors import InputError

CASE = "fourteen-mahogany"
ROUGH = MeshSize(corner=8e-3, far=30e-3, growth=4.0, curve=8e-3)
BOX = Box(np.array([0.3, 0.3, 0.5, 0.3]), np.array([0.3, 0.3]))
ONE = np.ones(8)


@cache
def model() -> VariedCase:
    case = load(CASE)
    return VariedCase(case, case)


@cache
def reduced() -> ReducedModel:
    """Degree 2 on a coarse mesh: quick, with errors large enough to be seen."""
    return build(model(), BOX, size=ROUGH, degree=2)


def relative(found: np.ndarray, exact: np.ndarray) -> float:
    scale = np.sqrt(np.diag(exact))
    return float(np.abs((found - exact) / np.outer(scale, scale)).max())


@cache
def base() -> tuple[Question, Offset, Bench]:
    question = model().question(reduced().flexibility(ONE))
    return question, find_offset(question, upper=0.0), bench(reduced(), question)


def drawn(count: int) -> Necks:
    question, offset, _ = base()
    rng = np.random.default_rng(4)

    def factor(spread: float, *shape: int) -> np.ndarray:
        return np.exp(spread * rng.uniform(-1.0, 1.0, shape))

    neck, board, block = factor(0.2, count, 1), factor(0.2, count, 1), factor(0.2, count, 1)
    multiples = np.concatenate(
        [
            neck * np.concatenate([np.ones((count, 1)), factor(0.2, count, 2)], axis=1),
            board * np.concatenate([np.ones((count, 1)), factor(0.2, count, 1)], axis=1),
            block * np.concatenate([np.ones((count, 1)), factor(0.2, count, 2)], axis=1),
        ],
        axis=1,
    )
    return Necks(
        multiples=multiples,
        friction=np.tile(question.friction, (count, 1)) * factor(0.3, count, 1),
        layer=factor(0.5, count, 2),
        bedding=factor(0.5, count, 2),
        bolt_tension=question.bolting.bolt_tension * factor(0.3, count, len(question.bolting.bolt_tension)),
        tension=question.strings.tension * factor(0.05, count),
        angles=np.array(offset.pair.angles) + np.radians(0.04) * rng.uniform(-1.0, 1.0, (count, 2)),
    )


def alone(question: Question, necks: Necks, row: int) -> Question:
    """The same neck as a question of the ordinary solver."""
    each = zip(question.pads, necks.layer[row], necks.bedding[row], strict=True)
    pads = tuple(stiffened(pad, k, bedding=surface) for pad, k, surface in each)
    return replace(
        question,
        flexibility=reduced().flexibility(necks.multiples[row]),
        pads=pads,
        friction=tuple(necks.friction[row]),
        bolting=replace(question.bolting, bolt_tension=necks.bolt_tension[row]),
        strings=replace(question.strings, tension=float(necks.tension[row])),
    )


@pytest.mark.parametrize("name", [CASE, "long-baritone"])
def test_held_flexibilities_add_up_to_the_grounded_one(name: str):
    """Clamping neck and beam at the tie and releasing them again is exact; 1e-7 of the diagonals is rounding
    from the thin edges.
    """
    case = load(name)
    multiples = np.array([1.1, 0.9, 1.2, 0.8, 1.1, 1.3, 0.9, 1.1])
    structure = VariedCase(case, case).structure(multiples)
    _, fields = condense(structure, ROUGH)
    springs = grounding(structure, fields.plates.points)
    exact, _ = widened(fields.plates, structure, grounding=springs, rows=np.ones(1))
    # meshed for the base case: meshes and rows do not depend on moduli
    at = meshed(VariedCase(case, case).structure(ONE))
    held = neck_flexibility(at, structure) + block_flexibility(at, structure.block_wood)
    own = replace(layout(at), reference=exact.reference)
    assert relative(grounded(own, held).matrix, exact.matrix) < 1e-7


def meshed(structure: Structure) -> MeshedInstrument:
    """With one row across each pad."""
    points = assembly.bodies(structure, ROUGH).points
    count = 2 * sum(len(one.s) for one in points) + len(structure.bolts)
    shape = PressureShape(points, np.eye(count), np.zeros((count, count)))
    return mesh_instrument(structure, ROUGH, shape)


def test_moduli_of_one_body_scale_exactly():
    multiples = np.array([1.3, 1.1, 0.9, 0.8, 1.0, 1.2, 1.1, 0.9])
    at = meshed(model().structure(ONE))
    there = neck_flexibility(at, model().structure(multiples))
    ratios = neck_ratios(multiples[None], bars=False)[0]
    same = neck_flexibility(at, model().structure(from_ratios(ratios, np.zeros(2)))) / multiples[0]
    assert relative(same, there) < 1e-9
    block = block_flexibility(at, model().structure(multiples).block_wood)
    by_ratio = from_ratios(np.zeros(4), block_ratios(multiples[None])[0])
    scaled = block_flexibility(at, model().structure(by_ratio).block_wood) / multiples[5]
    rows = np.diag(block) > 0.0
    assert relative(scaled[np.ix_(rows, rows)], block[np.ix_(rows, rows)]) < 1e-9


def test_ratios_come_back():
    neck, block = np.array([0.1, -0.2, 0.3, 0.05, -0.1]), np.array([0.2, -0.3])
    multiples = from_ratios(neck, block)[None]
    assert neck_ratios(multiples, bars=True)[0] == pytest.approx(neck)
    assert block_ratios(multiples)[0] == pytest.approx(block)


def test_fit_gains_a_digit_with_each_degree():
    """A matrix of compliances in series and in parallel, as in a structure: each degree reduces the error by
    a factor of 3 to 30.
    """
    half = np.array([0.6, 1.0])

    def exact(points: np.ndarray) -> np.ndarray:
        soft = np.exp(-points)
        a, b = soft[:, 0] + 0.5, 1.0 / (1.0 + 1.0 / soft[:, 1])
        return np.moveaxis(np.array([[a, 0.3 * a * b], [0.3 * a * b, b]]), -1, 0)

    test = half / REACH * np.random.default_rng(1).standard_normal((200, 2))
    errors = []
    for degree in (1.2, 2.2, 3.2, 4.2):
        points = training_points(half, degree=degree)
        found = fit(points, exact(points), exact(np.zeros((1, 2)))[0], half=half, degree=degree)
        errors.append(np.abs(found(test) - exact(test)).max())
        assert found(np.zeros((1, 2)))[0] == pytest.approx(exact(np.zeros((1, 2)))[0], abs=1e-14)
    ratio = np.array(errors[:-1]) / errors[1:]
    assert np.all((ratio > 2.0) & (ratio < 40.0))


@cache
def exact() -> tuple[Question, Offset]:
    question = model().question(condense(model().structure(ONE), ROUGH)[0])
    return question, find_offset(question, upper=0.0)


def test_pressure_is_frozen_as_strung_and_not_as_bolted():
    """The forces of points, slips and bolts give those of all rows in the strung state of the case itself; in
    the bolted one they are off by a few per cent of the largest.
    """
    question, found = exact()
    at, reference = question.flexibility.at, question.flexibility.reference
    shape = pressure_shape(question, found.pair, model().structure(ONE))

    def missed(state: State) -> float:
        forces = state.forces - reference * state.displacements
        of_rows, slips, bolts = (forces[at[kind]] for kind in ("opening", "slip", "bolt"))
        points = of_rows.reshape(len(slips), -1).sum(axis=1)
        off = shape.forces @ np.concatenate([points, slips, bolts]) - np.concatenate([of_rows, slips, bolts])
        return float(np.abs(off).max() / of_rows.max())

    assert missed(found.pair.strung) < 1e-7
    assert 1e-3 < missed(found.pair.bolted) < 0.1


@pytest.mark.full
def test_middle_of_the_box_is_the_case_and_the_estimate_covers_the_error():
    """What is left in the middle comes from the bolted state, whose pressure is not the frozen one."""
    _, offset, _ = base()
    left = np.degrees(offset.offset - exact()[1].offset)
    assert 1e-7 < abs(left) < 1e-4
    rng = np.random.default_rng(8)
    covered, errors = 0, []
    for _ in range(6):
        # as far from the middle as the box reaches in one ratio
        direction = rng.standard_normal(6)
        direction /= np.linalg.norm(direction)
        multiples = from_ratios(BOX.neck * direction[:4], BOX.block * direction[4:])
        full, _ = condense(model().structure(multiples), ROUGH)
        true = find_offset(model().question(full), upper=0.0).offset
        question = model().question(reduced().flexibility(multiples))
        found = find_offset(question, upper=0.0, start=offset.pair).offset
        errors.append(abs(np.degrees(found - true)))
        covered += errors[-1] <= reduced().validity.error_estimate_deg(multiples[None])[0]
    assert covered >= 5
    assert max(errors) < 0.001
    assert max(errors) > 1e-6, "tested where the fit is not exact"


def test_answer_takes_key_paths():
    values = {
        "neck.e_l_gpa": 11.0,
        "fretboard.e_l_gpa": 11.5,
        "bolts.heel-low.torque_n_m": 1.0,
        "joint.friction": 0.2,
        "strings.set": "acoustic-medium",
    }
    found = reduced().answer(values)
    changed = load(CASE).with_values(values)
    varied = VariedCase(changed, changed)
    flexibility, _ = condense(varied.structure(ONE), ROUGH)
    exact = find_offset(varied.question(flexibility), upper=varied.upper)
    assert np.degrees(found.offset.offset) == pytest.approx(np.degrees(exact.offset), abs=0.001)
    assert found.question.kink(found.offset.pair.strung) == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < found.error_estimate_deg < 0.01


def test_outside_the_box_it_raises():
    with pytest.raises(OutsideBoxError, match=r"neck across and shear.*full"):
        reduced().answer({"neck.e_l_gpa": 20.0})


@pytest.mark.parametrize(
    "values", [{"heel.height_mm": 90.0}, {"neck.wood": "maple-sugar"}, {"bolts.heel-low.position_mm": 55.0}]
)
def test_what_it_does_not_cover_is_refused(values: dict[str, object]):
    with pytest.raises(InputError, match="does not cover"):
        reduced().answer(values)


def same_as_alone(on: Bench, start: Pair, necks: Necks) -> None:
    """Compare kink, gap, action and rod of each neck on its pair to rounding, its offset to second order of
    the last correction.
    """
    saddle = start.strung.saddle_height
    found = outcomes(on, necks, saddle=saddle, start=start_of(on, start))
    assert found.settled.all()
    for row in range(len(necks)):
        question = alone(on.question, necks, row)
        fixed = replace(question, wanted=replace(question.wanted, height=None, saddle_height=saddle))
        strung = pair(fixed, tuple(necks.angles[row])).strung
        heights = question.heights(strung)
        assert found.kink[row] == pytest.approx(question.line.kink(heights), abs=2e-8)
        assert found.gap[row] == pytest.approx(question.line.tongue_gap(heights), abs=2e-9)
        height = string_height(fixed, strung, question.wanted.height_x)
        assert found.action[row] == pytest.approx(height, abs=2e-9)
        assert found.rod[row] == pytest.approx(strung.rod, abs=1e-3)
        exact = find_offset(question, upper=float(necks.angles[row, 0])).offset
        # a hundredth of the last correction, see fem.many.offsets.SETTLED_ANGLE, and three times that
        assert found.offset[row] == pytest.approx(exact, abs=np.radians(6e-5))


CHANGES = {
    "none": lambda question, offset: {},
    "tongue gap": lambda question, offset: {"target_gap": 1e-4},
    "saddle height": lambda question, offset: {"target_saddle": offset.pair.strung.saddle_height + 5e-4},
    "two-way rod, as much hump as gap": lambda question, offset: {
        "one_way": False,
        "wanted": replace(question.wanted, relief=0.0),
    },
    "body that turns, slack rod": lambda question, offset: {
        "body_stiffness": 2e4,
        "wanted": replace(question.wanted, relief=2e-3),
    },
    "board planed hollow, its tongue falling off": lambda question, offset: {"line": planed(question.line)},
}


def planed(line: FretLine) -> FretLine:
    """A board hollow by 0.05 mm towards the nut, falling off on the tongue."""
    end = line.x[line.joint - 1]
    shape = np.where(line.x < end, -2e-4 * (line.x / end) * (1.0 - line.x / end), -2e-3 * (line.x - end))
    return replace(line, planed=shape)


@pytest.mark.parametrize("change", CHANGES)
def test_batch_is_the_ordinary_solver(change: str):
    question, offset, _ = base()
    changed = replace(question, **CHANGES[change](question, offset))
    at = find_offset(changed, upper=0.0, start=offset.pair).pair
    gaps = changed.line.gap_rows @ changed.heights(at.strung)
    if "hump" in change:
        assert gaps.min() == pytest.approx(-gaps.max(), abs=1e-9)
        assert gaps.max() > 5e-6
    assert (at.strung.rod == 0.0) == ("slack rod" in change)
    assert (np.abs(at.angles[1] - offset.pair.angles[1]) > np.radians(0.004)) == (change != "none")
    same_as_alone(bench(reduced(), changed), at, drawn(4 if change == "none" else 2))


def slopes(shim: int) -> tuple[Outcome, dict[str, np.ndarray]]:
    """Outcomes of some necks, and the slopes of kink, gap and action by one shim's angle."""
    _, offset, on = base()
    start, step = start_of(on, offset.pair), np.radians(2e-4)

    def found(change: float) -> Outcome:
        necks = drawn(4)
        necks = replace(necks, angles=necks.angles + change * (np.arange(2) == shim))
        return outcomes(on, necks, saddle=offset.pair.strung.saddle_height, start=start, offset=False)

    here, there = found(0.0), found(step)
    names = ("kink", "gap", "action")
    return here, {name: (getattr(there, name) - getattr(here, name)) / step for name in names}


def test_derivatives_by_the_lower_shim():
    here, slope = slopes(1)
    for name, value in slope.items():
        assert value == pytest.approx(getattr(here, f"{name}_by_lower"), rel=0.02)


def test_action_by_the_upper_shim_is_a_rigid_turn_less_the_lower_s():
    """To 5 %: the lever takes the joint for the centre, the shims rotate the neck about their own middles."""
    here, slope = slopes(0)
    by_upper = action_by_upper(_levers(load(CASE), base()[2]), here)
    assert slope["action"] == pytest.approx(by_upper, rel=0.05)


def test_another_pair_has_its_saddle_cut_to_suit():
    """Sixteen times the case's own neck on a shim two steps of the stock too low: the pair nearest the median
    neck is another, and the action on it is as wanted to 0.01 mm.
    """
    question, offset, on = base()
    case = load(CASE).with_values({"tolerance.action_mm": 0.01, "tolerance.tongue_gap_mm": 0.2})
    stock = np.radians(case.stock.angles_deg())
    nearest = int(np.argmin(np.abs(stock - offset.offset)))
    lower, step = stock[nearest - 2], stock[nearest] - stock[nearest - 1]
    at = pair(question, question.angles(float(lower), held=0.0), start=offset.pair)
    saddle, start = at.strung.saddle_height, start_of(on, at)
    action = string_height(question, at.strung, question.wanted.height_x)
    aims = Aims(0.0, float(lower), saddle, action, start, at.angles)
    one = outcomes(on, _same(on, aims, np.ones((1, 8))), saddle=saddle, start=start)
    draws, all_alike = draw(case, 16, seed=1), taken(one, np.zeros(16, dtype=np.int64))
    found = rates(case, on, aims, draws, all_alike, bolts=all_alike)
    assert {one.name: one.truth for one in found}["pair nearest the median neck"] == 1.0
    need = -(one.gap[0] - gap_target(on)) / one.gap_by_lower[0]
    assert need > step
    assert need * one.action_by_lower[0] > 2e-5


def test_full_steps_end_by_themselves(monkeypatch: pytest.MonkeyPatch):
    """No neck alternates between slip one way and the other: ten full steps settle all of them."""
    monkeypatch.setattr("fem.many.search.STEPS", 10)
    monkeypatch.setattr("fem.many.search.DAMPED_FROM", 10)
    _, offset, on = base()
    necks = drawn(60)
    start, saddle = start_of(on, offset.pair), offset.pair.strung.saddle_height
    assert outcomes(on, necks, saddle=saddle, start=start, offset=False).settled.all()


def test_a_neck_that_needs_its_rod_takes_it_up_though_the_case_does_not():
    """The search begins at the case's own pair, here with a slack rod; stronger strings need it set."""
    question, offset, _ = base()
    slack = other_state(question, offset.pair, strings=True, rod=0.0)
    relief = 1.05 * question.line.relief(question.heights(slack))[0]
    loose = replace(question, wanted=replace(question.wanted, relief=relief))
    at = find_offset(loose, upper=0.0)
    assert at.pair.strung.rod == 0.0
    on = bench(reduced(), loose)
    necks = replace(
        drawn(2), multiples=np.ones((2, 8)), tension=question.strings.tension * np.array([1.0, 1.3])
    )
    found = outcomes(on, necks, saddle=at.pair.strung.saddle_height, start=start_of(on, at.pair))
    assert found.settled.all()
    assert found.rod[0] == 0.0
    assert found.rod[1] > 0.0
    same_as_alone(on, at.pair, necks)

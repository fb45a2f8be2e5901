"""Creep, moisture, heat against closed forms: growth without stress, a bolt in a swelling stack."""

import json
import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.sparse.linalg import splu

from cases import load
from cases.casefile.errors import CaseError
from cases.commands.drift import parse_range
from cases.offset.build import question_of, rod_stiffness, structure_of
from cases.show.text.drift import _rod, drift_text
from cases.studies.aging import SetUp, readjusted, set_up, untouched
from cases.studies.drift import creep_curve, crept, drift, stock_room, years_until
from cases.studies.season import Season, WeatherStates
from fem.geometry.mesh import MeshSize
from fem.joint.shim_layer import layer
from fem.members import tie
from fem.results.reading import read
from fem.solve import assembly
from fem.solve.condensation import condense, neck_rigid_modes
from fem.solve.offset import pair
from fem.time.free_strain import FreeStrain, beam_stretch, free_strain_load, top_rise, with_free_strain
from fem.time.long_term import Kept, left_alone
from materials.creep import KelvinChain
from materials.errors import InputError
from tests.command import said
from tests.instrument import scaled

COARSE = MeshSize(corner=5e-3, far=20e-3, growth=3.0, curve=5e-3)


@cache
def nylon() -> SetUp:
    """No rod: strings, joint and wood alone."""
    return set_up(load("nylon-twelve"))


@cache
def steel() -> SetUp:
    return set_up(load("fourteen-mahogany"))


@cache
def parts():
    """Structure, flexibility and fields of the mahogany instrument on a coarse mesh."""
    structure = structure_of(load("fourteen-mahogany"))
    return structure, *condense(structure, COARSE)


def test_free_strain_does_no_work_on_rigid_motions():
    """Forces and moment of the load vanish on neck and on block."""
    structure, _, fields = parts()
    body = fields.bodies
    strain = FreeStrain((1e-4, 3e-3), (2e-4, 2e-3), (3e-3, 1e-4))
    load_ = free_strain_load(body, assembly.stiffness_pieces(structure, body), strain)
    modes = neck_rigid_modes(structure, body)
    assert np.abs(modes.T @ load_).max() < 1e-9 * (np.abs(modes).T @ np.abs(load_)).max()
    first = body.line.size + 2 * body.neck.size
    assert abs(load_[first : first + body.block.size].sum()) < 1e-9 * np.abs(load_).sum()


def test_wood_that_grows_alike_stays_straight():
    """Equal strain along, any in depth: the grown shape meets the tie and balances the load without stress;
    the crowns stay on a straight line once the top's rise on the beam counts.
    """
    structure, _, fields = parts()
    body = fields.bodies
    strain = FreeStrain(neck=(1e-3, 5e-3), board=(1e-3, 4e-3))
    pieces = assembly.stiffness_pieces(structure, body)
    grown = np.zeros(body.size)
    grown[: body.line.size] = 1e-3 * beam_stretch(body)
    x, z = body.neck.nodes
    plate = slice(body.line.size, body.line.size + 2 * body.neck.size)
    grown[plate] = np.concatenate([1e-3 * x, np.where(z > 0.0, 4e-3, 5e-3) * z])
    points, weight = tie.edge_points(body.neck, structure.outline.tie)
    share = tie.shear_weights(points, weight, assembly.young_width(structure, structure.outline.tie, points))
    axis = float(share @ (points * np.where(points > 0.0, 4e-3, 5e-3)))
    grown[body.line.dof["w"]] = axis
    # the grown shape lies in what tie and held edges allow
    q = fields.transformation
    held = splu((q.T @ q).tocsc()).solve(q.T @ grown)
    assert np.abs(q @ held - grown).max() < 1e-12
    load_ = free_strain_load(body, pieces, strain)
    assert np.abs(fields.stiffness @ grown - load_).max() < 1e-9 * np.abs(load_).max()
    crowns = (assembly.reading_rows(structure, body).matrix @ grown)[fields.plates.at["crown"]]
    on_beam = structure.frets < structure.outline.tie - 1e-9
    rise = top_rise(structure, body, strain)
    assert crowns + rise * on_beam == pytest.approx(structure.outline.board_thickness * 4e-3, abs=1e-12)
    assert abs(rise) > 2e-5


@pytest.mark.parametrize("strain", [2e-4, -2e-5])
def test_a_bolt_in_a_swelling_stack(strain):
    """Rigid wood and shims: a stem that grows by e over its length L stretches the heel bolts by e L, so that
    their tension changes by k e L; the tongue's bolt, across the growth, keeps its own.
    """
    case = load("fourteen-mahogany")
    plain = structure_of(case)
    structure = replace(scaled(plain, 1e5), held=("back",), bolts=plain.bolts)
    flexibility, fields = condense(structure, COARSE)
    question = replace(question_of(case, flexibility, structure), friction=(0.0, 0.0))
    start = pair(question, (0.0, 0.0))
    grown = with_free_strain(structure, fields, FreeStrain(block=(strain, 0.0)))
    state = left_alone(replace(question, flexibility=grown), Kept(start, rod_stiffness(case)))
    change = state.bolts - start.strung.bolts
    heel = [k for k, bolt in enumerate(structure.bolts) if bolt.face == "heel"]
    expected = question.bolting.bolt_stiffness[heel] * strain * structure.block.stem
    assert change[heel] == pytest.approx(expected, rel=0.02)
    other = [k for k in range(len(change)) if k not in heel]
    assert np.abs(change[other]).max() < 0.02 * abs(expected[0])


def test_creep_is_the_same_as_more_load():
    """Every modulus over 1 + phi, bolts that do not stretch: as if strings and bolts pulled 1 + phi times."""
    start, phi = nylon(), 0.5
    soft = replace(
        start.question.bolting, bolt_stiffness=np.zeros_like(start.question.bolting.bolt_stiffness)
    )
    aged = replace(crept(start, phi, across=1.0), bolting=soft)
    heavy = replace(
        start.question,
        strings=replace(start.question.strings, tension=start.question.strings.tension * (1.0 + phi)),
        bolting=replace(soft, bolt_tension=soft.bolt_tension * (1.0 + phi)),
    )
    one, other = untouched(start, aged, start.kept), untouched(start, heavy, start.kept)
    assert one.relief == pytest.approx(other.relief, rel=1e-6)
    assert one.kink == pytest.approx(other.kink, rel=1e-5, abs=1e-9)
    assert one.action_change == pytest.approx(other.action_change, rel=1e-6)
    fresh = read(start.question, start.offset.pair.strung).relief
    # bow of a shaft under a steady load grows by 1 + phi, a little more by second order
    assert one.relief / fresh == pytest.approx(1.5, rel=0.1)


def test_one_kelvin_element_gives_its_own_curve():
    """phi(t) = a (1 - exp(-t / tau)): the study's interpolation follows the direct solution at that creep."""
    start = nylon()
    chain = KelvinChain((2.0,), (0.6,))
    assert chain.at(2.0) == pytest.approx(0.6 * (1.0 - math.exp(-1.0)))
    curve = creep_curve(start, most=0.6)
    phi = chain.at(2.0)
    direct = untouched(start, crept(start, phi), start.kept)
    assert curve(phi)[0] == pytest.approx(direct.relief, rel=2e-3)
    assert curve(phi)[1] == pytest.approx(direct.kink, abs=np.radians(5e-4))
    assert curve(phi)[2] == pytest.approx(direct.action_change, rel=5e-3)


def test_bolts_and_rod_relax_as_locked():
    """After creep the bolts have lost tension but none pushes; the rod's tension follows its length."""
    start = steel()
    aged = crept(start, 0.6)
    left = left_alone(aged, start.kept)
    fresh = start.kept.pair.strung
    assert np.all(left.bolts < fresh.bolts)
    assert np.all(left.bolts >= 0.0)
    row = aged.flexibility.at["rod"]
    grown = float((left.displacements[row] - fresh.displacements[row])[0])
    assert left.rod - fresh.rod == pytest.approx(start.kept.rod_stiffness * grown, rel=1e-6)
    assert grown < 0.0
    softer, new = (
        layer(pads, aged.flexibility.points, angles=start.kept.pair.angles, friction=aged.friction).normal
        for pads in (aged.pads, start.question.pads)
    )
    assert softer.max() < new.max()


def test_the_stiffness_of_a_rod_is_its_stretching_energy():
    """One rod that is stretched; a pair whose members' ends part and close by half the arm a radian."""
    for name, members, lever in (("fourteen-mahogany", 1, None), ("fourteen-maple", 2, 0.5)):
        rod = load(name).rod
        bar = rod.young_gpa * 1e9 * math.pi * (0.5e-3 * rod.diameter_mm) ** 2
        length = (rod.end_mm - rod.start_mm) * 1e-3
        reach = 1.0 if lever is None else lever * rod.arm_mm * 1e-3
        energy = members * 0.5 * bar / length * reach**2
        assert 0.5 * rod_stiffness(load(name)) == pytest.approx(energy, rel=1e-12)


def test_set_anew_needs_more_rod_and_less_saddle_and_a_one_way_rod_never_pushes():
    """For a target relief above the slack one the readjusted rod stays at zero."""
    start = steel()
    again = readjusted(crept(start, 0.6), start.kept)
    assert again.rod > start.kept.pair.strung.rod
    assert -2e-3 < again.saddle_rise < -1e-4
    assert again.kink > 0.0
    wanted = replace(start.question.wanted, relief=0.9e-3)
    assert readjusted(replace(start.question, wanted=wanted), start.kept).rod == 0.0


def test_no_creep_changes_nothing():
    start = steel()
    left = untouched(start, start.question, start.kept)
    assert left.action_change == pytest.approx(0.0, abs=1e-9)
    assert left.bolt_shares == pytest.approx(1.0, abs=1e-6)
    assert left.relief == pytest.approx(0.2e-3, abs=1e-8)


@cache
def short_study():
    return drift(load("nylon-twelve"), years=20.0, humidity=None, temperature=None)


def test_courses_grow_and_the_band_lies_round_the_middle():
    low, middle, high = short_study().courses
    for name in ("relief_mm", "action_mm", "saddle_cut_mm"):
        values = [getattr(course, name) for course in (low, middle, high)]
        assert all(np.all(np.diff(one) >= 0.0) for one in values)
        assert values[0][-1] < values[1][-1] < values[2][-1]
        assert values[0][0] == pytest.approx(values[2][0])
    assert middle.phi[-1] == pytest.approx(0.54, abs=0.03)
    assert min(middle.bolt_share) > 0.2
    first, last = short_study().across_band_deg
    assert first < middle.kink_deg[-1] < last


def test_years_until_the_saddle_is_used_up_and_what_the_stock_leaves_below_the_pair():
    """A straight line used at 0.1 a year crosses 0.35 after 3.5 years; never is None, at once is 0."""
    times = np.linspace(0.0, 10.0, 21)
    assert years_until(times, 0.1 * times, room=0.35) == pytest.approx(3.5)
    assert years_until(times, 0.1 * times, room=2.0) is None
    assert years_until(times, 0.1 * times + 1.0, room=0.5) == 0.0
    lower = math.degrees(min(nylon().offset.pair.angles))
    assert math.degrees(stock_room(nylon())) == pytest.approx(lower + 0.40)


def test_impossible_wishes_get_one_sentence(monkeypatch):
    # said before a solver is asked
    monkeypatch.setattr("cases.studies.drift.set_up", None)
    wrong = {"creep data": {"years": 80.0}, "--rh": {"humidity": (70.0, 30.0)}}
    for part, wish in (wrong | {"Celsius": {"temperature": (5.0, 90.0)}}).items():
        with pytest.raises(CaseError, match=part):
            drift("nylon-twelve", **wish)


@pytest.mark.parametrize("text", ["30", "dry:wet", "59:86F"])
def test_a_range_is_two_numbers(text):
    with pytest.raises(InputError, match=r"not low:high; .* in degrees Celsius .* write it as 15:30"):
        parse_range("--temperature", text, unit="degrees Celsius", example="15:30")


def test_the_command_prints_and_draws(tmp_path, monkeypatch):
    asked = {}

    def study(case, **arguments):
        asked.update(arguments, case=case.name)
        return short_study()

    monkeypatch.setattr("cases.studies.drift.drift", study)
    words = f"drift nylon-twelve --years 5 --rh none --temperature 10:25 --out {tmp_path}"
    assert "left alone" in said(*words.split())
    assert asked == {"case": "nylon-twelve", "years": 5.0, "humidity": None, "temperature": (10.0, 25.0)}
    written = json.loads((tmp_path / "nylon-twelve-drift.json").read_text(encoding="utf-8"))
    assert written["years"][-1] == pytest.approx(20.0)
    assert (tmp_path / "nylon-twelve-drift.png").stat().st_size > 10_000


def test_a_rod_that_pulls_is_told_in_whole_newtons_and_one_that_turns_in_hundredths():
    scenarios = tuple(
        replace(one, rod=tuple(1000.0 + 10.0 * one.phi[k] for k in range(len(one.phi))), rod_anew=(1500.0,))
        for one in short_study().courses
    )
    text = drift_text(replace(short_study(), courses=scenarios, rod_unit="N"))
    assert re.search(r"^  1 year .* 100\d +\d+ %$", text, flags=re.MULTILINE)
    assert re.search(r"^  middle +1500 ", text, flags=re.MULTILINE)
    assert "e+" not in text
    assert (_rod(0.7), _rod(1083.2)) == ("0.70", "1083")


def test_the_weather_at_which_a_bolt_is_loose_is_told_in_whole_numbers():
    def told(kind: str, unit: str, bolt: tuple[float, ...]) -> str:
        same = (0.1,) * 3
        state = WeatherStates("alike", (30.0, 33.75, 41.25), same, same, same, same, bolt, (1.0, 1.0, 1.2))
        humid = Season(kind, unit, 35.0, None, (state,))
        rows = drift_text(replace(short_study(), humid=humid, warm=None)).splitlines()
        return next(row for row in rows if "WARNING" in row)

    words = "WARNING: at {} a bolt not retightened has lost all tension"
    assert words.format("34 % humidity") in told("humidity", "%", (0.0, 0.0, 0.8))
    # heat may loosen a bolt at the upper end
    assert words.format("41 degC") in told("temperature", "degC", (0.8, 0.3, 0.0))


def test_a_bolt_cannot_push_and_thicker_shims_draw_it():
    """The tongue's bolt grown by a millimetre hangs loose; the heel's bolts hold the neck."""
    start = steel()
    grown = np.array([1e-3 * (bolt.face == "tongue") for bolt in start.case.bolts])
    left = left_alone(start.question, replace(start.kept, bolt_growth=grown))
    assert left.bolts[grown > 0.0] == pytest.approx(0.0, abs=1e-9)
    assert np.all(left.bolts[grown == 0.0] > 100.0)

    # shims that swell by one per cent push neck and block apart: every bolt pulls more
    left = left_alone(start.question, replace(start.kept, shim_swelling=0.01))
    assert np.all(left.bolts > start.kept.pair.strung.bolts + 1.0)

"""The sliders' neck: the full answer where nothing is dragged, the model's own states where something is."""

import asyncio
import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import degrees, radians

import numpy as np
import pytest

from cases import load, preload
from cases.casefile.workshop import Workshop
from cases.offset.preload import nearest_pair
from cases.offset.solve import solve
from cases.page.answer_html import headline_html, pairs_html
from cases.page.desk import Desk
from cases.page.draft import Draft
from cases.page.jobs import RoughStart, full_answer, rough_change
from cases.page.live import Bend, Knobs, Worked, acts_at_once, preview
from cases.page.room import Room
from cases.page.settings import PageSettings
from cases.page.svg import LEAST_MM, kept, neck_pictures, stage_of
from cases.page.work import WorkError, Workroom
from cases.show.text.answer import report
from cases.studies.up_to_pitch import way_to_pitch
from fem.solve.offset import find_offset


@cache
def full(name: str) -> Worked:
    """The page's full answer of a case of the library."""
    found = full_answer(load(name), Workshop())
    assert isinstance(found, Worked)
    return found


@pytest.fixture
def worked() -> Worked:
    return full("fourteen-mahogany")


def test_a_worker_gives_the_commands_answer_and_the_figure_is_the_reports(worked: Worked):
    assert worked.answer == preload(load("fourteen-mahogany"))
    assert f"PRELOAD OFFSET {worked.answer.offset_deg:+z.2f} deg" in report(worked.answer)
    pocket = full("solid-25")
    for one, angle in ((worked, worked.answer.offset_deg), (pocket, pocket.answer.pocket.taper_deg)):
        assert f'id="offset">{angle:+z.2f}°' in headline_html(one, about_deg=None, stale=False)


def test_untouched_sliders_give_the_answers_own_strung_state(worked: Worked):
    state = Bend(worked).state(Knobs())
    said = worked.answer.states["strung"]
    assert state.kink_deg == pytest.approx(said.kink_deg, abs=1e-12)
    assert state.relief_mm == pytest.approx(said.relief_mm, abs=1e-12)
    assert state.action_mm == worked.answer.action_mm
    assert state.nut_rise_mm == pytest.approx(worked.answer.budget.nut_rise_mm, rel=1e-9)
    np.testing.assert_allclose(state.heights_mm, worked.answer.fret_profile.z_strung_mm, atol=1e-12)


def test_the_strings_slider_goes_the_way_to_pitch(worked: Worked):
    """Against the study of the same way, which solves it step by step with the rod slack."""
    way = way_to_pitch(solve(worked.case))
    half = next(step for step in way.steps if step.tension_share == 0.5)
    state = Bend(worked).state(Knobs(strings=0.5, rod=0.0))
    np.testing.assert_allclose(state.heights_mm, half.heights_mm, atol=1e-6)
    off = Bend(worked).state(Knobs(strings=0.0, rod=0.0))
    # strings off on locked bolts is bolting up but for the drag that holds the seats while they are tightened
    # and is then let go (theory, section 5): a fifth of a micrometre
    np.testing.assert_allclose(off.heights_mm, way.steps[0].heights_mm, rtol=0.0, atol=2e-4)
    assert off.action_mm is None


def test_where_a_slider_was_before_leaves_no_trace(worked: Worked):
    straight = Bend(worked).state(Knobs(strings=0.6, neck=0.8))
    roundabout = Bend(worked)
    for knobs in (Knobs(strings=0.0), Knobs(neck=1.5), Knobs(bolts=0.6), Knobs(angles_deg=(0.2, -0.3))):
        roundabout.state(knobs)
    np.testing.assert_allclose(
        roundabout.state(Knobs(strings=0.6, neck=0.8)).heights_mm, straight.heights_mm, atol=1e-7
    )


def test_a_solution_starts_from_the_nearest_one(worked: Worked):
    """Beside a place solved before, Newton's method ends after a step or two; from pitch it takes several."""
    rod = worked.offset.pair.strung.rod

    def steps(*moves: Knobs) -> int:
        bend = Bend(worked)
        return [bend._under_tension(bend._at_pitch(one), one.strings, rod).steps for one in moves][-1]

    low, other = Knobs(strings=0.305), Knobs(strings=0.305, neck=0.8)
    assert steps(low) > 4
    assert steps(replace(low, strings=0.3), replace(low, strings=0.9), low) <= 2
    assert steps(low, Knobs(), replace(other, neck=0.81), other) < steps(other)
    pairs = Bend(worked)._pairs
    far, near = replace(worked.offset.pair, angles=(1.0,)), replace(worked.offset.pair, angles=(2.0,))
    pairs.keep((0.5, 1.0, 0.0, 0.0), far)
    pairs.keep((1.2, 1.0, 0.3, -0.1), near)
    assert pairs.nearest((1.1, 1.0, 0.2, 0.0)) is near


def test_where_a_start_leads_nowhere_another_is_taken(worked: Worked):
    softer, own = Knobs(strings=0.6, neck=0.8), worked.offset.pair
    place = (0.8, 1.0, *map(degrees, own.angles))
    lost = np.full_like(own.strung.displacements, np.nan)
    bend = Bend(worked)
    bend._pairs.keep(place, replace(own, bolted=replace(own.bolted, displacements=lost)))
    bend._states.keep((*place, 0.6, 1.0), lost)
    found = bend.state(softer).heights_mm
    np.testing.assert_allclose(found, Bend(worked).state(softer).heights_mm, atol=1e-7)


def test_dragged_shims_are_the_pairs_own_residuals(worked: Worked):
    one = nearest_pair(worked.answer.pairs, upper_deg=worked.answer.upper_deg)
    state = Bend(worked).state(Knobs(angles_deg=(one.upper_deg, one.lower_deg)))
    assert state.kink_deg == pytest.approx(one.residual_kink_deg, abs=1e-6)
    assert state.angles_deg == pytest.approx((one.upper_deg, one.lower_deg))


def test_bolts_and_wood_move_the_offset_as_the_model_says(worked: Worked):
    for knobs in (Knobs(bolts=1.2), Knobs(neck=0.9)):
        bend = Bend(worked)
        question = bend._question(knobs)
        tension = knobs.bolts * worked.question.bolting.bolt_tension
        np.testing.assert_allclose(question.bolting.bolt_tension, tension)
        full = find_offset(question, upper=worked.upper, start=worked.offset.pair)
        assert radians(bend.state(knobs).offset_deg) == pytest.approx(full.offset, abs=radians(0.002))
        assert full.offset != pytest.approx(worked.offset.offset, abs=radians(0.002))


@pytest.mark.parametrize(
    "values",
    [
        {"targets.relief_mm": 0.1},
        {"shims.lower.thickness_mm": 1.4, "bolts.heel-top.torque_n_m": 1.6, "joint.friction": 0.2},
    ],
    ids=["a target", "the joint"],
)
def test_a_preview_without_new_geometry_is_the_full_answer(worked: Worked, values: dict):
    changed = worked.case.with_values(values)
    about = preview(worked, changed)
    assert about == pytest.approx(preload(changed, effects=False).offset_deg, abs=1e-6)
    assert about != pytest.approx(worked.answer.offset_deg, abs=1e-4)


def test_new_geometry_is_previewed_near_the_full_answer(worked: Worked):
    changed = worked.case.with_values({"heel.height_mm": 88.0, "heel.start_mm": 55.0})
    assert preview(worked, changed) is None
    start = RoughStart(worked.offset.offset, worked.upper, worked.rough_angle)
    full = preload(changed, effects=False).offset_deg
    assert rough_change(changed, start) == pytest.approx(full, abs=0.003)
    assert full != pytest.approx(worked.answer.offset_deg, abs=0.003)


@pytest.mark.parametrize(
    ("key", "at_once"),
    [("strings.set", True), ("bolts.tongue.tension_n", True), ("name", True), ("neck.e_l_gpa", False),
     ("bolts.tongue.position_mm", False)],
)  # fmt: skip
def test_which_keys_leave_the_flexibility_alone(key: str, at_once: bool):
    assert acts_at_once({key}) is at_once


def test_the_picture_draws_every_part_and_bends_with_the_strings(worked: Worked):
    for one in (worked, full("solid-25")):
        stage, bend = stage_of(one), Bend(one)
        side, joint = neck_pictures(stage, bend.state(Knobs()))
        slack, _ = neck_pictures(stage, bend.state(Knobs(strings=0.0)))
        assert side.count('class="shim"') == len(one.answer.shims)
        assert side.count('class="bolt"') == len(one.answer.bolts)
        assert joint.count('class="dot"') > 8
        assert (side.count('class="string"'), slack.count('class="string"')) == (1, 0)
        paths = (re.search(r'class="neck" d="([^"]*)"', text) for text in (side, slack))
        assert len({found[1] for found in paths if found}) == 2
    assert pairs_html(full("solid-25").answer) == ""
    assert pairs_html(worked.answer).count('class="mark"') == 1


def test_a_line_leaves_out_only_points_that_no_screen_shows():
    along = np.linspace(0.0, 30.0, 400)
    line = np.stack([along * np.cos(along), 7.0 * np.sin(along)], axis=1)
    drawn = kept(line)
    places = [int(np.flatnonzero((line == one).all(axis=1))[0]) for one in drawn]
    assert (places[0], places[-1]) == (0, 399)
    for first, last in pairwise(places):
        chord = line[last] - line[first]
        aside = line[first : last + 1] - line[first]
        away = np.abs(chord[0] * aside[:, 1] - chord[1] * aside[:, 0]) / np.hypot(*chord)
        assert away.max() < LEAST_MM
    assert 30 < len(drawn) < 200
    assert kept(line[[0, 1, 0]]).tolist() == line[[0, 1, 0]].tolist()


def test_a_desk_previews_works_out_and_cancels():
    """One worker for two desks: the same case is solved once, a cancelled one not at all, errors are told."""

    async def story() -> None:
        workroom = Workroom(workers=1, workshop=Workshop())
        one, two = Desk(Room(PageSettings()), workroom), Desk(Room(PageSettings()), workroom)
        try:
            one.take(Draft())
            two.take(Draft())
            assert (one.standing, two.standing) == ("working", "working")
            await _until(lambda: one.standing == two.standing == "full")
            assert one.worked is two.worked
            first = one.worked
            one.take(Draft().edited("strings.set", "acoustic-medium"))
            medium = first.case.with_values({"strings.set": "acoustic-medium"})
            assert one.about_deg == pytest.approx(preload(medium, effects=False).offset_deg, abs=1e-6)
            one.cancel()
            assert (one.standing, one.worked) == ("cancelled", first)
            await asyncio.sleep(0.05)
            assert not workroom._running
            assert (two.standing, two.worked) == ("full", first)
            one.take(Draft().edited("heel.height_mm", "nonsense"))
            assert (one.standing, one.worked) == ("wrong", first)
            one.take(Draft())
            assert one.standing == "full"
            one.take(Draft().edited("body.straightedge_drop_mm", "0.001"))
            await _until(lambda: one.standing != "working")
            assert f"{one.standing}: {one.message}".startswith("failed: body.straightedge_drop_mm = 0.001")
        finally:
            workroom.close()

    asyncio.run(story())


def test_many_who_wait_are_told_so(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("cases.page.work.MOST_WAITING", 0)
    with pytest.raises(WorkError, match="try again"):
        asyncio.run(Workroom(workers=1, workshop=Workshop()).full(load("fourteen-mahogany")))


def test_only_the_last_of_what_waits_is_solved(worked: Worked):
    """Fifty moves of a slider that come while one is being solved are one more solution, not fifty."""

    async def story() -> list[float]:
        desk = Desk(Room(PageSettings()), Workroom(workers=1, workshop=Workshop()))
        desk._show(worked)
        solved: list[float] = []
        desk.listen(lambda part: solved.append(desk.knobs.strings))
        moves = [desk.drag(Knobs(strings=0.01 * n)) for n in range(50, 100)]
        await asyncio.gather(*moves)
        return solved

    solved = asyncio.run(story())
    assert solved[-1] == pytest.approx(0.99)
    assert len(solved) <= 3


async def _until(true) -> None:
    for _ in range(6000):
        if true():
            return
        await asyncio.sleep(0.02)
    raise AssertionError("it did not come about")

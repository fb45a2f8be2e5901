from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from cases.cli import app
from cases.show.budget_bars import budget_bars
from cases.show.pictures.budget import budget_figure
from cases.show.pictures.curvature import curvature_figure
from cases.show.pictures.stress import stress_figure
from cases.show.pictures.string_up_animation import draw_frame, empty_frame, film, save_film, strip_figure
from cases.studies.curvature import second_difference
from materials.errors import InputError
from tests.pictures import answer_of, case_of, misplaced_texts, readme_flex, readme_solved, shown_texts

NAME = "fourteen-mahogany"


def test_moments_of_strings_and_rod_are_what_the_beam_carries():
    line, solved = readme_flex().line, readme_solved()
    # the geometric stiffness goes by chords between frets: 0.3 % of the largest moment on this neck
    np.testing.assert_allclose(
        line.moment_n_m, line.beam_moment_n_m, atol=0.005 * np.max(np.abs(line.moment_n_m))
    )
    assert line.string_moment_n_m.min() > 0.0
    assert line.rod_moment_n_m.min() < -1.0
    # at the nut it is tension times arm; the first point lies 1 mm from the nut
    ea, es, _ = solved.fields.bodies.shaft.total(line.x_mm[:1] * 1e-3)
    arm = solved.question.strings.nut_height - float(es[0] / ea[0])
    assert line.string_moment_n_m[0] == pytest.approx(solved.question.strings.tension * arm, rel=5e-3)


def test_second_difference_is_exact_for_a_parabola():
    x = np.array([0.0, 0.01, 0.03, 0.035, 0.06])
    at, curvature = second_difference(x, 3.0 * x**2 - x)
    np.testing.assert_allclose(curvature, 6.0, rtol=1e-10)
    assert np.all((at > x[0]) & (at < x[-1]))


def test_line_of_the_fretboard_bends_as_the_frets_do():
    line, answer = readme_flex().line, readme_flex().answer
    x, z = np.array(answer.fret_profile.x_mm), np.array(answer.fret_profile.z_strung_mm)
    at, of_frets = second_difference(x * 1e-3, z * 1e-3)
    shaft = (at > 0.05) & (at < 0.27)
    drawn = np.interp(at[shaft], line.board_x_mm * 1e-3, line.board_curvature_per_m)
    np.testing.assert_allclose(drawn, of_frets[shaft], rtol=0.12)


def test_curvature_picture_draws_the_result():
    line = readme_flex().line
    figure = curvature_figure(line, case=NAME)
    top, low = figure.axes
    moments = {one.get_label(): one.get_ydata() for one in top.lines}
    np.testing.assert_array_equal(moments["strings"], line.string_moment_n_m)
    np.testing.assert_array_equal(moments["rod"], line.rod_moment_n_m)
    np.testing.assert_array_equal(moments["both"], line.moment_n_m)
    curvatures = {one.get_label(): one.get_ydata() for one in low.lines}
    np.testing.assert_array_equal(curvatures["bending of the shaft"], line.curvature_per_m)
    np.testing.assert_array_equal(curvatures["fretboard line, including shear"], line.board_curvature_per_m)
    assert top.get_xlim() == low.get_xlim()
    assert misplaced_texts(figure) == ([], [])
    (frets,) = top.child_axes
    at_joint = [t.get_loc() for t in frets.xaxis.get_major_ticks() if "joint" in t.label2.get_text()]
    assert at_joint == [line.fret_x_mm[line.joint - 1]]


@pytest.mark.parametrize("name", [NAME, "solid-25"])
def test_budget_bars_are_the_answers(name: str):
    answer = answer_of(name)
    nut, kink = budget_bars(answer)
    assert dict(zip(nut.parts, nut.shares, strict=True)) == answer.budget.nut_rise_shares_mm
    assert dict(zip(kink.parts, kink.shares, strict=True)) == answer.budget.heel_stretch_shares_deg
    assert sum(nut.percent) == pytest.approx(100.0, abs=1e-5)
    assert sum(kink.percent) == pytest.approx(100.0, abs=1e-5)
    figure = budget_figure(answer)
    rows = {0.0: [], -1.0: []}
    for patch in figure.axes[0].patches:
        rows[round(patch.get_y() + 0.5 * patch.get_height(), 6) + 0.0].append(patch)
    for bar, patches in zip((nut, kink), rows.values(), strict=True):
        assert [patch.get_width() for patch in patches] == pytest.approx(bar.percent)
        left = min(patch.get_x() + min(patch.get_width(), 0.0) for patch in patches)
        assert left == pytest.approx(sum(min(one, 0.0) for one in bar.percent))
    assert min(kink.percent) < 0.0
    assert misplaced_texts(figure) == ([], [])
    assert [text for text, _ in shown_texts(figure)].count("slip and closing") == 1
    looks = {(patch.get_facecolor(), patch.get_hatch()) for patch in figure.axes[1].patches}
    assert len(looks) == len(figure.axes[1].patches) == len(nut.parts), "every part has a look of its own"


def test_stress_picture_is_to_one_scale_and_without_overlaps():
    figure = stress_figure(readme_flex().stress)
    one, other, upper, lower = figure.axes[:4]
    assert one.get_xlim() == other.get_xlim()
    assert upper.get_ylim() == lower.get_ylim()
    pads = readme_flex().stress.pads
    for axes, pad in zip((upper, lower), pads, strict=True):
        drawn = {line.get_label(): line.get_ydata() for line in axes.lines}
        np.testing.assert_array_equal(drawn["at pitch"], pad.strung_mpa)
        np.testing.assert_array_equal(drawn["bolted up"], pad.bolted_mpa)
    assert misplaced_texts(figure) == ([], [])


def test_the_way_to_pitch_joins_the_answers_states_and_relief_grows_with_tension_and_falls_with_the_rod():
    way, answer = readme_flex().way, readme_flex().answer
    first, last = way.steps[0], way.steps[-1]
    np.testing.assert_allclose(first.heights_mm, answer.fret_profile.z_bolted_mm, atol=1e-9)
    np.testing.assert_allclose(last.heights_mm, answer.fret_profile.z_strung_mm, atol=1e-6)
    assert last.kink_deg == pytest.approx(answer.states["strung"].kink_deg, abs=1e-7)
    assert last.relief_mm == pytest.approx(answer.relief.set_mm, abs=1e-6)
    assert (first.tension_share, last.tension_share, first.rod_share, last.rod_share) == (0.0, 1.0, 0.0, 1.0)
    relief = [step.relief_mm for step in way.steps]
    turn = next(number for number, step in enumerate(way.steps) if step.tension_share == 1.0)
    assert np.all(np.diff(relief[: turn + 1]) > 0.0)
    assert np.all(np.diff(relief[turn:]) < 0.0)
    assert relief[turn] == pytest.approx(answer.relief.rod_slack_mm, abs=1e-6)
    assert way.total_tension_n == pytest.approx(answer.strings.total_tension_n)


def test_film_draws_every_step_with_one_factor_in_one_window(tmp_path: Path):
    flex, case = readme_flex(), case_of(NAME)
    made = film(case, flex.answer, flex.way)
    top = case.fretboard.thickness_mm + case.frets.crown_height_mm
    for frame, step in zip(made.frames, flex.way.steps, strict=True):
        drawn = frame.state.crown_mm[:, 1] - top
        np.testing.assert_allclose(drawn, made.view.exaggeration * step.heights_mm, atol=1e-9)
        assert (f"Strings {100 * step.tension_share:.0f} %" in frame.title) == (step.tension_share > 0.0)
        for seat, gap in zip(frame.state.seats.values(), step.gaps_mm, strict=True):
            np.testing.assert_array_equal(seat.open, gap > 0.0)
    windows = set()
    for frame in (made.frames[0], made.frames[6], made.frames[-1]):
        figure = empty_frame()
        draw_frame(made, frame, figure)
        windows.add((figure.axes[0].get_xlim(), figure.axes[0].get_ylim()))
        assert misplaced_texts(figure) == ([], [])
        if frame.state.strings is not None:
            assert frame.state.strings[1, 1] == made.view.saddle[1, 1]
    assert len(windows) == 1
    for gap, last in zip(flex.answer.gaps, flex.way.steps[-1].gaps_mm, strict=True):
        np.testing.assert_allclose(gap.gap_strung_mm, last, atol=1e-8)
    with pytest.raises(InputError, match="cannot be written"):
        save_film(made, tmp_path / "missing" / "way.gif")


def test_the_strip_shows_four_states_and_the_film_fits_a_projector(tmp_path: Path):
    flex, case = readme_flex(), case_of(NAME)
    made = film(case, flex.answer, flex.way)
    figure = strip_figure(made)
    assert misplaced_texts(figure) == ([], [])
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    for title, words in zip(
        titles, ("1. Strings off", "2. Strings 50 %", "rod slack", "rod set: kink +0.000"), strict=True
    ):
        assert words in title
    save_film(made, tmp_path / "way.gif")
    with Image.open(tmp_path / "way.gif") as moving:
        assert (moving.size, moving.n_frames) == ((1280, 720), len(flex.way.steps))
        assert moving.info["duration"] > 1000


def test_the_command_needs_a_folder(tmp_path: Path):
    (tmp_path / "taken").write_text("")
    result = CliRunner().invoke(app, ["flex", NAME, "--out", str(tmp_path / "taken")])
    assert isinstance(result.exception, InputError)
    assert "give a folder" in str(result.exception)
    result = CliRunner().invoke(app, ["flex", NAME])
    assert (result.exit_code, "--out" in result.output) == (2, True)

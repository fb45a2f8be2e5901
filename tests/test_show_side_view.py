from functools import cache
from math import atan2, degrees, radians
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from cases import preload
from cases.offset.joint_bearing import row_slices
from cases.show import style
from cases.show.pictures.side_joint import Seat, seats_of, shim_shapes
from cases.show.pictures.side_shape import (
    FACTORS,
    LARGEST_MOVE_MM,
    SideState,
    SideView,
    exaggeration_for,
    side_state,
    side_view,
)
from cases.show.pictures.side_view import caption, save_side_view, side_view_figure
from fem.geometry.pad import face_of
from materials.errors import InputError
from tests.pictures import LIBRARY, answer_of, case_of, misplaced_texts, readme_solved, shown_texts

NAME = "fourteen-mahogany"


@cache
def view_of(name: str) -> SideView:
    return side_view(case_of(name), answer_of(name))


def both(name: str) -> list[tuple[SideState, np.ndarray, str]]:
    view, profile = view_of(name), answer_of(name).fret_profile
    return [
        (view.off, np.array(profile.z_bolted_mm), "bolted"),
        (view.on, np.array(profile.z_strung_mm), "strung"),
    ]


@pytest.mark.parametrize("name", LIBRARY)
def test_drawn_crowns_and_glue_line_are_the_answers_heights_times_the_stated_factor(name: str):
    view, x = view_of(name), np.array(answer_of(name).fret_profile.x_mm)
    board, frets = view.case.fretboard, view.case.frets
    assert f"drawn {view.exaggeration:g} times" in caption(view).replace("\n", " ")
    for state, heights, _ in both(name):
        np.testing.assert_array_equal(state.crown_mm[:, 0], x)
        drawn = state.crown_mm[:, 1] - board.thickness_mm - frets.crown_height_mm
        np.testing.assert_allclose(drawn, view.exaggeration * heights, atol=1e-9)
        on_neck = x < view.rest_neck[:240, 0].max()
        under = np.interp(x[on_neck], *state.neck[:240].T)
        # the outline has a point every two millimetres: straight lines between them miss less than this
        np.testing.assert_allclose(under, view.exaggeration * heights[on_neck], atol=0.02)


def test_sections_are_turned_by_the_slope_of_the_glue_line():
    view, thickness = view_of(NAME), case_of(NAME).fretboard.thickness_mm
    for state, _, _ in both(NAME):
        moved = state.board[:240] - view.rest_board[:240]
        slope = np.gradient(state.neck[:240, 1] - view.rest_neck[:240, 1], view.rest_neck[:240, 0])
        at = np.interp(view.rest_board[:240, 0], view.rest_neck[:240, 0], slope)
        inner = slice(3, 200)
        np.testing.assert_allclose(moved[inner, 0], -at[inner] * thickness, atol=0.01)
        assert np.abs(at).max() > 1e-3


@pytest.mark.parametrize("name", LIBRARY)
def test_kink_and_tongue_gap_drawn_are_the_answers(name: str):
    view, answer = view_of(name), answer_of(name)
    run = view.fret_x_mm[-1] - view.fret_x_mm[view.joint - 1]
    for state, _, key in both(name):
        said = answer.states[key]
        assert state.tongue_gap_mm == pytest.approx(said.tongue_gap_mm, abs=1e-9)
        low, high = state.tongue_over_line_mm
        assert (high - low) / run == pytest.approx(radians(said.kink_deg), abs=1e-9)
        rises = (np.diff(line, axis=0)[0] for line in (state.tongue_line, state.shaft_line))
        tongue, shaft = (rise / run for run, rise in rises)
        assert tongue - shaft == pytest.approx(view.exaggeration * radians(said.kink_deg), abs=1e-9)


@pytest.mark.parametrize("name", LIBRARY)
def test_shims_taper_by_their_angle_times_the_factor(name: str):
    view, answer = view_of(name), answer_of(name)
    expected = (
        [answer.upper_deg]
        if answer.preload_offset_deg is None
        else [answer.upper_deg, answer.upper_deg + answer.preload_offset_deg]
    )
    assert list(view.shim_deg) == expected
    at = [np.asarray(seat.s_mm) for seat in answer.gaps]
    free = seats_of(view.structure, at, [np.zeros_like(s) for s in at], view.shim_deg)
    shims = shim_shapes(view.structure, free, view.exaggeration, view.thick_mm)
    for shim, angle in zip(shims, expected, strict=True):
        half = len(shim) // 2
        near, far = shim[half - 1] - shim[0], shim[half] - shim[-1]
        turned = degrees(atan2(near[0] * far[1] - near[1] * far[0], near @ far))
        # seen from the joint corner outwards a positive angle turns the neck's side counterclockwise away
        # from the block's: both shims then lift the nut
        assert np.tan(radians(turned)) == pytest.approx(view.exaggeration * radians(angle), abs=1e-9)


def drawn_gaps(view: SideView, state: SideState, seat: Seat) -> tuple[np.ndarray, np.ndarray]:
    """Places on a seat and the gap there between the outlines drawn of its shim, or wall, and of the neck."""
    face = face_of(view.structure.outline, seat.pad.face)
    origin, along, normal = 1e3 * np.array(face.origin), np.array(face.along), np.array(face.normal)

    def upon_face(outline: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return (outline - origin) @ along, (outline - origin) @ normal

    first = {"end": 240, "tongue": 252, "heel": 341}[seat.pad.face]
    count = {"end": 12, "tongue": 90, "heel": 90}[seat.pad.face]
    s, height = upon_face(state.neck[first : first + count])
    order = np.argsort(s)
    neck = np.interp(seat.s_mm, s[order], height[order])
    if seat.pad.middle == 0.0:
        return seat.s_mm, neck - upon_face(state.block)[1][1]
    with_shim = [one.pad.name for one in state.seats.values() if one.pad.middle > 0.0]
    shim = state.shims[with_shim.index(seat.pad.name)]
    s, height = upon_face(shim[: len(shim) // 2])
    return seat.s_mm, neck - np.interp(seat.s_mm, s, height)


@pytest.mark.parametrize("name", LIBRARY)
def test_the_joint_is_drawn_closed_where_it_is_closed_and_open_as_far_as_computed(name: str):
    view, answer = view_of(name), answer_of(name)
    for state, key in ((view.off, "bolted"), (view.on, "strung")):
        for seat, gap in zip(state.seats.values(), answer.gaps, strict=True):
            assert seat.pad.name == gap.name
            _, drawn = drawn_gaps(view, state, seat)
            open_by = np.maximum(getattr(gap, f"gap_{key}_mm"), 0.0)
            # straight lines between the points of the outline, one a millimetre, miss less than this
            np.testing.assert_allclose(drawn, view.exaggeration * open_by, atol=0.05)
    for seat, contact in zip(view.on.seats.values(), answer.contact, strict=True):
        if contact.closed_fraction == 1.0:
            assert not seat.open.any()


def test_gaps_are_open_where_contact_carries_nothing_and_pressed_by_its_pressure():
    solved, answer = readme_solved(), answer_of(NAME)
    for key in ("bolted", "strung"):
        state, found = getattr(solved.pair, key), solved.question.flexibility.points
        for pad, points, here, gap in zip(
            solved.structure.pads, found, row_slices(found), answer.gaps, strict=True
        ):
            by = np.array(getattr(gap, f"gap_{key}_mm"))
            middle = slice(here.start, here.stop, len(points.rows))
            np.testing.assert_array_equal(by < 0.0, state.contact.closed[middle])
            # thickness over modulus, and the bedding; the taper changes the thickness by a tenth
            compliance = pad.middle / pad.young + pad.compliance
            pressed = 1e3 * compliance * state.contact.push[middle] / (points.area * points.rows[0])
            np.testing.assert_allclose(np.maximum(-by, 0.0), pressed, rtol=0.1, atol=1e-9)


def test_a_face_that_gapes_is_drawn_open_to_the_factor_and_every_open_stretch_has_a_seam():
    view, profile = view_of(NAME), answer_of(NAME).fret_profile
    gaps = [np.array(gap.gap_strung_mm) for gap in answer_of(NAME).gaps]
    gaps[1] = np.linspace(-0.02, 0.2, len(gaps[1]))
    gaping = side_state(
        view, "strung", np.array(profile.z_strung_mm), gaps_mm=gaps, angles_deg=view.shim_deg, kink_deg=0.0,
        relief_mm=0.2,
    )  # fmt: skip
    heel = gaping.seats["heel"]
    _, drawn = drawn_gaps(view, gaping, heel)
    np.testing.assert_allclose(drawn, view.exaggeration * np.maximum(gaps[1], 0.0), atol=0.05)
    assert drawn.max() > 4.9
    assert sum(len(seam) for seam in gaping.seams) == sum(seat.open.sum() for seat in gaping.seats.values())
    assert len(gaping.seams) == 1 + sum(np.diff(gaping.seats["tongue"].open)) // 2
    # the heel's back and the bolts' ends go along with the face
    assert gaping.neck[:, 0].min() == pytest.approx(view.on.neck[:, 0].min(), abs=0.3)
    assert view.on.bolts[1][1, 0] - gaping.bolts[1][1, 0] > 2.0


def test_a_body_that_turns_takes_block_and_neck_along():
    case = case_of(NAME).with_values({"body.stiffness_n_m_per_rad": 8000.0})
    answer = preload(case, effects=False)
    view = side_view(case, answer)
    block = view.on.block - view.off.block
    # the nut rises, so the deep end of the block moves towards it
    assert block[-1, 0] < -1.0
    assert abs(block[0, 0]) < 0.5
    heel = view.on.seats["heel"]
    _, drawn = drawn_gaps(view, view.on, heel)
    np.testing.assert_allclose(
        drawn, view.exaggeration * np.maximum(answer.gaps[1].gap_strung_mm, 0.0), atol=0.1
    )


@pytest.mark.parametrize(
    ("largest", "factor"), [(0.0, FACTORS[-1]), (1.0, 25.0), (LARGEST_MOVE_MM / 10.0, 10.0), (500.0, 1.0)]
)
def test_the_factor_is_round_and_as_large_as_fits(largest: float, factor: float):
    assert exaggeration_for(np.array([0.0, largest]), np.array([-largest])) == factor


@pytest.mark.parametrize("name", LIBRARY)
def test_texts_are_clear_of_one_another_and_both_states_have_one_scale(name: str):
    figure = side_view_figure(view_of(name))
    assert misplaced_texts(figure) == ([], [])
    off, on, joint_off, joint_on = figure.axes
    for one, other in ((off, on), (joint_off, joint_on)):
        assert (one.get_xlim(), one.get_ylim()) == (other.get_xlim(), other.get_ylim())
    assert off.get_aspect() == on.get_aspect() == 1.0


def test_a_misplaced_text_is_found():
    figure = style.figure(width=3.0, height=2.0)
    figure.text(0.5, 0.5, "one")
    figure.text(0.51, 0.5, "other")
    figure.text(0.99, 0.9, "cut off")
    assert misplaced_texts(figure) == ([("one", "other")], ["cut off"])


def test_what_is_drawn_is_the_view_with_numbered_frets():
    view, figure = view_of(NAME), side_view_figure(view_of(NAME))
    for axes, state in zip(figure.axes[:2], (view.off, view.on), strict=True):
        drawn = [line.get_xydata() for line in axes.lines]
        for wanted in (state.shaft_line, state.tongue_line, state.rod):
            assert any(one.shape == wanted.shape and np.array_equal(one, wanted) for one in drawn)
        outlines = [patch.get_xy()[:-1] for patch in axes.patches]
        for wanted in (state.neck, state.board, state.block, *state.shims):
            assert any(one.shape == wanted.shape and np.array_equal(one, wanted) for one in outlines)
    points = [line.get_xydata() for line in figure.axes[3].lines if line.get_marker() == "o"]
    np.testing.assert_array_equal(points[0][:, 1], view.on.over_line_mm[view.joint - 7 :])
    texts = [text for text, _ in shown_texts(figure)]
    for number in ("1", "3", "5", "7", "9", "12", "14\njoint", "20"):
        assert texts.count(number) >= 2


@pytest.mark.parametrize("name", LIBRARY)
def test_strings_are_only_drawn_at_pitch_and_never_through_the_board(name: str):
    view = view_of(name)
    assert view.off.strings is None
    assert view.on.strings is not None
    over = np.interp(view.on.crown_mm[:, 0], *view.on.strings.T)
    assert np.all(over > view.on.crown_mm[:, 1])
    assert view.on.strings[1, 1] >= answer_of(name).saddle_height_mm


def test_saved_as_a_picture_or_refused(tmp_path: Path):
    path = tmp_path / "side.png"
    save_side_view(case_of(NAME), answer_of(NAME), path)
    with Image.open(path) as picture:
        assert picture.width == 11 * style.DOTS_PER_INCH
        assert np.ptp(np.asarray(picture.convert("L"))) > 200
    with pytest.raises(InputError, match="cannot be written"):
        style.save(style.figure(width=1.0, height=1.0), tmp_path / "missing" / "side.png")

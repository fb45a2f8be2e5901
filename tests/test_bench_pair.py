"""From a reading to the pair: geometry by hand, both conditions, the pair's own full solve, the chance."""

import json
import re
from dataclasses import replace
from math import radians, tan

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from cases.bench.logbook.logbook import latest_fit
from cases.bench.logbook.store import open_logbook
from cases.bench.shims.bivariate_normal import both_within
from cases.bench.shims.choose_pair import (
    choose_pair,
    deviation,
    reading_rows,
    reading_table,
    stock_choice,
    wanted_angles,
)
from cases.bench.shims.geometry import geometry_of
from cases.bench.shims.readings import Conditions, Squares, average, check_pocket
from cases.bench.shims.strung_neck import bench_of
from cases.casefile.measurements_page import page
from cases.offset.preload import preload
from cases.show.text.bench import pair_text
from cases.show.text.depth import Depth
from fem.joint.shim_layer import taper
from materials.errors import InputError
from tests.benches import answer, bench, case, rigid, rigid_bench
from tests.command import refused, said


def test_a_tenth_of_a_degree_is_half_a_millimetre_at_the_saddle_and_a_quarter_of_action():
    """Common practice, derived: 14 frets, 647.7 mm: 288.52 mm from joint to saddle; fret 12 halves it.

    With 12 frets to the body 0.1 deg is 0.565 mm and 0.283 mm.
    """
    plain = case().with_values({"bridge.compensation_mm": 0.0})
    twelve = plain.with_values({"instrument.body_joint_fret": 12, "instrument.last_fret": 19})
    for geometry, fall in ((geometry_of(plain), 0.5036), (geometry_of(twelve), 0.5653)):
        assert geometry.fall(0.1) == pytest.approx(fall, abs=1e-4)
        assert geometry.action_of(geometry.fall(0.1)) == pytest.approx(0.5 * fall, abs=1e-4)


def test_reading_and_angle_go_there_and_back():
    geometry = geometry_of(case())
    for height in (-2.0, 0.0, 1.8, 4.5):
        assert geometry.height_of(geometry.angle_of(height)) == pytest.approx(height, abs=1e-12)
    # the reading that common practice calls one degree of neck angle, back
    assert geometry.angle_of(1.8) == pytest.approx(-1.04, abs=0.01)
    assert geometry.angle_of(2.0) < geometry.angle_of(1.8)


def test_equal_angles_turn_the_neck_about_the_middle_of_the_upper_pad():
    """Shims keep their thickness in the pad's middle: the line falls by reach less that distance."""
    here, there = bench().strung(0.0, -0.1), bench().strung(0.2, 0.1)
    geometry = bench().geometry
    expected = -(geometry.reach - geometry.pad_middle) * tan(radians(0.2))
    assert there.saddle_mm - here.saddle_mm == pytest.approx(expected, abs=0.004)
    assert there.misfit_deg == pytest.approx(here.misfit_deg, abs=1e-3)


def test_the_wanted_pair_meets_saddle_and_kink_in_the_full_model():
    for reading in (1.0, 1.8, 2.9):
        upper, lower = wanted_angles(bench(), reading)
        assert np.abs(deviation(bench(), reading, bench().strung(upper, lower))).max() < 1e-4


def test_the_expected_action_is_where_the_preset_saddle_puts_the_strings():
    """Against the mechanics themselves: the saddle fixed at the height aimed for, the action read off."""
    found = choose_pair(bench(), [1.65])
    on_saddle = bench().geometry.saddle_top - 1.65 - bench().geometry.lift(found.pair.upper_deg)
    # the pair's own offset, by a target kink that it leaves
    fixed = {"setup.mode": "saddle-fixed", "setup.saddle_height_mm": on_saddle}
    pair = {"stock.list_deg": (found.pair.upper_deg,), "targets.kink_deg": found.pair.kink_deg}
    found_answer = preload(case().with_values(fixed | pair), effects=False)
    offset = found.pair.lower_deg - found.pair.upper_deg
    assert found_answer.preload_offset_deg == pytest.approx(offset, abs=0.004)
    mean = 0.5 * (found.pair.action_bass_mm + found.pair.action_treble_mm)
    wanted = 0.5 * (case().setup.action_bass_mm + case().setup.action_treble_mm)
    assert found_answer.action_mm - answer().action_mm == pytest.approx(mean - wanted, abs=0.01)


def test_the_nearest_pair_is_the_nearest_of_all_in_stock():
    reading, tolerance = 1.31, case().tolerance
    best, beside = stock_choice(bench(), wanted_angles(bench(), reading))

    def cost(upper: float, lower: float) -> float:
        off = deviation(bench(), reading, bench().strung(upper, lower))
        return float((off[0] / tolerance.action_mm) ** 2 + (off[1] / tolerance.tongue_gap_mm) ** 2)

    near = np.arange(-2, 3) * 0.04
    each = {(u, lo): cost(best[0] + u, best[1] + lo) for u in near for lo in near}
    assert min(each, key=each.__getitem__) == (0.0, 0.0)
    assert [one[0] for one in beside] == pytest.approx([best[0] - 0.04, best[0] + 0.04])
    # beside it the lower shim weighs action against gap: a saddle taken for an action would weigh twice
    for upper, lower in beside:
        row = {lo: cost(upper, best[1] + lo) for lo in near}
        assert min(row, key=row.__getitem__) == pytest.approx(lower - best[1], abs=1e-9)


def test_a_square_open_at_the_cap_asks_for_as_much_more_lower_shim():
    gap = bench().geometry.heel_face * tan(radians(0.08))
    plain = choose_pair(bench(), [1.8])
    one = choose_pair(bench(), [1.8], squares=Squares(pocket=gap))
    both = choose_pair(bench(), [1.8], squares=Squares(pocket=gap, heel=-gap))
    assert one.lower_wanted_deg - plain.lower_wanted_deg == pytest.approx(0.08, abs=1e-6)
    assert one.pair.lower_deg - plain.pair.lower_deg == pytest.approx(0.08, abs=1e-6)
    assert one.pair.action_bass_mm == pytest.approx(plain.pair.action_bass_mm, abs=1e-3)
    assert both.lower_wanted_deg == pytest.approx(plain.lower_wanted_deg, abs=1e-9)
    # what was measured is no longer open: the pair is surer
    assert plain.pair.chance < one.pair.chance < both.pair.chance


def test_chance_is_that_of_the_library():
    rng = np.random.default_rng(3)
    for _ in range(20):
        root = rng.normal(size=(2, 2))
        covariance = 0.01 * root @ root.T + 1e-4 * np.eye(2)
        mean, half = rng.normal(scale=0.05, size=2), np.array([0.15, 0.05])
        ours = both_within(mean, covariance, half)
        theirs = multivariate_normal(mean, covariance).cdf(half, lower_limit=-half)
        assert ours == pytest.approx(float(theirs), abs=2e-5)
    assert both_within(np.array([9.0, 0.0]), np.eye(2) * 1e-4, half) == 0.0


def test_readings_average_and_the_odd_one_is_pointed_out():
    tolerance = case().tolerance
    three = average([1.80, 1.82, 1.78], tolerance)
    assert (three.mm, three.odd) == (pytest.approx(1.80), None)
    assert three.error_mm == pytest.approx(0.05 / 3**0.5)
    odd = average([1.80, 1.82, 2.40], tolerance)
    assert odd.odd == 3
    assert odd.without == pytest.approx(1.81)
    assert odd.error_mm > 0.15
    # readings that agree to the last digit must not make a reading beside them odd
    assert average([1.80, 1.80, 1.80, 1.90], tolerance).odd is None
    with pytest.raises(InputError, match=r"--reading 1\.8mm"):
        average([], tolerance)


def test_air_and_time_widen_the_band_and_say_so():
    plain = choose_pair(bench(), [1.8])
    dry = choose_pair(bench(), [1.8], conditions=Conditions(rh_percent=30.0, hours=3.0))
    assert dry.reading.error_mm == pytest.approx((0.05**2 + 2 * 0.1**2) ** 0.5)
    assert len(dry.warnings) == len(plain.warnings) + 2
    assert dry.pair.chance < plain.pair.chance
    assert Conditions(rh_percent=47.0, hours=24.0).warnings() == ()
    # tolerances change nothing in the solved neck
    loose = case().with_values({"tolerance.action_mm": 0.6, "tolerance.tongue_gap_mm": 0.2})
    assert choose_pair(replace(bench(), case=loose), [1.8]).pair.chance > 0.97


def test_without_a_body_no_chance_is_stated_and_the_remedy_is_named():
    found = choose_pair(rigid_bench(), [1.8])
    assert not found.body_included
    assert [one.chance for one in (found.pair, *found.beside)] == [None, None, None]
    assert "body.straightedge_drop_mm" in found.warnings[-1]
    measured = rigid().with_values({"body.straightedge_drop_mm": 1.2})
    assert choose_pair(bench_of(measured), [1.8]).pair.chance is not None
    # a rigid body lets the saddle line fall less, so more upper shim would be left in
    assert found.string_drop_mm < choose_pair(bench(), [1.8]).string_drop_mm - 0.2


def test_a_pocket_beyond_the_stock_gets_the_nearest_pair_and_is_told():
    found = choose_pair(bench(), [5.5])
    assert found.pair.upper_deg == 0.4
    assert found.pair.chance < 0.01
    assert any("beyond the stock" in text for text in found.warnings)
    with pytest.raises(InputError, match="gauge-step"):
        check_pocket(40.0, bench().geometry)


def test_the_table_holds_what_the_command_says_row_by_row():
    rows = reading_rows(bench())
    readings = [row.reading_mm for row in rows]
    assert readings == pytest.approx([0.2 * round(readings[0] / 0.2 + k) for k in range(len(rows))])
    assert len(rows) >= 15
    for row in rows[:: len(rows) // 4]:
        found = choose_pair(bench(), [row.reading_mm]).pair
        assert (row.upper_deg, row.lower_deg) == (found.upper_deg, found.lower_deg)
        assert (row.action_bass_mm, row.action_treble_mm) == (found.action_bass_mm, found.action_treble_mm)
        assert abs(row.action_bass_mm - case().setup.action_bass_mm) <= case().tolerance.action_mm


def test_the_table_belongs_to_its_answer():
    rows = reading_table(case(), answer(), step_mm=1.0)
    assert [row.reading_mm for row in rows] == [1.0, 2.0, 3.0]
    with pytest.raises(InputError, match="other values"):
        reading_table(rigid(), answer())


def test_the_given_case_is_never_changed():
    before = case().sha256
    fixed = case().with_values({"setup.mode": "saddle-fixed", "setup.saddle_height_mm": 10.0})
    found = choose_pair(bench_of(fixed), [1.8])
    assert found.case_sha256 == fixed.sha256
    assert case().sha256 == before
    assert found.pair == replace(choose_pair(bench(), [1.8]).pair, chance=found.pair.chance)


def test_degrees_inches_and_a_gauge_on_the_bare_seat_read_the_same_pocket():
    geometry = geometry_of(rigid())
    for arguments in (
        ["--reading", f"{1.8 - geometry.seat_depth:.3f}mm", "--gauge-step", "0mm"],
        re.findall(r"for example `(--reading \S+ --gauge-step \S+)`", page())[0].split(),
        ["--reading", f"{geometry.angle_of(1.8):.6f}deg", "--reading", f"{1.8 / 25.4:.6f}in"],
    ):
        found = json.loads(said("pair", "fourteen-mahogany", "--json", *arguments))
        assert found["reading"]["mm"] == pytest.approx(1.8, abs=1e-3)
        assert found["pair"]["upper_deg"] == choose_pair(rigid_bench(), [1.8]).pair.upper_deg


def test_the_text_says_by_what_rule_the_pair_is_marked():
    found = choose_pair(bench(), [1.8])
    rule = "-> marks the pair with the smallest errors of action and gap relative to these tolerances"
    assert f"->{found.pair.upper_deg:+6.2f}" in pair_text(found, depth=Depth.FULL)
    assert rule in pair_text(found, depth=Depth.FULL)
    assert rule not in pair_text(choose_pair(rigid_bench(), [1.8]), depth=Depth.FULL)


def test_the_text_says_which_end_of_each_shim_is_thick():
    """By the mechanics: the joint corner is the upper pad's end at the nut, the lower pad's at the board."""
    found = choose_pair(bench(), [1.8])
    ends = {"upper": ("nut", "sound hole"), "lower": ("fretboard", "heel cap")}
    for upper, lower in ((0.16, 0.04), (-0.16, -0.28), (0.2, -0.2)):
        text = pair_text(replace(found, pair=replace(found.pair, upper_deg=upper, lower_deg=lower)))
        for pad, angle in zip(bench().question.pads, (upper, lower), strict=True):
            corner, away = taper(pad, np.array([pad.start, pad.end]), radians(angle))[1]
            thick = ends[pad.name][int(corner < away)]
            assert f"{pad.name} shim thick end towards the {thick}" in text
    level = pair_text(replace(found, pair=replace(found.pair, upper_deg=0.0)))
    assert "way round      upper shim not tapered, lower shim thick end towards the " in level
    rows = said("pair", "fourteen-mahogany", "--table").splitlines()
    assert "+ is upper thick at the nut, lower thick at the heel cap" in rows[2]


def test_strings_are_given_to_the_bench_in_the_words_of_the_main_question():
    typed = ("--reading", "1.8mm", "--json")
    named = said("pair", "fourteen-mahogany", "--strings", "medium", *typed)
    assert named == said("pair", "fourteen-mahogany", "--set", "strings.set=medium", *typed)
    assert named != said("pair", "fourteen-mahogany", *typed)
    low = said("pair", "fourteen-mahogany", "--tuning", "D A D G A D", *typed)
    assert low == said("pair", "fourteen-mahogany", "--set", "strings.tuning=D A D G A D", *typed)
    at_pitch = ("--upper", "0.1", "--lower", "0", "--action-bass", "3mm", "--action-treble", "2mm")
    swapped = said("swap", "fourteen-mahogany", "--strings", "medium", *at_pitch)
    assert swapped == said("swap", "fourteen-mahogany", "--set", "strings.set=medium", *at_pitch)


def test_pair_stores_reading_and_prediction_in_the_log(tmp_path):
    log = ["--log", str(tmp_path / "log.sqlite")]
    arguments = ["--reading", "1.8mm", "--heel-square", "0.02mm", "--serial", "007"]
    output = said("pair", "fourteen-mahogany", *arguments, *log)
    with open_logbook(log[1]) as logbook:
        fit = latest_fit(logbook, "007")
    assert {one.kind: one.value for one in fit.measurements} == {"reading": 1.8, "heel_square": 0.02}
    assert fit.case_sha256 == rigid().sha256
    assert fit.predicted["action_bass_mm"] == pytest.approx(2.4, abs=0.15)
    assert f"upper {fit.upper_deg:+.2f} deg   lower {fit.lower_deg:+.2f} deg" in output
    read = f"neckpreload pair fourteen-mahogany --log {log[1]} --serial 007 --bolted kink=ANGLE"
    assert output.splitlines()[-1].strip() == read


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "No reading"),
        (["--reading", "1.8"], "unit"),
        (["--reading", "99mm"], "gauge"),
        (["--reading", "1.8mm", "--heel-square", "9mm"], "-3 to 3 mm"),
        (["--reading", "1.8mm", "--heel-square", "2.9mm"], "--heel-square 2.9 mm: -2.0"),
        (["--reading", "30deg"], "-10 to 10"),
    ],
)
def test_a_wrong_reading_gets_one_sentence(arguments: list[str], words: str):
    assert words in refused("pair", "fourteen-mahogany", *arguments)

"""Slopes against full solutions and closed forms; the rule of what to measure first."""

import json
from dataclasses import replace
from functools import cache
from math import degrees, hypot
from pathlib import Path

import pytest

from cases import load, preload
from cases.casefile.case import Case
from cases.casefile.defaults import fret_position_mm
from cases.casefile.files import loads
from cases.casefile.new_case import new_case
from cases.studies.inputs import keys_that_matter, mirror_bar, with_mirror
from cases.studies.sensitivity import (
    SMALL_DEG,
    VERY_COARSE,
    Change,
    InputEffect,
    Reference,
    Sensitivities,
    measure_first,
    meshed,
    sensitivity,
)
from cases.studies.uncertainty import SEAT_ROW, measurement, seats, sources_without_key, uncertainty_of
from materials.errors import NeckpreloadError
from tests.command import Command
from tests.instrument import fine_offset_deg, resolved
from tests.pictures import answer_of, readme_solved

CASE = "fourteen-mahogany"
COPIED = "neck.depth_fret10_mm"
KEYS = ("neck.depth_fret10_mm", "fretboard.thickness_mm", "fretboard.fallaway_mm", "heel.start_mm")
ONE_WAY = ("neck.depth_fret10_mm", "fretboard.fallaway_mm")
KEYS += ("joint.friction", "targets.kink_deg", "targets.relief_mm")


@cache
def found() -> Sensitivities:
    """A few inputs of the README's case; the whole list is one of the large counts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cases.studies.sensitivity.keys_that_matter", lambda case: KEYS)
        return sensitivity(CASE)


def row(name: str) -> InputEffect:
    return next(one for one in found().rows if one.name == name)


def test_first_order_sum_against_a_finite_change():
    """Several inputs changed at once by a few per cent: the full solution on the fine mesh against the sum of
    slopes. 12 % allows for the coarse mesh (7 %) and for what is not first order.
    """
    case = load(CASE)
    parts = {"neck.depth_fret10_mm": 0.03, "heel.start_mm": -0.04}
    parts |= {"fretboard.thickness_mm": -0.02, "targets.relief_mm": -0.10}
    changed = case.with_values({key: case.value(key) * (1.0 + part) for key, part in parts.items()})
    before, after = answer_of(CASE), preload(changed, effects=False)
    summed = [row(key).change.times(part / 0.1) for key, part in parts.items()]
    real = after.preload_offset_deg - before.preload_offset_deg
    assert abs(real) > 0.005
    assert sum(one.offset_deg for one in summed) == pytest.approx(real, rel=0.12)
    real = after.heel_stretch_deg - before.heel_stretch_deg
    # The stretch is compared at each one's own shims, the slopes at the same: a little looser.
    assert sum(one.stretch_deg for one in summed) == pytest.approx(real, rel=0.15)
    real = after.relief.rod_slack_mm - before.relief.rod_slack_mm
    assert sum(one.relief_mm for one in summed) == pytest.approx(real, rel=0.12)


def test_the_coarse_mesh_gives_the_slope_of_the_fine_one():
    key, case = "neck.depth_fret10_mm", load(CASE)
    value = case.neck.depth_fret10_mm
    high, low = (fine_offset_deg(case.with_values({key: value * part})) for part in (1.05, 0.95))
    # Twice the half difference, since the step is half a tenth; 7 % is what the module promises.
    assert row(key).change.offset_deg == pytest.approx(high - low, rel=0.07)


def test_a_slope_at_fixed_shims_is_that_of_the_offset_searched_anew():
    """Friction needs no new mesh; 3 % for the change of the transfer itself."""
    high, low = (
        resolved(readme_solved(), {"joint.friction": 0.30 * part}).offset.offset for part in (1.1, 0.9)
    )
    assert row("joint.friction").change.offset_deg == pytest.approx(degrees(0.5 * (high - low)), rel=0.03)


def test_a_small_effect_is_that_of_a_step_up_alone():
    """The board's thickness moves the offset by less than a thousandth of a degree. Fallaway cannot be
    negative, and this neck cannot be a tenth shallower: these two have one step for another reason.
    """
    key = "fretboard.thickness_mm"
    assert {one.name for one in found().rows if not one.both_ways} == {key, *ONE_WAY}
    effect, solved = row(key), readme_solved()
    on_coarse = Reference(solved, meshed(solved, VERY_COARSE), VERY_COARSE)
    up, down = (on_coarse.read(on_coarse.changed(key, part * effect.value)) for part in (1.1, 0.9))
    up, down = up - on_coarse.middle, down - on_coarse.middle
    assert effect.change.offset_deg == pytest.approx(up.offset_deg, abs=1e-9)
    assert max(abs(up.offset_deg), abs(up.stretch_deg), effect.worth_deg) < SMALL_DEG
    assert abs(up.offset_deg + down.offset_deg) > 1e-5
    with pytest.raises(NeckpreloadError):
        on_coarse.changed(COPIED, 0.9 * row(COPIED).value)


def test_a_target_and_a_fallaway_follow_their_closed_forms():
    """A kink wanted is a shim over the transfer; a fallaway of f at the last fret is a kink of -f over the
    length of the tongue line.
    """
    transfer = answer_of(CASE).shim_transfer
    assert row("targets.kink_deg").change.offset_deg == pytest.approx(0.1 / transfer, rel=1e-6)
    length = fret_position_mm(647.7, 20) - fret_position_mm(647.7, 14)
    planed = row("fretboard.fallaway_mm")
    assert planed.step == pytest.approx(0.1)
    assert planed.change.offset_deg == pytest.approx(degrees(0.1 / length) / transfer, rel=0.01)


def test_signs_that_statics_gives():
    pull, depth = row("string tension").change, row("neck.depth_fret10_mm").change
    assert pull.offset_deg < 0.0 < pull.stretch_deg
    assert pull.relief_mm > 0.0
    assert depth.offset_deg > 0.0 > depth.stretch_deg
    assert depth.relief_mm < 0.0
    # Second order adds a little to the first: a tenth more tension bends by a tenth or more.
    slack = answer_of(CASE).relief.rod_slack_mm
    assert 0.095 * slack < pull.relief_mm < 0.12 * slack
    assert row(SEAT_ROW).change.offset_deg == pytest.approx(-0.1)


def test_rows_are_ranked_and_flat():
    sizes = [abs(one.change.offset_deg) for one in found().rows]
    assert sizes == sorted(sizes, reverse=True)
    rows = found().to_rows()
    assert len(rows) == len(found().rows) == len(KEYS) + 11
    assert rows[0]["change_offset_deg"] == found().rows[0].change.offset_deg
    origins = {row["name"]: row["origin"] for row in rows}
    assert (origins["heel.start_mm"], origins["fretboard.fallaway_mm"]) == ("measured", "assumed")
    assert origins[SEAT_ROW] is None
    assert not found().skipped


def made(name: str, offset: float, *, step: float, deviation: float | None) -> InputEffect:
    worth = None if deviation is None else abs(offset) / step * deviation
    return InputEffect(name, 1.0, step, Change(offset, 0.0, 0.0), deviation, "said", worth)


def test_what_to_measure_first_weighs_slope_by_scatter():
    rows = [
        made("targets.kink_deg", 0.5, step=0.1, deviation=None),
        made("neck.depth_fret10_mm", 0.04, step=2.0, deviation=0.1),
        made("joint.friction", 0.004, step=0.03, deviation=0.09),
        made("shim layers", 0.001, step=0.1, deviation=0.9),
        made("neck wood", 0.01, step=0.1, deviation=0.22),
        made("bolts.a.torque_n_m", 0.001, step=0.1, deviation=0.15),
    ]
    first = measure_first(rows)
    assert [one.name for one in first[:3]] == ["neck stiffness", "heel stretch", "neck.depth_fret10_mm"]
    assert "bolt tension" in [one.name for one in first]
    assert [one.worth_deg for one in first[:2]] == pytest.approx([0.022, hypot(0.012, 0.009)])
    assert first[1].inputs == ("joint.friction", "shim layers")


def test_how_well_an_input_is_known():
    case = load(CASE)

    def deviation(key: str) -> float:
        return uncertainty_of(case, key, case.value(key)).deviation

    assert deviation("bolts.heel-low.torque_n_m") == pytest.approx(0.5 * 0.30 * 1.2)
    assert deviation("joint.friction") == pytest.approx((0.50 - 0.15) / 4.0)
    assert deviation("setup.action_bass_mm") == case.tolerance.action_mm
    assert deviation("fretboard.fallaway_mm") == case.tolerance.reading_mm
    assert deviation("heel.height_mm") == 0.2
    assert deviation("tongue.length_mm") == pytest.approx(0.1 * case.tongue.length_mm)
    other = loads(new_case("mine", like=case)).with_values({"heel.height_mm": 96.0})
    uncertain = {key: uncertainty_of(other, key, other.value(key)) for key in ("heel.height_mm", COPIED)}
    assert [(one.deviation, one.source) for one in uncertain.values()] == [
        (0.2, "calliper"),
        (pytest.approx(0.1 * 24.0), "copied from fourteen-mahogany, not measured: a tenth"),
    ]
    assert uncertainty_of(case, "targets.relief_mm", 0.2) is None
    assert uncertainty_of(case, "bolts.heel-low.nut_factor", 0.2) is None
    assert seats(case).deviation == pytest.approx(0.02 * 2.0**0.5)


def test_a_measured_wood_leaves_the_scatter_of_the_handbook():
    def names(case: Case) -> set[str]:
        return {source.name for source in sources_without_key(case)}

    case = load(CASE)
    measured = case.with_values({"neck.e_l_gpa": 10.0})
    assert names(case) - names(measured) == {"neck wood"}
    assert uncertainty_of(measured, "neck.e_l_gpa", 10.0).deviation == pytest.approx(0.5)
    assert measurement("neck.e_l_gpa") == measurement("neck wood")


def test_a_measured_drop_counts_in_a_pocket(monkeypatch: pytest.MonkeyPatch):
    """The body turns the strings, and the taper must follow: the slope is that of two full solutions."""
    key = "body.straightedge_drop_mm"
    case = load("solid-25").with_values({key: 1.0})
    monkeypatch.setattr("cases.studies.sensitivity.keys_that_matter", lambda case: (key, "rod.end_mm"))
    monkeypatch.setattr("cases.studies.sensitivity.sources_without_key", lambda case: ())
    rows = {one.name: one for one in sensitivity(case).rows}
    high, low = (fine_offset_deg(case.with_values({key: drop})) for drop in (1.1, 0.9))
    change = 0.5 * (high - low)
    assert abs(change) > 0.01
    assert rows[key].change.offset_deg == pytest.approx(change, rel=0.05)
    assert abs(rows["rod.end_mm"].change.offset_deg) < 0.01


def test_a_pair_of_bars_changes_as_a_pair():
    """A section must stay symmetric: both bars of the baritone, once, and mirrored across."""
    case = load("long-baritone")
    assert mirror_bar(case, "bass") == "treble"
    assert mirror_bar(case.with_values({"bars.bass.width_mm": 3.0}), "bass") is None
    values = with_mirror(case, "bars.bass.y_mm", -9.5)
    assert values == {"bars.bass.y_mm": -9.5, "bars.treble.y_mm": 9.5}
    assert case.with_values(values).bars[1].y_mm == 9.5
    assert with_mirror(case, "heel.height_mm", 90.0) == {"heel.height_mm": 90.0}
    assert {key.split(".")[1] for key in keys_that_matter(case) if key.startswith("bars.")} == {"bass"}


def test_the_bar_picture_shows_each_panel():
    drawn = found().plot()
    assert len(drawn.axes) == 4
    names = [label.get_text() for label in drawn.axes[0].get_yticklabels()]
    assert names[0].startswith(found().rows[0].name)
    assert "fretboard.fallaway_mm (+0.1)" in names


def test_a_flat_pocket_is_spoken_of_as_a_taper():
    pocket = replace(found(), asked="taper of the pocket's shim")
    assert "offset" not in str(pocket)
    assert "effect: on the taper" in str(pocket)
    labels = [axes.get_xlabel() for axes in pocket.plot().axes]
    assert (labels[0], labels[3].split("\n")[0]) == ("taper for one step [deg]", "effect on the taper of")
    assert "change of the offset per unit" in str(found())


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Command):
    monkeypatch.setattr("cases.studies.sensitivity.sensitivity", lambda case, progress: found())
    done = command("sensitivity", CASE, "--json", "--csv", "s.csv", "--png", "s.png")
    assert done.code == 0
    names = [one["name"] for one in json.loads(done.out)["measure_first"]]
    assert names == [one.name for one in found().measure_first]
    assert len((tmp_path / "s.csv").read_text().splitlines()) == 1 + len(found().rows)
    assert (tmp_path / "s.png").stat().st_size > 10_000
    done = command("sensitivity", CASE)
    assert done.code == 0
    assert "measure first:" in done.out
    assert "rule: effect = " in done.out


@pytest.mark.full
@pytest.mark.parametrize("name", [CASE, "fourteen-maple", "twelve-cedar-parlour", "long-baritone"])
def test_every_input_of_the_library_has_its_slope(name: str):
    whole = sensitivity(name)
    assert len(whole.rows) > 70
    assert len(whole.measure_first) == 6
    assert "bolt tension" in [one.name for one in whole.measure_first]
    assert len(whole.skipped) <= 3, whole.skipped

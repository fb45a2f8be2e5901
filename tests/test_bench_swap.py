"""After string-up: one swap corrects it, wrong shims are found, twist is reported, the first step is safe."""

import re
from dataclasses import replace

import pytest

from cases.bench.shims.choose_pair import choose_pair, deviation
from cases.bench.shims.readings import Squares
from cases.bench.shims.swap import BEGIN, StrungMeasurements, relief_effect, swap
from cases.show.text.bench import swap_text
from materials.errors import InputError
from tests.benches import READING, bench, right_pair
from tests.command import refused, said


def measured_on(upper: float, lower: float, **more: float | None) -> StrungMeasurements:
    """Measurements of a perfect guitar with this pair."""
    at = bench().strung(upper, lower)
    plain = StrungMeasurements(
        bench().case.setup.action_bass_mm,
        bench().case.setup.action_treble_mm,
        relief=bench().case.targets.relief_mm,
        tongue_gap=at.tongue_gap_mm,
        saddle=bench().case.bridge.saddle_projection_mm,
        reading=READING,
    )
    return replace(higher(plain, float(deviation(bench(), READING, at)[0])), **more)


def higher(measured: StrungMeasurements, action: float, **more: float) -> StrungMeasurements:
    """The same with another action [mm]."""
    bass, treble = measured.action_bass + action, measured.action_treble + action
    return replace(measured, action_bass=bass, action_treble=treble, **more)


def test_a_guitar_as_predicted_keeps_its_pair():
    found = swap(bench(), *right_pair(), measured_on(*right_pair()))
    assert found.keep
    assert found.steps == ()
    assert found.parts.total == pytest.approx(0.0, abs=1e-9)
    assert found.explanations == ()


@pytest.mark.parametrize("off", [(0.16, 0.0), (0.0, -0.16), (-0.12, 0.12)])
def test_a_wrong_pair_is_corrected_in_one_step(off: tuple[float, float]):
    """Fitted with the wrong pair, all else as predicted: the swap leads to the pair that was right."""
    old = (right_pair()[0] + off[0], right_pair()[1] + off[1])
    found = swap(bench(), *old, measured_on(*old))
    assert (found.new.upper_deg, found.new.lower_deg) == pytest.approx(right_pair(), abs=1e-9)


def test_a_body_that_gave_way_is_corrected_by_both_shims_alike():
    found = swap(bench(), *right_pair(), measured_on(*right_pair(), action_bass=2.8, action_treble=2.0))
    assert found.parts.rest == pytest.approx(found.parts.total, abs=0.01)
    moved = (found.new.upper_deg - right_pair()[0], found.new.lower_deg - right_pair()[1])
    # 0.4 mm of action is 0.8 mm at the saddle; 0.43 mm there for each 0.1 deg of both
    assert moved[0] == pytest.approx(-0.186, abs=0.03)
    assert moved[1] == pytest.approx(-0.186, abs=0.03)
    assert found.new.action_bass_mm == pytest.approx(2.4, abs=0.06)


def test_a_joint_that_turned_is_told_by_its_gap_and_corrected_by_the_lower_shim():
    turned = bench().strung(right_pair()[0], right_pair()[1] + 0.1)
    base = bench().strung(*right_pair())
    action = bench().geometry.action_of(base.saddle_mm - turned.saddle_mm)
    measured = higher(measured_on(*right_pair()), action, tongue_gap=turned.tongue_gap_mm)
    found = swap(bench(), *right_pair(), measured)
    assert found.parts.joint == pytest.approx(action, abs=0.02)
    assert found.parts.rest == pytest.approx(0.0, abs=0.02)
    assert found.new.lower_deg - right_pair()[1] == pytest.approx(-0.1, abs=0.03)
    assert found.new.upper_deg == pytest.approx(right_pair()[0], abs=0.041)


def test_relief_is_the_rods_part_and_needs_no_swap():
    action, gap = relief_effect(bench(), right_pair(), 0.3)
    assert 0.1 < action < 0.3
    plain = measured_on(*right_pair())
    bowed = higher(plain, action, relief=0.3, tongue_gap=plain.tongue_gap + gap)
    found = swap(bench(), *right_pair(), bowed)
    assert found.parts.rod == pytest.approx(action)
    assert found.parts.total - found.parts.rod == pytest.approx(0.0, abs=1e-6)
    assert found.keep
    assert "set the rod" in found.steps[0]
    assert found.steps[0].startswith(BEGIN)


@pytest.mark.parametrize("told", [True, False])
def test_what_the_squares_showed_stays_in_the_lower_shim(told: bool):
    """Fitted for faces out of square, a guitar keeps its pair; a wrong pair leads to that one."""
    squares = Squares(pocket=0.07, heel=0.05)
    filled = squares.correction_deg(bench().geometry)
    best = choose_pair(bench(), [READING], squares=squares).pair
    assert best.lower_deg > right_pair()[1] + 0.03
    for off in (0.0, 0.16):
        here = measured_on(best.upper_deg + off, best.lower_deg - filled)
        measured = replace(here, squares=squares, tongue_gap=here.tongue_gap if told else None)
        found = swap(bench(), best.upper_deg + off, best.lower_deg, measured)
        assert found.parts.total == pytest.approx(0.0, abs=1e-9)
        assert (found.new.upper_deg, found.new.lower_deg) == (best.upper_deg, best.lower_deg)
        assert found.explanations == ()
        if told:
            assert found.parts.joint == pytest.approx(0.0, abs=1e-9)
    # a wrong shim on such faces is still named
    inside = replace(measured_on(0.2, -0.2 - filled), squares=squares)
    explained = swap(bench(), 0.2, 0.2, inside).explanations
    assert max(explained, key=lambda one: one.chance).words.startswith("the lower shim is the wrong")


def test_a_saddle_cut_down_is_the_saddles_part():
    plain, share = measured_on(*right_pair()), bench().geometry.share
    found = swap(bench(), *right_pair(), higher(plain, -share, saddle=plain.saddle - 1.0))
    assert found.parts.saddle == pytest.approx(-1.0 * share)
    assert found.parts.total == pytest.approx(found.parts.saddle)
    assert found.parts.rest == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("entered", "inside", "words"),
    [
        ((0.2, 0.12), (0.2, -0.12), "the lower shim is the wrong way round"),
        ((0.32, 0.2), (-0.32, 0.2), "the upper shim is the wrong way round"),
        ((0.24, -0.12), (-0.12, 0.24), "upper and lower shim are exchanged"),
    ],
)
def test_a_shim_the_wrong_way_round_explains_the_reading(
    entered: tuple[float, float], inside: tuple[float, float], words: str
):
    found = swap(bench(), *entered, measured_on(*inside))
    best = max(found.explanations, key=lambda one: one.chance)
    assert best.words == words
    assert best.chance > 0.9
    assert words in found.steps[0]
    # without the gap there may be more that would do, but the true one stays among them
    found = swap(bench(), *entered, measured_on(*inside, tongue_gap=None))
    assert words in [one.words for one in found.explanations]


def test_the_thick_ends_are_those_of_the_pair_that_goes_in():
    found = swap(bench(), *right_pair(), measured_on(*right_pair(), action_bass=3.0, action_treble=2.2))
    assert max(found.new.upper_deg, found.new.lower_deg) < 0.0
    assert found.steps[0].startswith("Slacken the strings, ease the rod, then the bolts")
    assert "upper shim thick end towards the sound hole" in found.steps[0]
    assert "lower shim thick end towards the fretboard" in found.steps[0]
    lifted = swap(bench(), -0.2, -0.3, measured_on(-0.2, -0.3, action_bass=1.2, action_treble=0.4))
    assert min(lifted.new.upper_deg, lifted.new.lower_deg) > 0.0
    assert "upper shim thick end towards the nut" in lifted.steps[0]
    assert "lower shim thick end towards the heel cap" in lifted.steps[0]


def test_what_was_not_measured_is_said():
    found = swap(bench(), 0.10, -0.05, StrungMeasurements(2.8, 1.4))
    text = " ".join(found.warnings)
    for words in ("No relief", "No tongue gap", "No reading", "twist"):
        assert words in text
    assert found.twist_mm == pytest.approx(0.6)
    assert found.parts.joint is None


def test_the_command_takes_pair_and_reading_from_the_log(tmp_path):
    log = ["--log", tmp_path / "log.sqlite"]
    actions = ["--action-bass", "2.4mm", "--action-treble", "1.6mm"]
    squares = ["--pocket-square", "0.06mm", "--heel-square", "0.06mm"]
    said("pair", "fourteen-mahogany", "--reading", "1.8mm", "--serial", "A8", *squares, *log)
    kept = said("swap", "fourteen-mahogany", "--serial", "A8", *actions, *log)
    assert "KEEP THE PAIR" in kept
    assert "No reading" not in kept
    # after a swap was logged the pocket's reading and squares are still those of the first fit
    swapped = ["--upper", "0.12", "--lower", "0.0", "--reason", "swap"]
    said("logbook", "add", "A8", *swapped, *log)
    assert "No reading" not in said("swap", "fourteen-mahogany", "--serial", "A8", *actions, *log)
    assert "--upper and --lower" in refused("swap", "fourteen-mahogany", *actions)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--upper", "0.1", "--lower", "-2"], "-0.90 to 0.90"),
        (["--upper", "0.1", "--lower", "0", "--relief", "9mm"], "-2 to 3 mm"),
        (["--upper", "0", "--lower", "0", "--tongue-gap", "4mm"], "--tongue-gap 4 mm is not allowed; -"),
        (["--upper", "0.2", "--lower", "0.5", "--relief", "2mm"], "mm under the frets"),
        (["--rh-percent", "130"], "--rh-percent 130: relative humidity of 1 to 100 % is allowed"),
        (["--hours", "-3"], "--hours -3: 0 hours or more"),
        (["--hours", "nan"], "0 hours or more"),
    ],
)
def test_a_wrong_value_gets_one_sentence(arguments: list[str], words: str):
    actions = ["--action-bass", "2.4mm", "--action-treble", "1.6mm"]
    assert words in refused("swap", "fourteen-mahogany", *actions, *arguments)


def test_the_gaps_named_as_allowed_are_those_that_can_be_judged():
    with pytest.raises(InputError) as refused:
        swap(bench(), *right_pair(), measured_on(*right_pair(), tongue_gap=4.0))
    low, high = re.findall(r"(-?\d\.\d\d) to (-?\d\.\d\d) mm", str(refused.value))[0]
    for gap in (float(low) + 0.01, float(high) - 0.01):
        assert swap(bench(), *right_pair(), measured_on(*right_pair(), tongue_gap=gap)).parts.joint
    for gap in (float(low) - 0.01, float(high) + 0.01):
        with pytest.raises(InputError, match="tongue-gap"):
            swap(bench(), *right_pair(), measured_on(*right_pair(), tongue_gap=gap))


def test_a_house_that_counts_in_inches_reads_no_millimetre():
    off = measured_on(*right_pair(), saddle=9.0, relief=0.5)
    wrong = replace(off, action_bass=off.action_bass + 1.0)
    metric, inch = (
        swap_text(swap(bench(), *right_pair(), wrong, inch=i), name="mine", inch=i) for i in (False, True)
    )
    assert "set the rod to 0.20 mm relief" in metric
    assert "set the rod to 0.008 in relief" in inch
    assert " mm" not in inch

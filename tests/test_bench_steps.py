"""A guitar through the bench as it is typed: pair, dry check, change, string-up, two swaps; all logged."""

import json
import re

import pytest

from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.logbook import fits
from cases.bench.logbook.store import open_logbook
from cases.bench.shims.choose_pair import deviation
from cases.bench.shims.dry_log import changed_dry, last_advice
from cases.bench.shims.swap import StrungMeasurements, swap
from tests.benches import bench
from tests.command import Command

CASE = ("fourteen-mahogany", "--set", "body.stiffness_n_m_per_rad=8000")
AT_PITCH = ("--action-bass", "2.8mm", "--action-treble", "2mm", "--relief", "0.2mm", "--tongue-gap", "0.12mm")


def good(command: Command, *arguments: str) -> str:
    run = command(*arguments)
    assert run.code == 0, run.err
    return run.out


def in_log() -> tuple[Fit, ...]:
    with open_logbook("log.sqlite") as logbook:
        return fits(logbook)


def test_a_guitar_goes_through_the_bench_and_every_step_is_in_the_log(command: Command):
    good(command, "pair", *CASE, "--reading", "1.8mm", "--serial", "7")
    (first,) = in_log()
    told = good(command, "pair", *CASE, "--serial", "7", "--bolted", "kink=-0.02deg")
    found = re.search(r"CHANGE .*: right with a chance of (\d+) %", told)
    assert found is not None, told
    assert told.rstrip().endswith("--serial 7 --done --bolted kink=ANGLE")
    (first,) = in_log()
    advised = last_advice(first, "bolted")
    assert advised is not None
    # the tongue rises more than expected: the pair leans the neck further back
    assert advised[1] - advised[0] < first.lower_deg - first.upper_deg - 0.03
    assert changed_dry(first)
    # changed, and read again: one command logs the new pair and checks it
    told = good(command, "pair", *CASE, "--serial", "7", "--done", "--bolted", "kink=-0.09deg")
    assert "logged: 7 attempt 2, upper" in told
    assert "STRING UP" in told
    assert "neckpreload swap" in told.splitlines()[-1]
    first, second = in_log()
    assert (second.upper_deg, second.lower_deg, second.reason) == (*advised, "swap")
    assert second.predicted["chance"] == pytest.approx(0.01 * float(found[1]), abs=0.006)
    good(command, "swap", *CASE, "--serial", "7", *AT_PITCH)
    # the instruction was given; what follows confirms what was logged, and says what comes next
    confirmed = good(command, "swap", *CASE, "--serial", "7", "--done").splitlines()
    *_, third = in_log()
    pair = f"upper {third.upper_deg:+.2f}, lower {third.lower_deg:+.2f} deg"
    assert confirmed[0].startswith(f"  logged: 7 attempt 3, {pair}, in ")
    assert confirmed[1] == "  next: string to pitch, measure again the next day, then"
    assert confirmed[2].startswith(f"    neckpreload swap {' '.join(CASE)} --serial 7 --action-bass LENGTH")
    assert len(confirmed) == 3
    *_, second, third = in_log()
    # typed once, logged once, though the advice was asked for twice
    assert [one.value for one in second.measurements if one.kind == "action_bass"] == [2.8]
    assert last_advice(second, "strung") == (third.upper_deg, third.lower_deg)
    assert third.predicted["action_bass_mm"] == pytest.approx(2.4, abs=0.08)
    told = good(command, "swap", *CASE, "--serial", "7", *AT_PITCH)
    assert "corrects the mean of 2 attempts" in told
    rates = good(command, "trend").split("first-time-right")[1]
    assert rates.count("0.0 % (0 of 1") == 8


def test_a_tuned_down_reading_and_json(command: Command):
    good(command, "pair", *CASE, "--reading", "1.8mm", "--serial", "7")
    seen = ("--bolted", "tongue_gap=-0.12mm", "--bolted", "tongue_gap=-0.13mm")
    bolted = json.loads(good(command, "pair", *CASE, "--serial", "7", *seen, "--json"))
    down = json.loads(good(command, "pair", *CASE, "--serial", "7", "--tuned-down", "-0.07deg", "--json"))
    assert (bolted["count"], down["count"]) == (2, 1)
    assert down["gap_sd_mm"][1] < bolted["gap_sd_mm"][1] < bolted["gap_sd_mm"][0]
    assert not bolted["inspect"]


def test_a_misread_pocket_and_an_odd_kink_are_reported(command: Command):
    good(command, "pair", *CASE, "--reading", "2.8mm", "--serial", "7")
    (fit,) = in_log()
    line = f"saddle_line={1.8 + bench().strung(fit.upper_deg, fit.lower_deg).bolted_line_mm:.2f}mm"
    told = good(command, "pair", *CASE, "--serial", "7", "--bolted", "kink=-0.09deg", "--bolted", line)
    assert "the reading of the pocket is probably wrong by -" in " ".join(told.split())
    told = good(command, "pair", *CASE, "--serial", "7", "--bolted", "kink=0.1deg")
    assert "The readings of this joint differ by 0.190 deg" in " ".join(told.split())
    good(command, "pair", *CASE, "--reading", "1.8mm", "--serial", "8")
    told = good(command, "pair", *CASE, "--serial", "8", "--bolted", "kink=0.1deg")
    assert "INSPECT THE JOINT" in told
    # no advice is logged for it
    assert last_advice(in_log()[-1]) is None


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            ("pair", *CASE, "--bolted", "kink=-0.07deg"),
            "need the pair and the reading of a guitar in the log",
        ),
        (
            ("pair", *CASE, "--serial", "7", "--bolted", "relief=1mm"),
            "kink, tongue_gap, saddle_line are read",
        ),
        (("pair", *CASE, "--serial", "7", "--bolted", "kink=9deg"), "outside -5 to 5 deg"),
        (("pair", *CASE, "--serial", "7", *(("--bolted", "kink=0deg") * 6)), "up to 5 readings each"),
        (("pair", *CASE, "--serial", "8", "--bolted", "kink=0deg"), "no guitar with the serial '8'"),
        (
            ("pair", *CASE, "--serial", "7", "--bolted", "kink=0deg", "--reading", "1mm"),
            "--reading is in the log",
        ),
        (("pair", *CASE, "--serial", "7", "--done"), "no other pair was advised for 7"),
        (("pair", *CASE, "--serial", "9", "--bolted", "kink=0deg"), "no reading of its bare pocket"),
        (("pair", *CASE, "--serial", "7", "--bolted", "saddle_line=9mm"), "the joint has not been read"),
        (("swap", *CASE, "--serial", "7"), "The action is missing"),
        (("swap", *CASE, "--upper", "0", "--lower", "0", *AT_PITCH, "--done"), "give its --serial"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence_and_nothing_is_logged(
    command: Command, arguments: tuple[str, ...], said: str
):
    good(command, "pair", *CASE, "--reading", "1.8mm", "--serial", "7")
    good(command, "logbook", "add", "9", "--upper", "0", "--lower", "0")
    before = in_log()
    run = command(*arguments)
    assert run.code == 2
    assert said in " ".join(run.err.split())
    assert in_log() == before


def test_a_pair_that_stays_is_no_swap_to_log(command: Command):
    good(command, "pair", *CASE, "--reading", "1.8mm", "--serial", "7")
    (fit,) = in_log()
    values = {
        name: f"{fit.predicted[f'{name}_mm']:.3f}mm"
        for name in ("action_bass", "action_treble", "tongue_gap")
    }
    typed = [part for name, value in values.items() for part in (f"--{name.replace('_', '-')}", value)]
    done = ("swap", *CASE, "--serial", "7", "--done")
    assert "7: no swap was advised yet, so there is no swap to log" in command(*done).err
    told = good(command, "swap", *CASE, "--serial", "7", *typed, "--relief", "0.2mm")
    assert "KEEP THE PAIR" in told
    assert "--done" not in told
    (before,) = in_log()
    run = command(*done)
    assert run.code == 2
    assert "7: it keeps its pair, so there is no swap to log" in run.err
    # what the new pair measures must not be logged for the old one
    run = command(*done, "--relief", "0.25mm")
    assert run.code == 2
    assert "takes no new measurement, here relief" in run.err
    assert "already in the log: 7 attempt 1" in good(command, "swap", *CASE, "--serial", "7")
    assert in_log() == (before,)


def seen_on(pair: tuple[float, float], *, lower: float, gap: float = 0.0) -> StrungMeasurements:
    """Measured at pitch where the joint acts like another angle of the lower shim, the gap misread."""
    at, setup = bench().strung(pair[0], pair[1] + lower), bench().case.setup
    off = float(deviation(bench(), 1.8, at)[0])
    return StrungMeasurements(
        setup.action_bass_mm + off, setup.action_treble_mm + off, relief=bench().case.targets.relief_mm,
        tongue_gap=at.tongue_gap_mm + gap, reading=1.8,
    )  # fmt: skip


def test_a_second_swap_corrects_the_mean_of_all_attempts():
    """The joint turned by 0.12 deg; gaps misread by the same amount up and down cancel."""
    one, two = (0.12, 0.0), (0.12, -0.12)
    true = swap(bench(), *two, seen_on(two, lower=0.12)).new
    earlier = [(one, seen_on(one, lower=0.12, gap=0.02))]
    both = swap(bench(), *two, seen_on(two, lower=0.12, gap=-0.02), earlier=earlier)
    assert both.attempts == 2
    assert both.new.tongue_gap_mm == pytest.approx(true.tongue_gap_mm, abs=0.002)
    assert not any("disagree" in text for text in both.warnings)
    last = swap(bench(), *two, seen_on(two, lower=0.12, gap=-0.02))
    assert abs(last.new.tongue_gap_mm - true.tongue_gap_mm) > 0.01
    # a shim other than printed: the attempts disagree
    odd = swap(bench(), *two, seen_on(two, lower=0.12), earlier=[(one, seen_on(one, lower=-0.1))])
    assert any("The attempts on this guitar disagree" in text for text in odd.warnings)

"""Following the last guitars of a log: a step by the share of the weighted mean, a steady log hardly."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cases.bench.learning.calibrate import calibrate_shop
from cases.bench.learning.control_chart import SMOOTHING
from cases.bench.learning.follow import left_over, moved_by, told_by_test, weighted_mean
from cases.bench.learning.guitar_row import Row
from cases.bench.learning.stiffness_test import neck_test
from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.strung_neck import bench_of
from cases.offset.calibration import KINK_BIAS, LEAST_FACTOR, Calibration
from cases.offset.calibration_file import load_calibration, save_calibration
from cases.show.text.bench import shop_text
from tests.benches import START, bench, case
from tests.command import refused, said
from tests.test_bench_calibrate import PAIRS, made_log
from tests.test_bench_stiffness import TEST

PITCH = ("action_bass", "action_treble", "kink")
NONE = np.zeros(2)


def row(residuals: list[float]) -> Row:
    """A guitar whose bolted kink shares most of its scatter with the kink at pitch."""
    scatter = np.array([[0.04, 0.0, 0.0], [0.0, 5e-4, 4e-4], [0.0, 4e-4, 5e-4]])
    return Row(np.array(residuals), np.zeros((3, 4)), scatter, np.zeros(3), np.zeros(3))


def stepped(before: int, after: int, step: tuple[float, float]) -> list[Fit]:
    """A log without noise whose last guitars have more action [mm] and kink [deg]."""
    fits = made_log(pairs=PAIRS[:1], kinds=PITCH, count=before + after, noise=0.0)
    more = {"action_bass": step[0], "action_treble": step[0], "kink": step[1]}
    return fits[:before] + [
        fit.model_copy(
            update={
                "measurements": tuple(
                    one.model_copy(update={"value": one.value + more.get(one.kind, 0.0)})
                    for one in fit.measurements
                )
            }
        )
        for fit in fits[before:]
    ]


def test_a_step_is_followed_by_the_share_of_the_weighted_mean():
    before, after, step = 30, 12, (0.08, 0.03)
    found, plain = (
        calibrate_shop(bench(), stepped(before, after, step), created=START, follow=follow)
        for follow in (True, False)
    )
    left = found.learned.after[:, :2] * [-bench().geometry.share, 1.0]
    # what learning from all leaves: one value before the step, and the step more after it
    assert left[-1] - left[0] == pytest.approx(step, abs=1e-6)
    kept = (1.0 - SMOOTHING) ** np.array([before, after])
    expected = left[0] * (1.0 - kept[0]) * kept[1] + left[-1] * (1.0 - kept[1])
    assert found.calibration.followed == pytest.approx(expected, abs=1e-6)
    assert found.calibration.followed[1] > 0.3 * step[1]
    # the model moves by as much at pitch, and the bolted kink that it expects stays
    there, here = (bench_of(case(), calibration=one.calibration) for one in (found, plain))
    moved = there.strung(0.0, -0.12).numbers - here.strung(0.0, -0.12).numbers
    assert -bench().geometry.share * moved[0] == pytest.approx(expected[0], abs=5e-4)
    assert moved[1] == pytest.approx(expected[1], abs=5e-4)
    assert found.calibration.value(KINK_BIAS) == plain.calibration.value(KINK_BIAS)


def test_a_steady_log_is_left_nearly_alone_and_so_is_a_short_one():
    found = calibrate_shop(bench(), made_log(count=60), created=START, follow=True)
    scatter = [found.action_after_mm[1], found.kink_after_deg[1]]
    usual = np.sqrt(SMOOTHING / (2.0 - SMOOTHING)) * np.array(scatter)
    assert np.all(np.abs(found.calibration.followed) < 2.5 * usual)
    one = weighted_mean([row([0.1, 0.02, np.nan])], np.zeros(4), start=NONE)
    assert one == pytest.approx([0.1 * SMOOTHING, 0.02 * SMOOTHING])


def test_what_the_dry_reading_told_is_not_followed():
    """Drawn guitars: what is left does not depend on the bolted kink, and scatters less."""
    rng = np.random.default_rng(5)
    drawn = rng.multivariate_normal(np.zeros(3), row([0.0] * 3).scatter, 20_000)
    left = np.array([left_over(row(list(one)), np.zeros(4))[1] for one in drawn])
    assert np.corrcoef(left, drawn[:, 2])[0, 1] == pytest.approx(0.0, abs=0.02)
    # variance 5e-4 (1 - 0.8^2)
    assert left.var() == pytest.approx(1.8e-4, rel=0.04)
    unread = left_over(row([0.1, 0.02, np.nan]), np.zeros(4))
    assert unread == pytest.approx([0.1, 0.02])
    assert np.isnan(left_over(row([np.nan, 0.02, np.nan]), np.zeros(4))[0])
    started = weighted_mean([row([np.nan, 0.02, np.nan])], np.zeros(4), start=np.array([0.1, 0.0]))
    assert started == pytest.approx([0.1, 0.002])


def stiff_neck() -> Calibration:
    """A neck that the test found about 15 % stiffer than the case says."""
    expected = neck_test(case(), replace(TEST, moved_mm=0.15), name="x", created=START).expected_mm
    return neck_test(case(), replace(TEST, moved_mm=expected / 1.15), name="x", created=START).calibration


def test_what_a_test_of_the_neck_told_is_not_followed():
    neck = stiff_neck()
    at = bench().reference_deg
    effects = bench().effects(*at)
    told = told_by_test(case(), effects, neck)
    full = bench_of(case(), calibration=neck).strung(*at).numbers - bench().strung(*at).numbers
    assert told[:2] == pytest.approx(full[:2], rel=0.06)
    # twelve such necks at the end of a log, measured as their tests say
    fits = stepped(30, 12, (-bench().geometry.share * told[0], told[1]))
    fits = fits[:30] + [fit.model_copy(update={"calibration_id": f"shop-1+{neck.id}"}) for fit in fits[30:]]
    blind, knowing = (
        calibrate_shop(bench(), fits, created=START, follow=True, necks=necks) for necks in ((), (neck,))
    )
    assert (blind.tested, knowing.tested) == (0, 12)
    # what learning from all took for the shop's own comes back, and that alone
    learned = knowing.learned.after[0, :2] * [-bench().geometry.share, 1.0]
    assert knowing.calibration.followed == pytest.approx(learned * (1.0 - 0.9**42), abs=1e-6)
    assert blind.calibration.followed[0] * knowing.calibration.followed[0] < 0.0
    assert "; tests of 12 necks used" in shop_text(knowing)
    assert any("neck of 12 guitars was not given" in text for text in blind.warnings)
    assert not any("not given" in text for text in knowing.warnings)


def test_a_guitar_counts_once_with_the_last_pair_strung_up():
    fits = made_log(kinds=PITCH, count=8, noise=0.0)
    odd = fits[-1].model_copy(
        update={
            "measurements": tuple(
                one.model_copy(update={"value": one.value + 0.3 * (one.kind == "kink")})
                for one in fits[-1].measurements
            )
        }
    )
    again = fits[-1].model_copy(update={"attempt": 2, "reason": "swap"})
    found = calibrate_shop(bench(), [*fits[:-1], odd, again], created=START, follow=True)
    left = found.learned.after[:, 1]
    expected = 0.0
    for value in [*left[:7], left[8]]:
        expected += SMOOTHING * (value - expected)
    assert found.calibration.followed[1] == pytest.approx(expected, abs=1e-9)


def test_no_file_gets_a_stretch_that_fits_no_joint():
    beside = np.array([0.0, -3.0 * bench().stretch_deg])
    change = moved_by(bench(), beside, np.array([0.0, -0.2, 0.0, 0.0]))
    assert 0.8 + change[1] == pytest.approx(LEAST_FACTOR)
    at = bench().strung(*bench().reference_deg)
    assert (bench().learned_rows(at) @ change)[1] == pytest.approx(beside[1])


def test_the_file_says_so_and_comes_back_as_it_was(tmp_path: Path):
    fits = stepped(10, 5, (0.1, 0.02))
    followed, plain = (
        calibrate_shop(bench(), fits, created=START, follow=follow).calibration for follow in (True, False)
    )
    assert load_calibration(save_calibration(followed, tmp_path / "shop.toml")) == followed
    assert "followed" in followed.to_toml()
    assert "followed" not in plain.to_toml()
    assert plain.followed is None


def test_the_command_follows_and_says_by_how_much(tmp_path: Path):
    log, file, folder = tmp_path / "log.sqlite", tmp_path / "shop.toml", tmp_path / "necks"
    folder.mkdir()
    save_calibration(stiff_neck(), folder / "n0.toml")
    # a case beside them is no fault
    (folder / "mine.toml").write_text('name = "mine"\n', encoding="utf-8")
    name = "fourteen-mahogany"
    for number in range(5):
        how = ("--calibration", folder / "n0.toml") if number == 0 else ()
        said(
            "pair",
            name,
            "--reading",
            f"{1.7 + 0.05 * number:.2f}mm",
            "--serial",
            f"n{number}",
            "--log",
            log,
            *how,
        )
        told = ("action_bass=2.6mm", "action_treble=1.85mm", f"kink=0.0{number}deg")
        said("logbook", "add", f"n{number}", *(w for one in told for w in ("--measured", one)), "--log", log)
    shop = ("calibrate", "shop", name, "--log", log, "--out", file)
    assert "followed" not in said(*shop)
    text = said(*shop, "--follow", "--necks", folder, "--replace")
    assert "followed: the last guitars lie" in text
    assert "tests of 1 neck used" in text
    assert load_calibration(file).followed is not None
    assert said("pair", name, "--reading", "1.8mm", "--calibration", file)
    assert "add --follow" in refused(*shop, "--necks", folder, "--replace")
    for wrong in (tmp_path / "nowhere", file):
        assert "there are none here" in refused(*shop, "--follow", "--necks", wrong, "--replace")

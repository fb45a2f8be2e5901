"""A log learned from, and its file: what was hidden comes back, what a log cannot tell is named."""

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from cases import load
from cases.bench.learning.calibrate import ACTION_MM, NAMES, ShopResult, calibrate_shop, guitar_scatter
from cases.bench.learning.gaussian_update import direction_name, learn
from cases.bench.learning.known_offset import known_offset
from cases.bench.learning.stiffness_test import neck_test
from cases.bench.logbook.current_rows import Fit, Measurement
from cases.bench.shims.choose_pair import choose_pair
from cases.bench.shims.strung_neck import Uncertainty, bench_of, covariance_of
from cases.casefile.errors import CaseError
from cases.offset.calibration import (
    KINK_BIAS,
    LEARNED,
    PITCH_BIAS,
    STRETCH,
    TRANSFER,
    Calibration,
    calibration_of,
    together,
)
from cases.offset.calibration_file import load_calibration, save_calibration
from cases.offset.preload import preload
from cases.show.text.bench import shop_text
from materials.errors import InputError
from tests.benches import START, answer, bench, case, logged, rigid, rigid_bench
from tests.command import said
from tests.test_bench_stiffness import TEST

ALL = ("action_bass", "action_treble", "kink", "kink bolted")
PAIRS = ((0.0, -0.12), (0.04, -0.24), (-0.04, 0.0))


def learned_from(fits: Sequence[Fit]) -> ShopResult:
    return calibrate_shop(bench(), fits, created=START)


def unknown(found: ShopResult) -> tuple[str, ...]:
    return found.learned.not_identifiable(NAMES)


def made_log(
    hidden: Sequence[float] = (0.0, 0.0, 0.0, 0.0),
    *,
    pairs: Sequence[tuple[float, float]] = PAIRS,
    kinds: Sequence[str] = ALL,
    count: int = 60,
    noise: float = 1.0,
    seed: int = 1,
) -> list[Fit]:
    """A log of guitars whose truth is the model with four numbers changed; ``hidden`` as `NAMES`."""
    rng = np.random.default_rng(seed)
    on, geometry, setup = bench(), bench().geometry, case().setup
    slopes = [effect.slope for effect in on.effects(*on.reference_deg)]
    fits = []
    for number in range(count):
        pair = pairs[number % len(pairs)]
        at = on.strung(*pair)
        moved = on.learned_rows(at) @ np.asarray(hidden)
        moved += noise * sum(slope * rng.standard_normal() for slope in slopes)
        seats = noise * np.hypot(0.02 * sqrt(2), 0.01) * rng.standard_normal()
        upper = noise * 0.01 * rng.standard_normal()
        moved += on.gains(*pair) @ np.array([upper, seats])
        reading = geometry.saddle_top - at.saddle_mm + 0.1
        action = geometry.action_of(-0.1 - moved[0])
        read = reading + noise * 0.05 * rng.standard_normal()
        error = noise * rng.standard_normal(4)
        values = {
            "action_bass": ("strung", "mm", setup.action_bass_mm + action + ACTION_MM * error[0]),
            "action_treble": ("strung", "mm", setup.action_treble_mm + action + ACTION_MM * error[1]),
            "kink": ("strung", "deg", at.misfit_deg + moved[1] + 0.01 * error[2]),
            "kink bolted": ("bolted", "deg", at.bolted_kink_deg + moved[2] + 0.01 * error[3]),
        }
        rows = [("reading", "bare", "mm", read), *((name.split()[0], *values[name]) for name in kinds)]
        measured = [
            Measurement(id=k, kind=kind, state=state, unit=unit, value=value)
            for k, (kind, state, unit, value) in enumerate(rows)
        ]
        told = {"case_sha256": case().sha256, "measurements": measured}
        fits.append(logged(f"S{number}", upper_deg=pair[0], lower_deg=pair[1], **told))
    return fits


@pytest.mark.full
def test_full_logs_give_back_the_four_hidden_numbers():
    """Hidden numbers drawn from the prior: the posterior's own covariance says how far off it is."""
    effects = bench().effects(*bench().reference_deg)
    prior = np.sqrt(np.diag(bench().prior(effects)))
    rng, distances = np.random.default_rng(11), []
    for seed in range(12):
        hidden = prior * rng.standard_normal(4)
        found = learned_from(made_log(hidden, seed=seed))
        error = found.learned.mean - hidden
        distances.append(float(error @ np.linalg.solve(found.learned.covariance, error)))
        assert np.all(found.learned.ratios < 0.9)
        assert found.calibration.parameters == LEARNED
    # 48 squares: between the 1 % and 99 % points of their chi-square
    assert 28.2 < sum(distances) < 73.7


def test_residuals_shrink_and_a_log_of_the_model_does_not_contradict_it():
    found = learned_from(made_log([0.03, 0.3, 0.0, 0.03], count=120))
    assert abs(found.kink_after_deg[0]) < 0.3 * abs(found.kink_before_deg[0])
    assert abs(found.action_after_mm[0]) < 0.02 < abs(found.action_before_mm[0])
    assert not found.learned.contradicts
    assert unknown(found) == ()
    # without noise the numbers come back, up to the prior's pull
    hidden = np.array([0.01, 0.1, 0.02, -0.02])
    assert learned_from(made_log(hidden, noise=0.0)).learned.mean == pytest.approx(hidden, abs=0.02)


def test_stretch_needs_before_and_after():
    """Strung kinks alone hold bias and stretch as a sum; their difference is named."""
    found = learned_from(made_log([0.02, 0.3, 0.0, 0.0], kinds=("kink",)))
    assert any("kink bias" in text and "stretch factor" in text for text in unknown(found))
    assert "pitch bias" in " ".join(unknown(found))
    assert PITCH_BIAS not in found.calibration.parameters
    before_after = learned_from(made_log([0.02, 0.3, 0.0, 0.0], kinds=("kink", "kink bolted")))
    assert not any("stretch factor" in text for text in unknown(before_after))


def test_transfer_needs_two_offsets():
    one = learned_from(made_log([0.0, 0.0, 0.2, 0.0], pairs=PAIRS[:1]))
    assert any("transfer factor" in text for text in unknown(one))
    assert one.learned.ratios[NAMES.index("transfer factor")] > 0.9
    two = learned_from(made_log([0.0, 0.0, 0.2, 0.0]))
    assert two.learned.ratios[NAMES.index("transfer factor")] < 0.6
    assert "not identifiable from this log" in shop_text(one)


def test_a_log_that_contradicts_the_model_is_said_to():
    loud = learned_from(made_log(noise=2.0))
    assert loud.learned.contradicts
    assert "contradicts the model" in loud.warnings[0]
    assert max(loud.calibration.extra) > 0.0
    quiet = learned_from(made_log(noise=0.3))
    assert quiet.learned.contradicts
    assert min(quiet.calibration.scale) < 0.9
    assert quiet.calibration.extra == (0.0, 0.0)


def test_the_chi_square_is_that_of_its_distribution():
    """Over many logs drawn from the model the probability is even: mean a half, a tenth below a tenth."""
    rng = np.random.default_rng(2)
    rows = rng.normal(size=(40, 2, 3))
    prior, scatter = np.eye(3), np.repeat(np.diag([0.5, 2.0])[None], 40, axis=0)
    errors = np.full((40, 2), 0.3)
    chances = []
    for _ in range(200):
        hidden = rng.normal(size=3)
        noise = rng.normal(size=(40, 2)) * np.sqrt([0.59, 2.09])
        chances.append(learn(rows @ hidden + noise, rows, scatter, errors, prior).probability)
    assert np.mean(chances) == pytest.approx(0.5, abs=0.06)
    assert np.mean(np.array(chances) < 0.1) == pytest.approx(0.1, abs=0.06)


def test_the_update_is_the_textbooks():
    """One parameter, n like values: precision adds, the mean is weighed by it."""
    n, spread, prior = 8, 0.5, 2.0
    values = np.arange(n, dtype=float).reshape(n, 1)
    ones = np.ones((n, 1, 1))
    found = learn(values, ones, spread**2 * ones, np.zeros((n, 1)), np.array([[prior**2]]))
    precision = n / spread**2 + 1.0 / prior**2
    assert found.covariance[0, 0] == pytest.approx(1.0 / precision)
    assert found.mean[0] == pytest.approx(values.sum() / spread**2 / precision)
    assert found.ratios[0] == pytest.approx(1.0 / sqrt(precision) / prior)
    assert direction_name(found.directions[0], ("bias",)) == "bias"


def test_an_unknown_body_leaves_the_pitch_open():
    """A shop that never measured its body learns it from few actions: the prior must not hold it back."""
    effects = rigid_bench().effects(*rigid_bench().reference_deg)
    open_pitch, known = (np.sqrt(np.diag(one.prior(effects))) for one in (rigid_bench(), bench()))
    assert open_pitch[3] > 0.1
    assert open_pitch[3] > 4.0 * known[3]
    assert open_pitch[0] == pytest.approx(known[0], rel=0.2)


def test_fits_that_cannot_be_used_are_left_out_and_named():
    good = made_log(count=6)
    other = good[0].model_copy(update={"case_sha256": "0" * 64})
    back = good[1].model_copy(update={"reason": "return"})
    blind = good[2].model_copy(update={"serial": "x", "measurements": good[2].measurements[1:]})
    found = learned_from([*good, other, back, blind])
    assert (found.used, found.guitars) == (6, 6)
    reasons = ("fitted to another case", "a return", "no reading of the bare pocket")
    for text, reason in zip(found.left_out, reasons, strict=True):
        assert f": {reason}" in text
    with pytest.raises(InputError, match=r"4 attempts on 4 guitars .* 5 guitars or more are needed"):
        learned_from(good[:4])


def test_a_later_attempt_counts_with_the_pocket_of_the_first():
    good = made_log(count=6)
    strung = tuple(one for one in good[0].measurements if one.state != "bare")
    second = good[0].model_copy(update={"attempt": 2, "reason": "swap", "measurements": strung})
    found = learned_from([*good, second])
    assert (found.used, found.guitars, found.left_out) == (7, 6, ())
    assert "learned from 7 attempts on 6 guitars" in shop_text(found)
    with pytest.raises(InputError, match="5 attempts on 4 guitars"):
        learned_from([*good[:4], second])


def changed_dry(fit: Fit) -> list[Fit]:
    """The same guitar, its kink read dry on another pair that was changed before the strings went on."""
    here, there = (bench().strung(fit.upper_deg, fit.lower_deg + turn) for turn in (0.0, 0.04))
    *others, dry = fit.measurements
    assert (dry.kind, dry.state) == ("kink", "bolted")
    moved = there.bolted_kink_deg - here.bolted_kink_deg
    read = dry.model_copy(update={"value": dry.value + moved})
    pocket = [one for one in others if one.state == "bare"]
    strung = [one for one in others if one.state != "bare"]
    told = {"lower_deg": round(fit.lower_deg + 0.04, 2), "measurements": (*pocket, read)}
    second = {"attempt": 2, "reason": "swap", "measurements": tuple(strung)}
    return [fit.model_copy(update=told), fit.model_copy(update=second)]


def test_a_shim_changed_dry_loses_nothing_of_what_was_read():
    """Changed where the kink was not as believed: the log must not confirm what was believed."""
    hidden = np.array([0.03, 0.3, 0.0, 0.0])
    whole = made_log(hidden, count=60)
    kinks = np.array([fit.measurements[-1].value for fit in whole])
    model = np.array([bench().strung(fit.upper_deg, fit.lower_deg).bolted_kink_deg for fit in whole])
    odd = np.abs(kinks - model) > 0.015
    assert 20 < odd.sum() < 55
    each = [changed_dry(fit) if odd[k] else [fit] for k, fit in enumerate(whole)]
    found, plain = learned_from([fit for one in each for fit in one]), learned_from(whole)
    assert (found.used, found.guitars) == (60 + odd.sum(), 60)
    # only the error of one shim, 0.01 deg, lies between the two logs; the transfer factor sees other pairs
    spread = np.sqrt(np.diag(plain.learned.covariance))
    away = np.abs(found.learned.mean - plain.learned.mean) / spread
    assert away[[0, 1, 3]] == pytest.approx(0.0, abs=0.35)
    kept = np.sqrt(np.diag(found.learned.covariance)) / spread
    assert kept[[0, 1, 3]] == pytest.approx(1.0, abs=0.08)


def test_attempts_on_one_guitar_share_its_woods_and_seats_and_the_shim_that_stays():
    """Drawn guitars: the lower shim was changed, then the upper one."""
    on, pairs = bench(), [(0.0, -0.08), (0.0, -0.12), (0.04, -0.12)]
    effects = on.effects(*on.reference_deg)
    at = on.strung(*pairs[-1])
    uncertainty = Uncertainty(effects, np.zeros((4, 4)), 0.05, 0.03)
    gains = on.gains(*pairs[-1])
    rng, count = np.random.default_rng(3), 200_000
    base = sum(np.outer(rng.standard_normal(count), one.slope) for one in effects)
    base = base + np.outer(0.03 * rng.standard_normal(count), gains[:, 1])
    base[:, 0] += 0.05 * rng.standard_normal(count)
    first, second = case().tolerance.shim_deg * rng.standard_normal((2, count, 2))
    shims = [first, np.column_stack([first[:, 0], second[:, 1]]), second]
    drawn = np.column_stack(
        [base + shims[2] @ gains.T, *(base[:, 2:] + one @ gains[2:].T for one in shims[:2])]
    )
    found = guitar_scatter(on, at, uncertainty, pairs)
    size = np.sqrt(np.diag(found))
    assert np.cov(drawn.T) / np.outer(size, size) == pytest.approx(found / np.outer(size, size), abs=0.012)
    assert guitar_scatter(on, at, uncertainty, pairs[-1:]) == pytest.approx(
        covariance_of(on, at, uncertainty)
    )


def shop_file(mean: Sequence[float], parameters: Sequence[str] = (KINK_BIAS,)) -> Calibration:
    return calibration_of(
        "shop", created=START, rows=["x"], parameters=parameters, mean=mean,
        covariance=np.diag([1e-4] * len(mean)), valid_for={"case": case().name, "case_sha256": case().sha256},
    )  # fmt: skip


def test_a_file_comes_back_as_it_was(tmp_path):
    found = learned_from(made_log([0.01, 0.1, 0.0, 0.0], count=20)).calibration
    path = save_calibration(found, tmp_path / "calibration.toml")
    assert load_calibration(path) == found
    with pytest.raises(CaseError, match="exists already"):
        save_calibration(found, path)


def test_a_calibration_is_laid_over_and_never_into_the_case():
    plain = answer()
    bias = shop_file([0.03])
    laid = preload(case(), effects=False, calibration=bias)
    assert laid.calibration_id == bias.id
    assert laid.case_sha256 == plain.case_sha256 == case().sha256
    expected = plain.preload_offset_deg - 0.03 / plain.shim_transfer
    assert laid.preload_offset_deg == pytest.approx(expected, abs=0.003)
    # the residual kinks are those of the shop: the chosen pair is right there
    assert abs(laid.residual_kink_deg) < 0.02
    none = preload(case(), effects=False, calibration=shop_file([0.0]))
    assert none.preload_offset_deg == pytest.approx(plain.preload_offset_deg, abs=1e-9)


def test_stretch_and_transfer_change_the_offset_as_the_formula_says():
    """Shop's kink: bias + k_b0 + t (k - k_0) + s (k_0 - k_b0), zero at the offset found."""
    s, t = 1.3, 0.9
    found = bench_of(case(), calibration=shop_file([s, t], (STRETCH, TRANSFER)))
    upper, lower = np.degrees(found.reference.angles)
    raw, level = bench().strung(upper, lower), bench().strung(0.0, 0.0)
    kink = level.bolted_kink_deg + t * (raw.misfit_deg - level.misfit_deg)
    kink += s * (level.misfit_deg - level.bolted_kink_deg)
    assert kink == pytest.approx(0.0, abs=2e-4)
    aside = found.strung(upper, lower + 0.1).misfit_deg
    expected = t * (bench().strung(upper, lower + 0.1).misfit_deg - raw.misfit_deg)
    assert aside == pytest.approx(expected, abs=1e-4)


def test_a_pitch_bias_moves_the_pair_and_includes_the_body():
    learned = replace(shop_file([-0.11], (PITCH_BIAS,)), valid_for={"case": rigid().name})
    plain = choose_pair(rigid_bench(), [1.8])
    assert plain.pair.chance is None
    found = choose_pair(bench_of(rigid(), calibration=learned), [1.8])
    assert found.pair.chance is not None
    # the shaft leans back by 0.11 deg more: about that much more upper shim is left out
    assert found.upper_wanted_deg - plain.upper_wanted_deg == pytest.approx(0.13, abs=0.02)


def test_a_known_offset_becomes_the_answer():
    known = known_offset(bench(), -0.16, guitars=40, created=START)
    found = preload(case(), effects=False, calibration=known)
    assert found.preload_offset_deg == pytest.approx(-0.16, abs=2e-3)
    # from ever so many only the stock's step is left, evenly spread and seen through the shim transfer
    rounding = known_offset(bench(), -0.16, guitars=10**9, created=START).covariance[0][0] ** 0.5
    step, transfer = case().stock.step_deg, answer().shim_transfer
    assert rounding == pytest.approx(transfer * step / 12.0**0.5, rel=0.01)
    assert rounding < 0.99 * known.covariance[0][0] ** 0.5


def test_calibrations_stand_together_unless_they_say_the_same():
    neck = neck_test(case(), TEST, name="n", created=START).calibration
    both = together([shop_file([0.02]), neck])
    assert both.parameters == (KINK_BIAS, "neck.e_l_gpa", "fretboard.e_l_gpa")
    assert both.covariance_of(["neck.e_l_gpa"])[0, 0] == neck.covariance[0][0]
    with pytest.raises(InputError, match="Two of the calibrations"):
        together([neck, neck])
    plain = choose_pair(bench(), [1.8])
    tested = choose_pair(bench_of(case(), calibration=neck), [1.8])
    assert tested.pair.chance > plain.pair.chance + 0.02


def test_a_calibration_of_another_case_or_wood_is_refused():
    other = load("fourteen-maple")
    with pytest.raises(InputError, match="fourteen-mahogany"):
        preload(other, effects=False, calibration=shop_file([0.02]))
    changed = case().with_values({"targets.relief_mm": 0.15})
    found = preload(changed, effects=False, calibration=shop_file([0.02]))
    assert "before this case was changed" in found.warnings[0]


def test_the_commands_write_what_the_others_take(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    sizes = ["--length-mm", "720", "--width-mm", "75", "--thickness-mm", "25", "--mass-g", "730"]
    assert "inside the wood table" in said(
        "calibrate", "blank", "--wood", "mahogany-honduran", *sizes, "--tap-hz", "215", "--out", "b.toml"
    )
    places = ["--first", "15mm", "--last", "290mm", "--load", "150mm", "--dial", "150mm"]
    neck = ["calibrate", "neck", "fourteen-mahogany", *places, "--mass-kg", "10", "--moved", "0.15mm"]
    assert "EI at fret 5" in said(*neck, "--out", "n.toml")
    known = ["calibrate", "known", "fourteen-mahogany", "--guitars", "40", "--offset"]
    assert "have opposite signs" in said(*known, "0.16", "--out", "wrong.toml")
    assert "opposite" not in said(*known, "-0.16", "--out", "k.toml")
    assert "PRELOAD OFFSET -0.1" in said("offset", "fourteen-mahogany", "--calibration", "k.toml")
    both = ["--calibration", "k.toml", "--calibration", "n.toml"]
    assert "PAIR" in said("pair", "fourteen-mahogany", "--reading", "1.8mm", *both)

"""Blanks and necks tested for their stiffness: closed forms, published corrections, what was hidden found."""

from dataclasses import replace
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from cases.bench.learning.blank_modulus import (
    FREE_FREE,
    Blank,
    batch_calibration,
    batch_from,
    batch_of,
    blank_warnings,
    measure_blank,
    read_blanks,
    tap_frequency,
)
from cases.bench.learning.stiffness_test import DeadWeight, Deflection, neck_test, updated
from cases.offset.woods import wood_of
from cases.show.text.bench import neck_text
from materials.errors import InputError
from tests.benches import START, case

BLANK = Blank("a", 720.0, 75.0, 25.0, 730.0, tap_hz=215.0)
SAGGING = replace(BLANK, tap_hz=None, span_mm=600.0, load_kg=5.0, dial_mm=40.0)


def test_tapped_and_loaded_blanks_of_one_wood_agree():
    """The same E by both ways: a blank of 10 GPa rings and sags as the textbook says, shear left out."""
    e_l, second = 10e9, 0.075 * 0.025**3 / 12.0
    mass_per_length = 0.730 / 0.72
    note = FREE_FREE / (2.0 * pi) * sqrt(e_l * second / mass_per_length) / 0.72**2
    tapped = measure_blank(replace(BLANK, tap_hz=note), e_over_g=1e-6)
    sag = 5.0 * 9.80665 * 0.6**3 / (48.0 * e_l * second) * 1e3
    loaded = measure_blank(replace(SAGGING, dial_mm=sag), e_over_g=1e-6)
    # rotary inertia alone is left in the tapped one
    assert tapped.e_l == pytest.approx(10.0, rel=0.008)
    assert loaded.e_l == pytest.approx(10.0, rel=1e-6)


def test_the_shear_correction_of_a_tapped_bar_is_the_published_one():
    """ASTM E1876 (from memory): T1 = 1 + 6.585 (1 + 0.0752 v + 0.8109 v2) (t/L)2 - 0.868 (t/L)4 - 8.340
    (1 + 0.2023 v + 2.173 v2) (t/L)4 / (1 + 6.338 (1 + 0.1408 v + 1.536 v2) (t/L)2), isotropic.
    """
    v, part = 0.3, 30.0 / 300.0
    two, four = part**2, part**4
    published = 1.0 + 6.585 * (1.0 + 0.0752 * v + 0.8109 * v**2) * two - 0.868 * four
    below = 1.0 + 6.338 * (1.0 + 0.1408 * v + 1.536 * v**2) * two
    published -= 8.340 * (1.0 + 0.2023 * v + 2.173 * v**2) * four / below
    found = measure_blank(Blank("c", 300.0, 30.0, 30.0, 250.0, tap_hz=1500.0), e_over_g=2.0 * (1.0 + v))
    assert found.shear_factor == pytest.approx(published, rel=0.003)


def test_a_slender_bar_rings_as_without_shear():
    bar = Blank("d", 2000.0, 20.0, 5.0, 100.0, tap_hz=10.0)
    plain = FREE_FREE / (2 * pi) * sqrt(10e9 * 0.02 * 0.005**3 / 12 / (0.1 / 2.0)) / 2.0**2
    assert tap_frequency(bar, e_l=10e9, e_over_g=15.0) == pytest.approx(plain, rel=5e-4)


def test_errors_of_a_blank_follow_its_powers():
    """Tapped, E goes with the thickness to the power -3 (mass held) and with the tap squared."""
    found = measure_blank(BLANK, e_over_g=15.0)
    assert found.density == pytest.approx(0.730 / (0.72 * 0.075 * 0.025))
    by_hand = sqrt((3 * 0.1 / 25) ** 2 + (0.1 / 75) ** 2 + (3 * 0.5 / 720) ** 2 + 0.01**2 + (1 / 730) ** 2)
    assert found.e_l_error / found.e_l == pytest.approx(by_hand, rel=0.02)


@pytest.mark.full
def test_a_batch_gives_back_mean_and_scatter():
    rng = np.random.default_rng(5)
    moduli = 10.0 * np.exp(0.15 * rng.standard_normal(300))
    results = [replace(measure_blank(BLANK, e_over_g=15.0), e_l=float(e), e_l_error=0.2) for e in moduli]
    noisy = [replace(one, e_l=one.e_l + 0.2 * float(rng.standard_normal())) for one in results]
    batch = batch_of(noisy)
    assert batch.e_cov == pytest.approx(0.15, abs=0.012)
    assert batch.holds(batch.e_l * 1.2)
    assert not batch.holds(batch.e_l * 1.5)
    made = batch_calibration(batch, noisy, wood_name="mahogany-honduran", created=START)
    assert batch_from(made).e_cov == pytest.approx(batch.e_cov)
    laid = made.applied(case())
    assert laid.scatter.neck_e_cov == pytest.approx(batch.e_cov)
    assert made.woods(case()).neck.e_l == pytest.approx(batch.e_l * 1e9)
    with pytest.raises(InputError, match="three or more"):
        batch_of(noisy[:2])


HEADER = "name,length_mm,width_mm,thickness_mm,mass_g,tap_hz\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,length_mm\na,720\n", "width_mm, thickness_mm, mass_g are missing"),
        (f"{HEADER}a,720,75,25,x,200\n", "line 2: mass_g 'x'"),
        (f"{HEADER}a,720,75,,730,200\n", "thickness_mm is missing"),
        (f"{HEADER}a,720,75,25,730,200,9\n", "7 cells for 6 columns"),
        (HEADER, "no blank"),
    ],
)
def test_a_wrong_list_of_blanks_is_told_by_line(tmp_path: Path, text: str, said: str):
    (tmp_path / "blanks.csv").write_text(text)
    with pytest.raises(InputError, match=said):
        read_blanks(tmp_path / "blanks.csv")


def test_a_list_of_blanks_is_read(tmp_path: Path):
    (tmp_path / "blanks.csv").write_text(f"{HEADER}a,720,75,25,730,215\n,720,75,25,730,\n")
    first, second = read_blanks(tmp_path / "blanks.csv")
    assert first == BLANK
    assert second == replace(BLANK, name="line 3", tap_hz=None)


@pytest.mark.parametrize(
    ("blank", "said"),
    [
        (replace(BLANK, span_mm=600.0), "but not both"),
        (replace(BLANK, thickness_mm=120.0), "need 8 or more"),
        (replace(BLANK, mass_g=0.73), "Check the unit"),
        (replace(BLANK, mass_g=7300.0), "density of 5407 kg/m3 is no wood's; 200 to 1400 .* Check mass"),
        (replace(BLANK, tap_hz=50.0), "modulus along the grain of 0.5.* 3 to 30 GPa .* Check the tap"),
        (SAGGING, "is no wood's.* Check span, load, dial"),
    ],
)
def test_a_wrong_blank_gets_one_sentence(blank: Blank, said: str):
    with pytest.raises(InputError, match=said):
        measure_blank(blank, e_over_g=15.0)


def test_a_blank_far_from_its_wood_is_used_with_a_warning():
    near = measure_blank(BLANK, e_over_g=15.0)
    assert blank_warnings(near, "mahogany-honduran") == ()
    # tapped half as high again, a modulus 2.25 times as large: 3.6 scatters of 22 %
    (said,) = blank_warnings(replace(near, e_l=11.37 * 2.25), "mahogany-honduran")
    assert "lies 3.7 scatters from the 11.37 of the wood table" in said


TEST = DeadWeight(15.0, 290.0, 150.0, 150.0, mass_kg=10.0, moved_mm=0.15, error_mm=0.002)


def test_a_uniform_neck_sags_as_the_closed_form():
    """F a b (L2 - a2 - b2) / ... in the middle: F L3 / 48 EI, with the mean stiffness of a mild taper."""
    deflection = Deflection(case(), TEST)
    x = np.linspace(0.015, 0.290, 400)
    ea, es, ei = deflection.shaft.total(x)
    stiffness = ei - es**2 / ea
    moment = 0.5 * np.minimum(x - 0.015, 0.290 - x)
    bending = 10.0 * 9.80665 * np.trapezoid(moment**2 / stiffness, x)
    shear = 10.0 * 9.80665 * np.trapezoid(0.25 / deflection.shaft.shear_stiffness(x), x)
    assert deflection(1.0, 1.0) == pytest.approx(bending + shear, rel=2e-3)
    assert deflection(2.0, 2.0) == pytest.approx(0.5 * deflection(1.0, 1.0), rel=1e-9)
    assert deflection.powers(1.0, 1.0).sum() == pytest.approx(-1.0, abs=2e-3)


def test_a_neck_test_gives_back_the_stiffness_that_was_hidden():
    deflection = Deflection(case(), TEST)
    moved = 1e3 * deflection(1.25, 0.9)
    found = neck_test(case(), replace(TEST, moved_mm=moved), name="n1", created=START)
    x = np.array([1e-3 * case().instrument.scale_mm * (1.0 - 2.0 ** (-5 / 12))])
    parts = (("neck", 1.25), ("board", 0.9), ("bars", 1.0))
    each = [part * np.array(deflection.shaft.stretch(x, name)) for name, part in parts]
    ea, es, ei = np.sum(each, axis=0)
    assert dict(found.ei)[5] == pytest.approx(float((ei - es**2 / ea)[0]), rel=0.02)
    # EI is known to a per cent or two, the neck's wood only as well as the board lets it
    by_hand = sqrt((0.002 / moved) ** 2 + 0.002**2 + (3 * 0.5 / 275) ** 2)
    assert found.ei_error == pytest.approx(by_hand)
    assert found.errors[0] / found.e_l[0] > 4.0 * found.ei_error
    low, high = found.neck_interval
    assert low < 1.25 * wood_of(case(), case().neck).e_l / 1e9 < high
    assert found.calibration.covariance[0][1] / (found.errors[0] * found.errors[1]) < -0.9
    sure = neck_test(case().with_values({"scatter.board_e_cov": 0.03}), TEST, name="n", created=START)
    assert sure.errors[0] < 0.5 * found.errors[0]


def test_the_update_of_two_moduli_is_that_of_a_grid():
    powers, scatter, error = np.array([-0.6, -0.4]), np.array([0.22, 0.15]), 0.02
    mean, covariance = updated(powers, 0.1, error=error, scatter=scatter)
    grid = np.linspace(-1.5, 1.5, 801)
    a, b = np.meshgrid(grid, grid, indexing="ij")
    log = -0.5 * ((a / 0.22) ** 2 + (b / 0.15) ** 2 + ((0.1 - powers[0] * a - powers[1] * b) / error) ** 2)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    assert mean == pytest.approx([(weight * a).sum(), (weight * b).sum()], abs=1e-4)
    assert covariance[0, 1] == pytest.approx((weight * (a - mean[0]) * (b - mean[1])).sum(), rel=1e-3)


@pytest.mark.parametrize(
    ("test", "said"),
    [
        (replace(TEST, last_mm=360.0), "heel's start"),
        (replace(TEST, load_mm=10.0), "between the supports"),
        (replace(TEST, moved_mm=0.003), "too small for its error"),
        (replace(TEST, moved_mm=15.0), "check unit"),
        (replace(TEST, first_mm=290.0, last_mm=15.0), "nearer to the nut: exchange them"),
        (replace(TEST, error_mm=0.0), "dial error of 0 mm is not allowed"),
        (replace(TEST, moved_mm=0.6), "n, the neck wood: a modulus .* is no wood's; 3 to 30 GPa"),
        (replace(TEST, last_mm=100.0, load_mm=50.0, dial_mm=50.0), "100 mm apart"),
    ],
)
def test_a_wrong_neck_test_gets_one_sentence(test: DeadWeight, said: str):
    with pytest.raises(InputError, match=said):
        neck_test(case(), test, name="n", created=START)


def test_a_neck_far_from_its_wood_is_used_with_a_warning():
    expected = neck_test(case(), TEST, name="n", created=START).expected_mm
    assert neck_test(case(), replace(TEST, moved_mm=expected), name="n", created=START).warnings == ()
    weak = neck_test(case(), replace(TEST, moved_mm=2.3 * expected), name="n", created=START)
    (said,) = weak.warnings
    assert said.startswith("n, the neck wood: ")
    assert "scatters from the 11.37 of the case: check the dial reading" in said
    assert f"WARNING: {said}" in neck_text(weak, name="n", moved_mm=2.3 * expected)

"""Control charts against published numbers; the alarm's speed and price measured; rates and stock by hand."""

import math
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from cases.bench.learning.control_chart import (
    BASELINE,
    SMOOTHING,
    WIDTH,
    Limits,
    ewma,
    ewma_signals,
    limits_of,
    run_signals,
    shift_began,
)
from cases.bench.learning.run_length import ewma_run_length
from cases.bench.learning.trend import (
    GROUPINGS,
    Chart,
    Residual,
    alarm_text,
    chart,
    false_alarms_a_month,
    hint_text,
    pair_stayed,
    residuals,
)
from cases.bench.logbook.current_rows import Fit, Measurement
from cases.bench.shims.shim_stock import shims_used, stock_for_next
from cases.show.pictures.trend import BRIGHT, DARK, draw_few, draw_trend
from materials.errors import InputError
from tests.benches import START, logged

UNIT = Limits(centre=0.0, sigma=1.0, baseline=100, individuals=(-3, 3), ewma=(-1, 1), smoothing=0.1)

# NIST/SEMATECH e-Handbook 6.3.2.2 (from memory): ten flow rates, their limits.
HANDBOOK_FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
# The same, 6.3.2.4: twenty values, lambda 0.3, EWMA_0 50, s 2.0539.
HANDBOOK_EWMA = (
    (52.0, 50.60), (47.0, 49.52), (53.0, 50.56), (49.3, 50.18), (50.1, 50.16), (47.0, 49.21), (51.0, 49.75),
    (50.1, 49.85), (51.2, 50.26), (50.5, 50.33), (49.6, 50.11), (47.6, 49.36), (49.9, 49.52), (51.3, 50.05),
    (47.8, 49.38), (51.2, 49.92), (52.6, 50.73), (52.4, 51.23), (53.6, 51.94), (52.1, 51.99),
)  # fmt: skip


def test_individuals_limits_are_the_handbooks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cases.bench.learning.control_chart.FEWEST", 10)
    limits = limits_of(HANDBOOK_FLOW)
    assert limits.centre == pytest.approx(50.81, abs=1e-12)
    # The handbook rounds d2 to 1.128; we keep 2/sqrt(pi): 0.002 apart.
    assert limits.individuals == pytest.approx((45.8159, 55.8041), abs=0.003)


def test_ewma_values_and_limits_are_the_handbooks() -> None:
    values, smoothed = zip(*HANDBOOK_EWMA, strict=True)
    # Printed to two decimals, each from the rounded one before.
    assert ewma(values, start=50.0, smoothing=0.3) == pytest.approx(smoothed, abs=0.011)
    two_values = (50.0 - 2.0539, 50.0 + 2.0539) * 20
    limits = limits_of(two_values, smoothing=0.3, width=3.0)
    half = (limits.ewma[1] - limits.centre) * 2.0539 / limits.sigma
    assert (50.0 - half, 50.0 + half) == pytest.approx((47.4115, 52.5884), abs=2e-4)


# Lucas and Saccucci [lucas1990], Table 3, Crowder [crowder1987], Table 1, and Chandrasekaran, English and
# Disney [chandrasekaran1995], Table 2, all quoted second-hand.
TABLED = (
    (0.03, 2.437, {0.0: 500, 0.25: 76.7, 0.5: 29.3, 0.75: 17.6, 1.0: 12.6, 1.5: 8.07, 2.0: 5.99, 3.0: 4.03}),
    (0.5, 2.0, {0.0: 26.45, 0.25: 20.12, 0.5: 11.89, 1.0: 4.91, 2.0: 1.94, 3.0: 1.26, 4.0: 1.05}),
    (0.1, 2.8159, {0.0: 500, 0.25: 105.9, 0.5: 31.08, 0.75: 15.71, 1.0: 10.23, 2.0: 4.32}),
)


@pytest.mark.parametrize(("smoothing", "width", "lengths"), TABLED)
def test_run_lengths_are_the_tabled_ones(smoothing: float, width: float, lengths: dict[float, float]) -> None:
    # Three digits are printed; the last table is known to be about 1.5 % off.
    tolerance = 0.015 if width == 2.8159 else 0.006
    for shift, tabled in lengths.items():
        assert ewma_run_length(smoothing=smoothing, width=width, shift=shift) == pytest.approx(
            tabled, rel=tolerance
        )


def test_the_charts_own_run_lengths() -> None:
    assert ewma_run_length(smoothing=SMOOTHING, width=WIDTH) == pytest.approx(500, rel=0.005)
    assert ewma_run_length(smoothing=SMOOTHING, width=WIDTH, shift=1.0) == pytest.approx(10.3, abs=0.05)
    # lambda 1 is the individuals chart, 370 on average (NIST/SEMATECH e-Handbook 6.3.2)
    assert ewma_run_length(smoothing=1.0, width=3.0) == pytest.approx(370.4, abs=0.05)
    assert false_alarms_a_month(500.0) == pytest.approx(1.68)


@pytest.mark.parametrize("runs", [200, pytest.param(4000, marks=pytest.mark.full)])
def test_a_shift_of_one_standard_deviation_is_seen_within_20_guitars_at_a_bearable_price(runs: int) -> None:
    """Limits from the first 100 guitars of each run; measured in 4000: 0.920 and 0.440."""
    seen = false = 0
    for noise in np.random.default_rng(2025).normal(size=(runs, 270)):
        false += bool(ewma_signals(noise[:250], limits_of(noise)))
        noise[250:] += 1.0
        seen += any(one.last >= 250 and one.side == 1 for one in ewma_signals(noise, limits_of(noise)))
    assert seen >= 0.9 * runs
    assert false <= 0.5 * runs


def test_western_electric_rules_together_speak_once_in_92() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2: one false alarm in 91.75 on average (Champ and Woodall [champ1987])."""
    noise = np.random.default_rng(7).normal(size=(1000, 700))
    lengths = []
    for run in noise:
        raised = [s.raised for s in run_signals(run, UNIT) if s.rule != "6 rising or falling"]
        lengths.append(min(raised, default=700) + 1)
    # Standard error of the mean: 91/sqrt(1000) = 2.9.
    assert np.mean(lengths) == pytest.approx(91.75, abs=3 * 2.9)


@pytest.mark.parametrize(
    ("values", "rule", "first", "raised"),
    [
        ([0.1, -0.1, 3.1, 0.1], "beyond 3", 2, 2),
        ([0.1, -2.1, 0.1, -2.1, 0.1], "2 of 3 beyond 2", 1, 3),
        ([-0.1, 1.1, 1.1, -0.1, 1.1, 1.1, -0.1], "4 of 5 beyond 1", 1, 5),
        ([0.1, *[-0.1, -0.2] * 4, 0.1], "8 on one side", 1, 8),
        ([0.5, -0.5, -0.3, -0.1, 0.1, 0.3, 0.5, 0.2], "6 rising or falling", 1, 6),
    ],
)
def test_each_run_rule_finds_its_run_and_no_shorter_one(
    values: list[float], rule: str, first: int, raised: int
) -> None:
    (found,) = [signal for signal in run_signals(values, UNIT) if signal.rule == rule]
    assert (found.first, found.raised, found.side) == (first, raised, np.sign(values[raised]))
    shorter = [*values[:raised], 0.0]
    assert not [signal for signal in run_signals(shorter, UNIT) if signal.rule == rule]


def test_where_a_shift_began_is_found() -> None:
    errors = []
    for seed in range(100):
        values = np.random.default_rng(seed).normal(size=300) + np.where(np.arange(300) >= 250, 1.5, 0.0)
        limits = limits_of(values)
        (last,) = [s for s in ewma_signals(values, limits) if s.last == 299]
        errors.append(shift_began(values, limits, last) - 250)
    assert abs(np.median(errors)) <= 3


def test_one_shift_is_one_alarm_until_the_ewma_comes_back() -> None:
    values = np.zeros(100) + np.array([0.1, -0.1] * 50)
    values[40:60] += [1.0] * 10 + [0.55, 0.5] * 5
    values[60:] -= 0.02
    signals = ewma_signals(values, limits_of(values, baseline=40))
    assert signals[0].side == 1
    assert len([s for s in signals if s.first < 62]) == 1


def test_too_few_or_unvarying_values_set_no_limits() -> None:
    with pytest.raises(InputError, match="18 of the 20 values that control limits need; log more"):
        limits_of([0.0, 1.0] * 9)
    with pytest.raises(InputError, match="All values are equal"):
        limits_of([0.2] * 30)


def measured(action: float, **values: object) -> Measurement:
    given = {"id": 1, "kind": "action_bass", "state": "strung", "value": action, "unit": "mm"}
    return Measurement.model_validate(given | values)


def fit(serial: str, *, action: float | None = 2.5, **values: object) -> Fit:
    rows = () if action is None else (measured(action),)
    given = {"predicted": {"action_bass_mm": 2.4}, "wood_batch": "A", "bench": "1", "who": "Ada"}
    return logged(serial, **(given | {"measurements": rows} | values))


def series(values: Sequence[float]) -> list[Fit]:
    return [
        fit(f"{number:05d}", action=2.4 + value, started_utc=START + timedelta(hours=number))
        for number, value in enumerate(values)
    ]


def test_residuals_are_measured_minus_predicted_at_the_longest_time_at_pitch() -> None:
    one, two = measured(2.45, minutes_since_pitch=5.0), measured(2.5, minutes_since_pitch=720.0)
    slack = measured(0.1, kind="kink", state="slack", unit="deg")
    rows = [
        fit("1", measurements=(two, one, slack)),
        fit("2", predicted={}),
        fit("3", action=None),
        fit("4", predicted={"action_bass_mm": True}),
    ]
    (found,) = residuals(rows, "action_bass", "mm")
    assert (found.serial, found.value) == ("1", pytest.approx(0.1))
    assert residuals([fit("1", predicted={"kink_deg": 0.1}, measurements=(slack,))], "kink", "deg") == ()


def shifted() -> Chart:
    """300 guitars, the last 50 too high by 1.5 standard deviations, one far out."""
    noise = 0.1 * np.random.default_rng(11).normal(size=300)
    noise[250:] += 0.15
    noise[20] = 0.9
    return chart(residuals(series(noise), "action_bass", "mm"), "action_bass", "mm")


def test_a_chart_says_in_words_what_happened() -> None:
    made = shifted()
    assert made.limits.baseline == BASELINE
    last = made.alarms[-1]
    assert "too high by about 0.1" in alarm_text(made, last)
    assert "continues" in alarm_text(made, last)
    assert 250 <= last.raised < 270
    (odd,) = [hint for hint in made.hints if hint.rule == "beyond 3" and hint.first == 20]
    assert hint_text(made, odd) == (
        "action_bass: fit 21 (serial 00020, 2025-05-05) (high): "
        "beyond three standard deviations: measure that guitar again."
    )
    with pytest.raises(InputError, match="action_bass: 3 of the 20 values"):
        chart(made.points[:3], "action_bass", "mm")


def test_the_bias_interval_covers_the_truth_as_often_as_it_says() -> None:
    covered = 0
    for seed in range(200):
        values = 0.3 + np.random.default_rng(seed).normal(size=100)
        made = chart(residuals(series(0.1 * values), "action_bass", "mm"), "action_bass", "mm")
        covered += abs(made.bias - 0.03) <= made.bias_half_width
    # 95 % of 200 with a binomial scatter of 3.
    assert 181 <= covered <= 199


def test_pairs_that_stayed_by_hand() -> None:
    rows = [
        fit("1"),
        fit("2"),
        fit("2", attempt=2, reason="swap"),
        fit("3", bench="2", wood_batch="B"),
        fit("3", attempt=2, reason="return"),
        fit("4", action=None),
        fit("5", action=None, started_utc=START + timedelta(days=7)),
        fit("5", attempt=2, reason="swap"),
        fit("6", reason="return"),
    ]
    (everything,) = pair_stayed(rows)
    assert (everything.right, everything.judged, everything.open, everything.share) == (2, 4, 1, 0.5)
    each = {by: [(r.group, r.right, r.judged) for r in pair_stayed(rows, by)] for by in GROUPINGS}
    assert each["bench"] == [("1", 1, 3), ("2", 1, 1)]
    assert each["wood_batch"] == [("A", 1, 3), ("B", 1, 1)]
    assert [group for group, _, _ in each["week"]] == ["2025-W18", "2025-W19"]


def test_the_intervals_of_a_rate() -> None:
    rows = [fit(f"{number}", bench="2" if number < 10 else "1") for number in range(110)]
    rows += [fit(f"{number}", attempt=2, reason="swap", bench="2") for number in (8, 9)]
    good, rate = pair_stayed(rows, "bench")
    # Wilson (1927) at 8 of 10 with z = 1.96: (p + z2/2n +- z sqrt(pq/n + z2/4n2))/(1 + z2/n).
    z2 = 1.959964**2
    middle = (0.8 + z2 / 20) / (1 + z2 / 10)
    half = math.sqrt(z2) * math.sqrt(0.16 / 10 + z2 / 400) / (1 + z2 / 10)
    assert (rate.low, rate.high) == pytest.approx((middle - half, middle + half), abs=1e-6)
    overall = 108 / 110
    assert rate.limit_low == pytest.approx(overall - 3 * math.sqrt(overall * (1 - overall) / 10))
    assert (good.stands_out, rate.stands_out) == (False, True)


def test_no_result_of_the_trend_names_a_person() -> None:
    rows = series([0.1, -0.1] * 20)
    made = chart(residuals(rows, "action_bass", "mm"), "action_bass", "mm")
    assert rows[0].who == "Ada"
    assert "Ada" not in repr((made, *(pair_stayed(rows, by) for by in GROUPINGS)))
    with pytest.raises(InputError, match="never by person"):
        pair_stayed(rows, "who")  # type: ignore[arg-type]


def test_shims_used_are_those_in_the_guitars_now() -> None:
    rows = [fit("1"), fit("1", attempt=2, upper_deg=0.15), fit("2"), fit("3", upper_deg=-0.0)]
    assert shims_used(rows, "upper") == {0.0: 1, 0.1: 1, 0.15: 1}
    assert {stock.label for stock in stock_for_next(rows, 5)} == {"0.00", "0.10", "0.15", "-0.05"}


def test_the_stock_wanted_runs_short_as_seldom_as_asked() -> None:
    """Simulated: shares drawn from the prior, a log drawn from them, then the next guitars."""
    rng = np.random.default_rng(5)
    angles = (0.05, 0.10, 0.15)
    prior = dict(zip(angles, (0.2, 0.5, 0.3), strict=True))
    short = trials = 0
    for _ in range(150):
        shares = rng.dirichlet([20.0 * share for share in prior.values()])
        logged = rng.choice(angles, size=30, p=shares)
        rows = [fit(f"{number}", upper_deg=float(angle)) for number, angle in enumerate(logged)]
        stock = stock_for_next(rows, 40, expected={"upper": prior, "lower": {-0.05: 1.0}}, short_chance=0.05)
        drawn = rng.choice(angles, size=40, p=shares)
        for one in stock:
            if one.pad == "upper":
                short += int((drawn == one.angle_deg).sum() > one.wanted)
                trials += 1
    # 450 trials, at most 5 %, binomial scatter 1 %; the quantile is of whole shims, so somewhat fewer.
    assert 0.01 <= short / trials <= 0.075


def test_stock_when_only_one_is_known_or_one_is_impossible() -> None:
    stock = stock_for_next([], 10, expected={"upper": {0.1: 1.0, 0.2: 0.0}, "lower": {-0.1: 1.0}})
    assert [(one.angle_deg, one.wanted) for one in stock] == [(0.1, 10), (0.2, 0), (-0.1, 10)]
    with pytest.raises(InputError, match="log some fits first"):
        stock_for_next([], 10)
    with pytest.raises(InputError, match="give 1 or more"):
        stock_for_next([fit("1")], 0)
    with pytest.raises(InputError, match="between 0 and 1"):
        stock_for_next([fit("1")], 5, short_chance=5.0)


def test_the_picture_draws_the_charts_numbers() -> None:
    made = shifted()
    figure = draw_trend(made, pair_stayed([fit("1")], "week"))
    single, smoothed, weeks = figure.axes
    assert single.lines[0].get_ydata() == pytest.approx(made.values)
    assert smoothed.lines[0].get_ydata() == pytest.approx(made.smoothed)
    drawn = {round(float(line.get_ydata()[0]), 9) for line in smoothed.lines[1:]}
    assert {round(limit, 9) for limit in made.limits.ewma} <= drawn
    assert "[mm]" in single.get_ylabel()
    assert weeks.get_ylabel() == "first-time-right [%]"
    figure.draw_without_rendering()
    for axes in figure.axes:
        box = axes.get_legend().get_window_extent()
        points = [axes.transData.transform(point) for line in axes.lines[:1] for point in line.get_xydata()]
        assert not any(box.contains(x, y) for x, y in points)
    # Far apart in lightness: readable in grey.
    grey = [float(np.dot(to_rgb(colour), (0.299, 0.587, 0.114))) for colour in (DARK, BRIGHT)]
    assert abs(grey[0] - grey[1]) > 0.25


def test_one_fit_is_drawn_at_a_whole_number_and_is_not_called_fits() -> None:
    figure = draw_few([Residual("1", datetime(2031, 5, 4, tzinfo=UTC), 0.02)], "kink", "deg")
    figure.canvas.draw()
    (axes,) = figure.axes
    assert [tick for tick in axes.get_xticks() if 0.5 <= tick <= 1.5] == [1.0]
    assert "predicted, 1 fit in the log's order" in figure.get_suptitle()

"""The spread: same answer when nothing scatters, by seed and by worker, against first order; resuming."""

import json
import os
import signal
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import cache, partial
from math import degrees, exp, hypot, sqrt
from pathlib import Path

import numpy as np
import pytest

from cases import load
from cases.monte_carlo import solve_necks
from cases.monte_carlo.draws import box_of, draw
from cases.monte_carlo.full_model import FullNeck, drawn_question
from cases.monte_carlo.reduced_model import reduced_model
from cases.monte_carlo.solve_necks import beyond_limit
from cases.monte_carlo.spread import Spread, Trust, _laid_out, spread
from cases.monte_carlo.success_rate import _nearest
from cases.offset.scatter import deviations, log_deviation, sources
from cases.offset.solve import solve, with_known_body
from cases.show.text.depth import Depth
from cases.show.text.spread import spread_text
from fem.geometry.mesh import MeshSize
from fem.many.matrix_fit import Shares
from fem.many.moduli import neck_ratios
from fem.many.reduced_model import ValidityRange
from fem.solve.offset import Question, find_offset
from materials.errors import InputError
from tests.command import Command

CASE = "fourteen-mahogany"
NECKS = 64


@pytest.fixture(scope="module", autouse=True)
def small(tmp_path_factory: pytest.TempPathFactory):
    """A coarse mesh, a low degree, one box, few held-out necks and small chunks keep runs to seconds."""
    rough = MeshSize(corner=8e-3, far=30e-3, growth=4.0, curve=8e-3)
    folder, box = tmp_path_factory.mktemp("cache"), box_of(load(CASE))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder))
        for module in ("monte_carlo.reduced_model", "monte_carlo.full_model", "offset.solve"):
            patch.setattr(f"cases.{module}.FINE", rough)
        patch.setattr("cases.monte_carlo.reduced_model.box_of", lambda case: box)
        patch.setattr("cases.monte_carlo.reduced_model.HELD_OUT", 2)
        patch.setattr("cases.monte_carlo.reduced_model.cache_folder", lambda: folder)
        patch.setattr("cases.monte_carlo.solve_necks.PIECE", 16)
        patch.setattr("cases.monte_carlo.solve_necks.LEAST_DEG", 0.01)
        yield


COVS = ("neck_e", "board_e", "block_e", "ratio", "layer", "bedding", "torque", "string_tension")
NOTHING = {
    **{f"scatter.{name}_cov": 0.0 for name in COVS},
    **{f"bolts.{name}.torque_scatter": 0.0 for name in ("heel-top", "heel-low", "tongue")},
    **{f"tolerance.{name}": 0.0 for name in ("shim_deg", "pocket_deg", "reading_mm")},
}


@cache
def found() -> Spread:
    return spread(CASE, necks=NECKS, seed=3)


def same_as_found(there: Spread) -> bool:
    """The same result, every neck's numbers to the last digit."""
    columns = found().columns
    return there == found() and all(np.array_equal(there.columns[one], columns[one]) for one in columns)


def test_no_judged_guitar_is_no_trust() -> None:
    assert not Trust(guitars=0, largest_error_deg=0.0, share_of_limit=0.0, covered=0).passed
    assert Trust(guitars=15, largest_error_deg=3e-4, share_of_limit=0.3, covered=15).passed


def test_a_guitar_in_full_mends_a_good_model_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Near the case the estimate is below the limit, far from it above; with a poor model none is solved."""
    monkeypatch.setattr(solve_necks, "LEAST_DEG", 1e-3)
    shares = Shares(half=np.ones(4), powers=np.zeros((0, 4), dtype=int))
    block = replace(shares, half=np.ones(2))
    multiples = np.ones((2, 8))
    multiples[1, 1:3] = np.exp(2.0)
    for centre, expected in ((4e-4, [False, True]), (9e-4, [False, False])):
        validity = ValidityRange(shares, block, 4e-4, centre)
        estimate = validity.error_estimate_deg(multiples)
        assert estimate == pytest.approx([centre, centre + 4.0 * 4e-4])
        assert list(beyond_limit(validity, estimate, np.array([-0.12, -0.12]))) == expected


def test_nothing_scatters_and_every_neck_is_the_case():
    """Equal to the full model's answer but for the pressure across the pads, which is frozen."""
    case = load(CASE).with_values(NOTHING)
    still = spread(case, necks=16)
    answer = solve(case)
    own = degrees(answer.offset.offset)
    assert still.columns["offset_deg"] == pytest.approx(own, abs=2e-4)
    assert still.offset_deg.deviation < 1e-12
    assert still.action_error_mm.median == pytest.approx(0.0, abs=5e-4)
    assert still.residual_kink_deg.low == still.residual_kink_deg.high
    assert still.in_full == 1
    needed = degrees(answer.upper) + own
    nearest = min(case.stock.angles_deg(), key=lambda angle: abs(angle - needed))
    assert still.lower_deg == pytest.approx(nearest)
    assert all(one.truth == one.measured for one in still.rates)
    assert still.rate("fixed pair").truth in (0.0, 1.0)


@pytest.mark.full
def test_a_seed_gives_the_same_necks_and_another_gives_others():
    case = load(CASE)
    first, again, other = (draw(case, 8, seed=seed) for seed in (1, 1, 2))
    assert np.array_equal(first.multiples, again.multiples)
    assert not np.array_equal(first.multiples, other.multiples)
    assert spread(case, necks=NECKS, seed=3).to_dict() == found().to_dict()
    assert spread(case, necks=NECKS, seed=4).to_dict() != found().to_dict()


def test_the_number_of_workers_changes_nothing():
    with ProcessPoolExecutor(2) as executor:
        assert same_as_found(spread(CASE, necks=NECKS, seed=3, executor=executor))


def test_an_interrupted_run_goes_on_from_its_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    whole = solve_necks._piece
    done = 0

    def breaks(task: solve_necks.Task, edge: solve_necks.Edge) -> solve_necks.SolvedNecks:
        nonlocal done
        done += 1
        if done == 3:
            raise KeyboardInterrupt
        return whole(task, edge)

    monkeypatch.setattr(solve_necks, "_piece", breaks)
    with pytest.raises(KeyboardInterrupt):
        spread(CASE, necks=NECKS, seed=3, folder=tmp_path)
    assert len(list(tmp_path.glob("necks-*.npz"))) == 2
    monkeypatch.setattr(solve_necks, "_piece", whole)
    heard: list[int] = []
    again = spread(CASE, necks=NECKS, seed=3, folder=tmp_path, progress=heard.append)
    assert heard == [48, 64]
    assert again == found()
    # what a full disk or a lost connection cut short is made again
    first, second, *_ = sorted(tmp_path.glob("necks-*.npz"))
    first.write_bytes(b"")
    second.write_bytes(second.read_bytes()[:300])
    kept = list(Path(os.environ["XDG_CACHE_HOME"]).rglob("held-out-*.npz"))
    assert kept
    for one in kept:
        one.write_bytes(one.read_bytes()[:100])
    assert spread(CASE, necks=NECKS, seed=3, folder=tmp_path) == found()
    with pytest.raises(InputError, match="another run"):
        spread(CASE, necks=NECKS, seed=5, folder=tmp_path)


@pytest.mark.full
def test_small_scatter_against_first_order():
    """Neck wood alone, a tenth of its usual scatter. The mean is the case's own within twice the second-order
    term of an offset that goes as 1/E; the standard deviation is what the slope of the full question gives,
    to 3 %.
    """
    cov = 0.022
    case = load(CASE).with_values({**NOTHING, "scatter.neck_e_cov": cov})
    few = spread(case, necks=256)
    solved = solve(case)
    question: Question = solved.question
    (wood,) = (one for one in sources(case) if one.name == "neck wood")
    high, low = (find_offset(wood.changed(question, by), upper=solved.upper).offset for by in (0.02, -0.02))
    slope = degrees(high - low) / 0.04
    assert few.offset_deg.deviation == pytest.approx(abs(slope) * cov, rel=0.03)
    assert few.offset_deg.mean == pytest.approx(degrees(solved.offset.offset), abs=2.0 * abs(slope) * cov**2)


def test_draws_have_the_moments_asked_for():
    """2048 Sobol draws: mean 1 within 0.2 %, coefficient of variation within 1 %, correlations within
    0.02.
    """
    case = load(CASE).with_values({"scatter.bolt_correlation": 0.6, "scatter.ratio_correlation": 0.3})
    draws = draw(case, 2048, seed=7)
    neck = draws.multiples[:, 0]
    assert neck.mean() == pytest.approx(1.0, abs=2e-3)
    assert neck.std() / neck.mean() == pytest.approx(0.22, rel=0.01)
    assert draws.bolts[:, 0].std() == pytest.approx(hypot(0.15, 0.03), rel=0.01)
    logs = np.log(draws.bolts)
    assert np.corrcoef(logs[:, 0], logs[:, 1])[0, 1] == pytest.approx(0.6, abs=0.02)
    ratios = np.log(draws.multiples[:, 1:3] / draws.multiples[:, :1])
    assert np.corrcoef(ratios.T)[0, 1] == pytest.approx(0.3, abs=0.02)
    assert np.corrcoef(np.log(neck), np.log(draws.multiples[:, 3]))[0, 1] == pytest.approx(0.0, abs=0.02)
    assert np.corrcoef(np.log(neck), np.log(draws.density))[0, 1] == pytest.approx(0.5, abs=0.02)
    assert draws.shim.std() == pytest.approx(np.radians(0.01), rel=0.01)


def test_what_was_measured_does_not_scatter():
    case = load(CASE)
    measured = case.with_values({"neck.e_l_gpa": 10.0, "bolts.heel-low.tension_n": 900.0})
    assert deviations(case).neck == 0.22
    assert deviations(measured).neck == 0.0
    assert deviations(measured).bolts[1] == 0.0
    assert np.all(draw(measured, 8, seed=1).multiples[:, 0] == 1.0)


def test_every_neck_sits_on_the_body_of_the_measured_guitar():
    """A drop was measured on one guitar: its body's stiffness stays, however stiff the neck that is drawn."""
    given = load(CASE).with_values({"body.straightedge_drop_mm": 1.2})
    case = with_known_body(given)
    assert case.body.straightedge_drop_mm is None
    known = case.body.stiffness_n_m_per_rad
    assert known == solve(given).question.body_stiffness
    draws = draw(case, 8, seed=1)
    for row in (0, 1):
        question, _ = drawn_question(FullNeck(case, draws.take(np.array([row]))))
        assert question.body_stiffness == known
    assert draws.multiples[0, 0] != draws.multiples[1, 0]
    assert with_known_body(case) is case


def test_box_holds_the_draws():
    case = load(CASE)
    box = box_of(case)
    assert box.neck[2] == pytest.approx(4.6 * sqrt(2.0) * log_deviation(0.22))
    assert box.neck[1] == 0.0
    ratios = neck_ratios(draw(case, 8192, seed=1).multiples, bars=False)
    assert np.all(np.abs(ratios) < box.neck + 1e-12)


def test_moduli_that_do_not_go_together_take_room_in_the_box():
    """The mean of two logarithms and half of their difference have the variances (1 + r)/2 and (1 - r)/2."""
    case = load(CASE).with_values({"scatter.ratio_correlation": 0.28})
    box, ratios = box_of(case), neck_ratios(draw(case, 8192, seed=1).multiples, bars=False)
    assert box.neck[:2] / 4.6 / log_deviation(0.15) == pytest.approx([0.8, 0.6])
    assert ratios[:, :2].std(axis=0) / log_deviation(0.15) == pytest.approx([0.8, 0.6], rel=0.02)


def test_a_part_of_the_sequence_is_drawn_as_in_the_whole():
    case = load(CASE)
    whole, part = draw(case, 64, seed=3), draw(case, 16, seed=3, first=24)
    assert np.array_equal(part.multiples, whole.multiples[24:40])
    assert np.array_equal(part.reading, whole.reading[24:40])


def test_rates_have_an_order_that_cannot_be_otherwise():
    """A rate is a share; without reading error truth and measured agree; wide tolerances make all right."""
    assert all(0.0 <= one.truth <= 1.0 and 0.0 <= one.measured <= 1.0 for one in found().rates)

    def within(action: float, gap: float) -> float:
        tolerance = {"tolerance.action_mm": action, "tolerance.tongue_gap_mm": gap}
        return spread(load(CASE).with_values(tolerance), necks=32).rate("fixed pair").truth

    assert within(2.0, 1.0) == 1.0
    assert within(0.01, 0.005) < 0.2


def test_measured_bolts_leave_nothing_when_bolts_alone_scatter():
    """Then every guitar whose bolts carry their stated tension is the case itself, within any tolerance."""
    bolts = {f"bolts.{name}.torque_scatter": 0.6 for name in ("heel-top", "heel-low", "tongue")}
    tolerance = {"tolerance.action_mm": 0.01, "tolerance.tongue_gap_mm": 1.0}
    few = spread(load(CASE).with_values({**NOTHING, **bolts, **tolerance}), necks=32)
    assert few.rate("bolt tension measured").truth == 1.0
    assert few.rate("fixed pair").truth < 0.5


def test_nearest_in_stock():
    stock = np.array([-0.1, 0.0, 0.1])
    assert _nearest(stock, np.array([-0.04, 0.06, 0.3])).tolist() == [0.0, 0.1, 0.1]


@pytest.mark.full
def test_necks_beyond_the_estimate_are_solved_in_full(monkeypatch: pytest.MonkeyPatch):
    """All necks in full, as when each estimate is above the limit, against the reduced model's outcomes."""
    with monkeypatch.context() as patch:
        patch.setattr(solve_necks, "beyond_limit", lambda validity, estimate, offset: np.isfinite(estimate))
        whole = spread(CASE, necks=16, seed=3)
    assert whole.in_full == 16
    fast = spread(CASE, necks=16, seed=3)
    assert fast.in_full == 0
    for name, off in (("offset_deg", 0.002), ("residual_kink_deg", 0.002), ("action_error_mm", 0.005)):
        assert fast.columns[name] == pytest.approx(whole.columns[name], abs=off)
    assert fast.columns["offset_deg"] != pytest.approx(whole.columns["offset_deg"], abs=1e-12)


def test_a_neck_outside_the_box_is_solved_in_full():
    """The board five times as stiff across as the box holds; the others stay with the reduced model."""
    case = load(CASE)
    task, _, _ = _laid_out(case, reduced_model(case))
    draws = draw(case, 16, seed=3)
    draws.multiples[5, 4] = 5.0 * draws.multiples[5, 3] * exp(box_of(case).neck[3])
    assert not task.validity.inside(draws.multiples)[5]
    found = solve_necks.solved_here(task, draws)
    assert np.flatnonzero(found.in_full).tolist() == [5]
    assert found.outcome.settled.all()


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ({"necks": 3}, r"--necks = 3: too few for a spread; allowed: 16 to 1000000"),
        ({"necks": 99999999999}, r"--necks = 99999999999: too many"),
        ({"seed": -1}, r"--seed = -1: a seed is not negative"),
        ({"workers": 0}, r"--workers = 0: .* leave it out"),
        ({"workers": 100_000}, r"--workers = 100000: .* allowed: 1 to 256"),
    ],
)
def test_a_count_that_cannot_be_is_said_before_anything_is_built(counts, words: str, monkeypatch):
    monkeypatch.setattr("cases.monte_carlo.spread.reduced_model", None)
    with pytest.raises(InputError, match=words):
        spread(CASE, **counts)


@pytest.mark.parametrize("place", [("--csv", "no/t.csv"), ("--png", "t.jpg"), ("--resume", "taken")])
def test_a_place_that_cannot_be_written_is_said_before_anything_is_built(
    place: tuple[str, str], monkeypatch, capsys, tmp_path: Path
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken").write_text("")
    monkeypatch.setattr("cases.monte_carlo.spread.spread", None)
    run = Command(monkeypatch, capsys)("spread", CASE, "--necks", 32, "--workers", 1, *place)
    assert run.code == 2
    assert place[1] in run.err
    assert "give a" in run.err


def test_text_picture_and_rows():
    assert "fixed pair" in str(found())
    assert "held-out" in spread_text(found(), depth=Depth.FULL)
    figure = found().plot()
    assert [axes.get_xlabel() for axes in figure.axes] == ["offset needed [deg]", "action error [mm]"]
    assert [row["offset_deg"] for row in found().to_rows()] == found().columns["offset_deg"].tolist()


def test_command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path):
    table = tmp_path / "necks.csv"
    run = Command(monkeypatch, capsys)
    words = ("--necks", 32, "--seed", 3, "--workers", 1, "--json", "--csv", table)
    done = run("spread", CASE, *words)
    assert done.code == 0
    printed = json.loads(done.out)
    assert printed["necks"] == 32
    assert {one["name"] for one in printed["rates"]} >= {"fixed pair", "neck stiffness measured"}
    assert len(table.read_text().splitlines()) == 33
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = run("spread", CASE, "--necks", 32, "--dask", "local")
    assert done.code == 2
    assert "extra" in done.err


@pytest.mark.full
def test_dask_gives_the_same_though_a_worker_is_killed(tmp_path: Path):
    """Two processes of a local cluster give the serial run's numbers to the last digit, kept pieces too,
    though one of them is killed.
    """
    distributed = pytest.importorskip("distributed")

    class Allowed(distributed.WorkerPlugin):  # type: ignore[misc]
        """Processes of their own do not see what this module's fixture has set."""

        def setup(self, worker: object) -> None:
            from cases.monte_carlo import solve_necks as there

            there.LEAST_DEG = 0.01

    killed: list[int] = []

    def kill_one(done: int) -> None:
        if not killed:
            killed.append(next(iter(client.run(os.getpid).values())))
            os.kill(killed[0], signal.SIGKILL)

    with distributed.Client(n_workers=2, threads_per_worker=1, dashboard_address=":0") as client:
        client.register_plugin(Allowed())
        executor, send = client.get_executor(), partial(client.scatter, broadcast=True)
        there = spread(
            CASE, necks=NECKS, seed=3, executor=executor, send=send, folder=tmp_path, progress=kill_one
        )
        assert same_as_found(there)
        assert killed[0] not in client.run(os.getpid).values()
    assert len(list(tmp_path.glob("necks-*.npz"))) == NECKS // solve_necks.PIECE
    assert spread(CASE, necks=NECKS, seed=3, folder=tmp_path) == found()

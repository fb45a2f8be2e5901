"""The bench behind its form: pair, entry and verdict are the command's; the steps follow the log."""

import asyncio
import json
import re
import sqlite3
from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import Path

import pytest

from cases import load
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.logbook import amendments, fits
from cases.bench.logbook.store import open_logbook
from cases.bench.shims.choose_pair import choose_pair
from cases.bench.shims.geometry import geometry_of
from cases.bench.shims.readings import Conditions, Squares
from cases.bench.shims.strung_neck import bench_of
from cases.casefile.workshop import Workshop, load_workshop
from cases.page.answer_html import problems_html, table
from cases.page.bench_html import dry_html, fits_html, pair_html, swap_html, whole_html
from cases.page.bench_typed import AT_PITCH, BOLTED, HUMIDITY, READING, Typed, bolted, number_of, pocket_of
from cases.page.benchdesk import BenchDesk, fields_to_amend
from cases.page.parts.trend import trend_html
from cases.page.room import RefusedError, Room
from cases.page.settings import PageSettings
from cases.page.work import CancelledWork, WorkError, Workroom
from materials.errors import InputError
from tests.command import Command
from tests.page.running import workshop_of

STRUNG = {"action_bass": "3,0", "action_treble": "2.2mm", "tongue_gap": "0.05"}


def tell(room: Room, story: Callable[[BenchDesk], Awaitable[None]]) -> None:
    """Run a story at a desk of its own, with real workers."""

    async def told() -> None:
        desk = BenchDesk(room, Workroom(workers=1, workshop=room.settings.workshop))
        try:
            await story(desk)
        finally:
            desk.benches.close()

    asyncio.run(told())


def test_a_guitar_goes_through_every_step_and_its_swap_starts_at_the_dry_check(tmp_path: Path):
    log = tmp_path / "log.sqlite"
    room = Room(PageSettings(log=str(log)))
    assert "There is no logbook" in trend_html(room)
    typed = Typed(serial=" 00042 ", texts={"reading": "1,7 1.9", "bench": "2", "bolted_kink": "-0,07 -0.09"})

    async def story(desk: BenchDesk) -> None:
        assert desk.step == "scan"
        desk.scan(typed.serial)
        assert (desk.serial, desk.step) == ("00042", "read")
        with pytest.raises(InputError, match="choose the instrument first"):
            await desk.pair_for(typed)
        await desk.choose("fourteen-mahogany")
        first, whole = await desk.pair_for(typed), await desk.whole_pair()
        expected = choose_pair(bench_of(load("fourteen-mahogany")), [1.7, 1.9])
        assert first.reading_mm == pytest.approx(1.8)
        assert replace(first.pair, chance=None) == replace(expected.pair, chance=None)
        assert whole == expected
        assert desk.step == "pair"
        assert f"{expected.pair.lower_deg:.2f}°" in pair_html(first.pair, serial="00042", reading_mm=1.8)
        leaned = replace(first.pair, upper_deg=0.12, lower_deg=-0.12)
        ends = re.findall("thick end towards the ([a-z ]+)", pair_html(leaned, serial="1", reading_mm=1.8))
        assert ends == ["nut", "fretboard"]
        assert whole_html(whole).count("<tr>") == 2 + len(expected.beside)
        assert await desk.log_pair(first.pair, typed, reason="new") is None
        fit = desk.last
        assert fit is not None
        assert (fit.serial, fit.attempt, fit.reason, fit.bench) == ("00042", 1, "new", "2")
        assert [one.value for one in fit.measurements] == [1.7, 1.9]
        assert desk.step == "dry"
        await desk.check_dry(typed)
        read = [(one.kind, one.state, one.value) for one in desk.fits[0].measurements[2:]]
        assert read == [
            ("kink", "bolted", -0.07),
            ("kink", "bolted", -0.09),
            ("advised_upper", "bolted", fit.upper_deg),
            ("advised_lower", "bolted", fit.lower_deg),
        ]
        assert desk.step == "string"
        with pytest.raises(InputError, match="Action treble: not given"):
            desk.log_at_pitch(Typed(texts={"action_bass": "3"}))
        desk.log_at_pitch(Typed(texts=STRUNG))
        assert desk.step == "done"
        found = await desk.judge()
        assert "What moved" in swap_html(found, serial="00042")
        assert not found.keep
        desk.log_next(found.new)
        assert (desk.fits[-1].reason, len(desk.fits[-1].measurements), desk.step) == ("swap", 0, "string")
        with pytest.raises(WorkError, match="an earlier pair was measured at pitch"):
            await desk.check_dry(typed)
        with pytest.raises(WorkError, match="The action is missing"):
            await desk.judge()
        desk.log_at_pitch(Typed(texts=STRUNG))
        desk.case = load("fourteen-maple")
        with pytest.raises(InputError, match="case fourteen-mahogany, not on fourteen-maple"):
            await desk.judge()
        last = desk.fits[-1]
        field, measurement, _ = fields_to_amend(last)["lower shim [deg]"]
        desk.amend(last, field, "-0.32", reason="read again", measurement_id=measurement)
        desk.read_log()
        assert desk.fits[-1].lower_deg == -0.32
        assert "-0.32" in fits_html(desk.fits)

    tell(room, story)
    with open_logbook(log) as logbook:
        (one,) = amendments(logbook, fits(logbook, serial="00042")[-1])
        assert (one.column_name, one.reason) == ("lower_deg", "read again")
    assert "2 fits in the log" in trend_html(room)


def test_the_dry_check_is_the_commands_and_its_change_is_the_next_attempt(tmp_path: Path, command: Command):
    log = tmp_path / "log.sqlite"
    for serial in ("A", "B"):
        assert command("pair", "fourteen-mahogany", "--reading", "1.8mm", "--serial", serial).code == 0
    dry = ("pair", "fourteen-mahogany", "--serial", "A")
    assert command(*dry, "--bolted", "kink=-0.04deg").code == 0
    assert command(*dry, "--done", "--bolted", "kink=-0.09deg").code == 0

    async def story(desk: BenchDesk) -> None:
        await desk.choose("fourteen-mahogany")
        desk.scan("B")
        assert desk.step == "dry"
        await desk.check_dry(Typed(texts={"bolted_kink": "-0,04"}))
        assert desk.step == "change"
        found = desk.dry
        assert found is not None
        desk.scan("B")
        await desk.dry_again()
        assert desk.dry == found
        desk.log_next(found.check.best)
        assert desk.step == "dry"
        await desk.check_dry(Typed(texts={"bolted_kink": "-0.09"}))
        assert [content(one) for one in desk.fits] == [content(one) for one in desk.fits_of("A")]
        assert "chance" not in desk.fits[1].predicted  # the body of this case is unknown
        assert "kink_bolted_deg" in desk.fits[1].predicted

    tell(Room(PageSettings(log=str(log))), story)


def test_a_guitar_is_strung_up_without_a_dry_check_or_against_it(tmp_path: Path, command: Command):
    assert command("pair", "fourteen-mahogany", "--reading", "1.8mm", "--serial", "B").code == 0

    async def story(desk: BenchDesk) -> None:
        await desk.choose("fourteen-mahogany")
        for _ in range(2):
            desk.scan("B")
            before = desk.step
            desk.as_it_is = True
            assert (before, desk.step) in (("dry", "string"), ("change", "string"))
            desk.as_it_is, desk.again = False, "joint"
            await desk.check_dry(Typed(texts={"bolted_kink": "-0.04"}))
        assert len(desk.fits) == 1

    tell(Room(PageSettings(log=str(tmp_path / "log.sqlite"))), story)


def test_an_odd_reading_is_inspected_first_and_struck_out(tmp_path: Path, command: Command):
    assert command("pair", "fourteen-mahogany", "--reading", "1.8mm", "--serial", "B").code == 0

    async def story(desk: BenchDesk) -> None:
        await desk.choose("fourteen-mahogany")
        desk.scan("B")
        await desk.check_dry(Typed(texts={"bolted_kink": "0.3"}))
        assert desk.step == "dry"
        assert desk.dry is not None
        assert "INSPECT" in dry_html(desk.dry.check)
        assert [one.kind for one in desk.fits[0].measurements] == ["reading", "kink"]
        desk.strike_bolted()
        assert (desk.dry, [one.kind for one in desk.fits[0].measurements]) == (None, ["reading"])
        await desk.check_dry(Typed(texts={"bolted_kink": "-0.09"}))
        assert desk.step == "string"

    tell(Room(PageSettings(log=str(tmp_path / "log.sqlite"))), story)


def content(fit: Fit) -> dict[str, object]:
    """A fit without what differs from one entry to the next."""
    own = {"id", "serial", "started_utc", "calibration_id"}
    found = fit.model_dump(exclude=own | {"measurements"})
    return found | {"measured": [one.model_dump(exclude={"id"}) for one in fit.measurements]}


def test_page_and_command_write_the_same_entry(tmp_path: Path, command: Command):
    """Squares, humidity, bench, batch, neck test and chance among them."""
    settings, log, file = workshop_of(tmp_path), tmp_path / "log.sqlite", tmp_path / "neck.toml"
    test = {"first": "10", "last": "290", "load": "150", "dial": "150", "mass": "5", "moved": "0.08"}
    lengths = [f"--{name}={value}mm" for name, value in test.items() if name != "mass"]
    workshop, where = ("--workshop", settings), ("--log", f"sqlite:///{log}")
    neck = command("calibrate", "neck", "ours", *lengths, "--mass-kg", "5", "--out", file, *workshop)
    assert neck.code == 0, neck.err
    squares = ("--pocket-square", "0.02mm", "--heel-square", "0.01mm", "--rh-percent", "60")
    around = ("--wood-batch", "m7", "--bench", "2", "--model", "ours", "--serial", "A")
    done = command(
        "pair", "ours", "--reading", "1.8mm", *squares, *around, "--calibration", file, *workshop, *where
    )
    assert done.code == 0, done.err
    typed = Typed(
        texts={"reading": "1.8", "use_squares": "on", "pocket_square": "0.02", "heel_square": "0,01"}
        | {"rh_percent": "60 %", "wood_batch": "m7", "bench": "2"}
        | {f"neck_{name}": value for name, value in test.items()}
    )

    async def story(desk: BenchDesk) -> None:
        await desk.choose("ours")
        desk.scan("B")
        first = await desk.pair_for(typed)
        await desk.log_pair(first.pair, typed, reason="new")
        (theirs,), (mine,) = desk.fits_of("A"), desk.fits
        assert content(mine) == content(theirs)
        assert {"kink_bolted_deg", "chance"} <= set(mine.predicted)
        assert str(mine.calibration_id).startswith("neck-")

    tell(Room(PageSettings(log=str(log), workshop=load_workshop(settings))), story)


def test_work_for_one_guitar_never_answers_for_the_next(tmp_path: Path):
    async def story(desk: BenchDesk) -> None:
        await desk.choose("fourteen-mahogany")
        desk.scan("A")
        under_way = asyncio.ensure_future(desk.pair_for(Typed(texts={"reading": "1.8"})))
        await asyncio.sleep(0.01)
        desk.scan("B")
        with pytest.raises(CancelledWork):
            await under_way
        assert (desk.serial, desk.step, list(desk.offered)) == ("B", "read", [])
        first = await desk.pair_for(Typed(texts={"reading": "1.8"}))
        asyncio.get_running_loop().call_later(0.01, desk.scan, "C")
        with pytest.raises(CancelledWork):
            await desk.log_pair(first.pair, Typed(), reason="new")
        assert [desk.fits_of(serial) for serial in ("A", "B", "C")] == [(), (), ()]

    tell(Room(PageSettings(log=str(tmp_path / "log.sqlite"))), story)


def test_a_log_with_the_earlier_name_of_the_bolted_kink_is_read(tmp_path: Path, command: Command):
    done = command("pair", "fourteen-mahogany", "--reading", "1.8mm", "--serial", "1")
    assert done.code == 0
    log = tmp_path / "log.sqlite"
    with sqlite3.connect(log) as raw:
        (text,) = raw.execute("SELECT predicted FROM fit").fetchone()
        now = json.loads(text)
        earlier = {"bolted_kink_deg" if key == "kink_bolted_deg" else key: one for key, one in now.items()}
        assert earlier != now
        for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("UPDATE fit SET predicted = ?", (json.dumps(earlier),))
    with open_logbook(log) as logbook:
        (fit,) = fits(logbook)
    assert fit.predicted == now


@pytest.mark.parametrize(
    ("text", "heights"),
    [("1,8", [1.8]), ("1.8 1,9", [1.8, 1.9]), ("0.07in", [1.778]), ("-1.04deg", [1.8])],
)
def test_a_reading_is_typed_with_comma_or_point_as_length_or_angle(text: str, heights: list[float]):
    geometry = geometry_of(load("fourteen-mahogany"))
    found = pocket_of(Typed(texts={"reading": text}), geometry, unit="mm")
    assert found.heights == pytest.approx(heights, abs=0.02)
    assert (found.squares, found.conditions) == (Squares(), Conditions())


def test_a_plain_rod_reads_from_its_own_step():
    geometry = geometry_of(load("fourteen-mahogany"))
    found = pocket_of(Typed(texts={"reading": "1.8", "gauge_step": "0"}), geometry, unit="mm")
    assert found.heights == pytest.approx([1.8 + geometry.seat_depth])


@pytest.mark.parametrize(
    ("texts", "sentence"),
    [
        ({}, "Reading: none given; 1 to 12 readings such as 1.8 or 0.07in are allowed"),
        ({"reading": "eighteen"}, 'Reading = "eighteen": this is not a quantity'),
        ({"reading": " ".join(["1.8"] * 13)}, "13 given; 1 to 12 readings"),
        ({"reading": "1.8 2.x"}, "the unit x is not known here"),
        ({"reading": "1.8kg"}, "the unit kg is not known here"),
        ({"reading": "1.8", "rh_percent": "0.5"}, r"0.5 looks like a fraction: write 50"),
        (
            {"reading": "1.8", "use_squares": "on", "heel_square": "20"},
            r"Square on the heel 20: -3 to 3 mm are allowed",
        ),
    ],
)
def test_what_is_wrong_with_a_pocket_is_one_sentence(texts: dict[str, str], sentence: str):
    with pytest.raises(InputError, match=sentence):
        pocket_of(Typed(texts=texts), geometry_of(load("fourteen-mahogany")), unit="mm")


def test_allowed_ranges_are_stated_in_the_units_of_the_workshop():
    assert AT_PITCH[0].allowed("mm") == "0 to 15 mm"
    assert AT_PITCH[0].allowed("in") == "0 to 0.591 in"
    assert (BOLTED.allowed("in"), HUMIDITY.allowed("mm")) == ("-5 to 5 deg", "1 to 100 %")
    assert READING.heading("in") == "Reading [in]"
    with pytest.raises(InputError, match=r"Action bass 28: 0 to 15 mm are allowed"):
        number_of(AT_PITCH[0], "28")


def test_the_bolted_joint_is_read_as_kink_or_as_gap():
    found = bolted(Typed(texts={"bolted_kink": "-0,07; 0.05mm"}), rh_percent=45.0, unit="mm")
    assert [(one.kind, one.value, one.unit, one.state) for one in found] == [
        ("kink", -0.07, "deg", "bolted"),
        ("tongue_gap", 0.05, "mm", "bolted"),
    ]
    assert {one.rh_percent for one in found} == {45.0}


def test_a_class_logs_nothing_even_when_asked_past_the_form(tmp_path: Path):
    log = tmp_path / "log.sqlite"
    room = Room(PageSettings(mode="class", log=str(log)))
    assert not room.may_save
    desk = BenchDesk(room, Workroom(workers=1, workshop=Workshop()))
    for ask in (lambda: desk.scan("1"), lambda: desk.log_at_pitch(Typed(texts=STRUNG))):
        with pytest.raises(RefusedError, match="keeps no logbook"):
            ask()
    assert not log.exists()


def test_text_of_a_user_never_becomes_markup():
    bad = '<img src=x onerror="alert(1)">'
    pair = choose_pair(bench_of(load("fourteen-mahogany")), [1.8]).pair
    made = (
        problems_html((bad,)),
        table((bad,), [(bad, bad)], caption=bad),
        pair_html(pair, serial=bad, reading_mm=1.8),
    )
    for one in made:
        assert "<img" not in one
        assert "&lt;img" in one

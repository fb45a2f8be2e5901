"""The bench behind its form: the pair is the bench's own; the log holds what was predicted and what came."""

import asyncio
from dataclasses import replace
from pathlib import Path

import pytest

from cases import load
from cases.bench.logbook.logbook import amendments, fits
from cases.bench.logbook.store import open_logbook
from cases.bench.shims.choose_pair import choose_pair
from cases.bench.shims.strung_neck import bench_of
from cases.casefile.workshop import Workshop
from cases.page.answer_html import problems_html, table
from cases.page.bench_html import aim_html, fits_html, pair_html, swap_html
from cases.page.benchdesk import BenchDesk, fields_to_amend
from cases.page.parts.trend import trend_html
from cases.page.room import RefusedError, Room
from cases.page.settings import PageSettings
from cases.page.work import Workroom
from materials.errors import InputError


def test_reading_in_pair_out_logged_measured_swapped_corrected(tmp_path: Path):
    log = tmp_path / "log.sqlite"
    room = Room(PageSettings(log=str(log)))
    assert "There is no logbook" in trend_html(room)

    async def story() -> None:
        desk = BenchDesk(room, Workroom(workers=1, workshop=Workshop()))
        try:
            with pytest.raises(InputError, match="choose the instrument first"):
                await desk.pair_for("00042", "1.8")
            await desk.choose("fourteen-mahogany")
            first, whole = await desk.pair_for(" 00042 ", "1.7 1.9"), await desk.whole()
            expected = choose_pair(bench_of(load("fourteen-mahogany")), [1.7, 1.9])
            assert first.reading_mm == pytest.approx(1.8)
            assert replace(first.pair, chance=None) == replace(expected.pair, chance=None)
            assert whole.pair == expected.pair
            assert f"{expected.pair.lower_deg:.2f}°" in pair_html(first.pair, reading_mm=1.8)
            assert aim_html(whole).count("<tr>") == 2 + len(expected.beside)
            fit = desk.log(first.pair)
            assert (fit.serial, fit.attempt, fit.reason) == ("00042", 1, "new")
            assert fit.predicted["action_bass_mm"] == first.pair.action_bass_mm
            assert [one.value for one in fit.measurements] == [1.7, 1.9]
            typed = {"action_bass": "3.0", "action_treble": "2.2mm", "tongue_gap": "0.05"}
            measured = desk.measured("00042", typed)
            assert len(measured.measurements) == 5
            found = await desk.swap_for("00042", typed)
            assert "What moved" in swap_html(found)
            assert not found.keep
            swapped = desk.log(found.new, reason="swap", instead_on="00042")
            assert (swapped.reason, len(swapped.measurements)) == ("swap", 0)
            with pytest.raises(InputError, match="Action treble: not given"):
                desk.measured("00042", {"action_bass": "3"})
            with pytest.raises(InputError, match="not in the log"):
                await desk.swap_for("00043", typed)
            desk.case = load("fourteen-maple")
            with pytest.raises(InputError, match="case fourteen-mahogany, not on fourteen-maple"):
                await desk.swap_for("00042", typed)
        finally:
            desk.benches.close()
        last = desk.fits("00042")[-1]
        field, measurement, _ = fields_to_amend(last)["lower shim [deg]"]
        desk.amend(last, field, "-0.32", reason="read again", measurement_id=measurement)
        assert desk.fits("00042")[-1].lower_deg == -0.32
        assert "-0.32" in fits_html(desk.fits("00042"))

    asyncio.run(story())
    with open_logbook(log) as logbook:
        (one,) = amendments(logbook, fits(logbook, serial="00042")[-1])
        assert (one.column_name, one.reason) == ("lower_deg", "read again")
    assert "2 fits in the log" in trend_html(room)


def test_a_class_logs_nothing_even_when_asked_past_the_form(tmp_path: Path):
    log = tmp_path / "log.sqlite"
    room = Room(PageSettings(mode="class", log=str(log)))
    assert not room.may_save
    desk = BenchDesk(room, Workroom(workers=1, workshop=Workshop()))
    for ask in (
        lambda: desk.fits("1"),
        lambda: desk.measured("1", {"action_bass": "2", "action_treble": "2"}),
    ):
        with pytest.raises(RefusedError, match="keeps no logbook"):
            ask()
    assert not log.exists()


def test_text_of_a_user_never_becomes_markup():
    bad = '<img src=x onerror="alert(1)">'
    for made in (problems_html((bad,)), table((bad,), [(bad, bad)], caption=bad)):
        assert "<img" not in made
        assert "&lt;img" in made

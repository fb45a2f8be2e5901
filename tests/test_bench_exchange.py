"""The logbook as CSV: out and in again without loss; bad lines named, good ones kept or not as asked."""

from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from cases.bench.logbook.csv_exchange import COLUMNS, apply_import, export_csv, plan_import
from cases.bench.logbook.csv_table import read_lines, write_lines
from cases.bench.logbook.logbook import add_fit, amend, case_text, fits
from cases.bench.logbook.store import Logbook, LogbookError, open_logbook
from tests.benches import START, entry
from tests.test_bench_logbook import NASTY_SERIALS

HEADER = "serial,attempt,started_utc,upper_deg,lower_deg,wood_batch,kind,state,value,unit\n"


def table(tmp_path: Path, lines: str, header: str = HEADER) -> Path:
    path = tmp_path / "in.csv"
    path.write_text(header + lines, encoding="utf-8")
    return path


def seen(logbook: Logbook) -> list[str]:
    """Every fit without its row numbers."""
    numbers = {"id": True, "measurements": {"__all__": {"id"}}}
    return sorted(repr((fit.model_dump(exclude=numbers), case_text(logbook, fit))) for fit in fits(logbook))


def test_a_round_trip_loses_nothing(logbook: Logbook, tmp_path: Path) -> None:
    measured = {
        "kind": "action_bass",
        "state": "strung",
        "value": 0.1 + 0.2,
        "unit": "mm",
        "uncertainty": 1e-7,
    }
    for serial in NASTY_SERIALS:
        add_fit(logbook, entry(serial, who='"Ada", =1', built_on="2025-01-02", measurements=[measured] * 2))
    add_fit(logbook, entry("0042", reason="swap", upper_deg=1 / 3))
    whole = entry(
        "0043",
        started_utc=START + timedelta(microseconds=123456),
        case_text='name = "a"\r\n\n[instrument]\n\x0bx = 1\u2028\n',
        case_sha256="ab" * 32,
        predicted={"action_bass_mm": 2.4, "notes": ["ö", None, True], "chance": 0.1 + 0.2},
        measurements=[measured, measured | {"value": 2.0, "rh_percent": 45.0}],
    )
    add_fit(logbook, whole)
    amend(logbook, "0043", "bench", "2", reason="was blank", at=START)
    lines = export_csv(logbook, tmp_path / "out.csv", fits(logbook))
    assert lines == 2 * len(NASTY_SERIALS) + 3
    with open_logbook(tmp_path / "other.sqlite") as other:
        plan = plan_import(other, tmp_path / "out.csv")
        assert (plan.bad, plan.held_back, plan.fits_in_log) == ((), (), 0)
        assert fits(other) == ()
        assert apply_import(other, plan) == len(NASTY_SERIALS) + 2
        assert seen(other) == seen(logbook)
        again = plan_import(other, tmp_path / "out.csv")
        assert (again.new_fits, again.more_measured, again.bad) == ((), (), ())
        assert again.fits_in_log == len(NASTY_SERIALS) + 2


def test_an_export_has_the_text_of_a_case_once(logbook: Logbook, tmp_path: Path) -> None:
    first, second = "name = 'first'\n", "name = 'second'\n"
    for number in range(30):
        text = second if number % 3 == 0 else first
        values = {"case_text": text, "case_sha256": sha256(text.encode()).hexdigest()}
        add_fit(logbook, entry(f"{number:03d}", **values))
    add_fit(logbook, entry("without a case"))
    export_csv(logbook, tmp_path / "out.csv", fits(logbook))
    written = (tmp_path / "out.csv").read_text(encoding="utf-8-sig")
    assert (written.count(first), written.count(second)) == (1, 1)
    with open_logbook(tmp_path / "other.sqlite") as other:
        apply_import(other, plan_import(other, tmp_path / "out.csv"))
        assert seen(other) == seen(logbook)
    # a spreadsheet that sorts the rows the other way round loses nothing
    rows = read_lines(tmp_path / "out.csv", allowed=COLUMNS, required=())
    write_lines(tmp_path / "sorted.csv", COLUMNS, [row.cells for row in reversed(rows)])
    with open_logbook(tmp_path / "sorted.sqlite") as other:
        apply_import(other, plan_import(other, tmp_path / "sorted.csv"))
        assert seen(other) == seen(logbook)


def test_bad_lines_are_named_and_the_good_ones_kept_only_when_asked(logbook: Logbook, tmp_path: Path) -> None:
    path = table(
        tmp_path,
        '001,1,2025-05-04T08:30:00Z,0.10,-0.05,"M-7\n",action_bass,strung,2.4,mm\n'  # two lines, one row
        '002,1,2025-05-04T08:30:00Z,"0,10",-0.05,M-7,,,,\n'
        "003,1,2025-05-04T08:30:00Z,0.10,-0.05,M-7,action_bass,strung,2.4,mm\n"
        "003,1,,,,,action_bass,strung,24,mm\n"
        "\n"  # a blank row is a row too
        "004,1,2025-05-04T08:30:00Z,0.10,,M-7,,,,\n"
        "001,2,2025-05-05T08:30:00Z,0.10,-0.05,M-8,,,,\n"
        "005,,2025-05-04T08:30:00Z,0.10,-0.05,,kink,,0.1,deg\n"
        "006,1,2025-05-04T08:30:00Z,0.10,-0.05,,,,,,,\n"
        "007,1,2025-05-04T08:30:00Z,0.10,-0.05\n",
    )
    plan = plan_import(logbook, path)
    assert {one.line: one.reason for one in plan.bad} == {
        3: "upper_deg '0,10': give a number with a decimal point, for example -0.05",
        5: "action_bass of 24 mm is outside 0 to 15 mm: check the decimal point and the unit",
        7: "lower_deg: it is missing: give it",
        8: "wood_batch is M-8, but M-7 elsewhere for the guitar '001': give both the same value, "
        "or amend the log first",
        9: "state: it is missing: give it",
        10: "it has 12 cells for 10 columns: put text with a comma in quotes",
    }
    assert plan.held_back == (4,)
    with pytest.raises(LogbookError, match="6 rows cannot be imported, so nothing was added"):
        apply_import(logbook, plan)
    assert fits(logbook) == ()
    assert apply_import(logbook, plan, keep_good=True) == 2
    assert [fit.serial for fit in fits(logbook)] == ["001", "007"]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_corrected_file_brings_only_what_is_missing(logbook: Logbook, tmp_path: Path, mark: str) -> None:
    line = "001,,2025-05-04T08:30:00Z,0.10,-0.05,M-7,action_bass,strung,2.4,mm\n"
    path = tmp_path / "in.csv"
    path.write_text((HEADER + line).replace(",", mark), encoding="utf-8-sig")
    apply_import(logbook, plan_import(logbook, path))
    plan = plan_import(logbook, table(tmp_path, line + line + line.replace("2.4", "2.5")))
    assert (len(plan.new_fits), plan.fits_in_log, plan.bad) == (0, 1, ())
    apply_import(logbook, plan)
    (fit,) = fits(logbook)
    assert [one.value for one in fit.measurements] == [2.4, 2.4, 2.5]


def test_lines_of_one_fit_must_agree_with_each_other_and_with_the_log(
    logbook: Logbook, tmp_path: Path
) -> None:
    add_fit(logbook, entry("002"))
    line = "001,1,2025-05-04T08:30:00Z,0.10,-0.05,M-7,action_bass,strung,2.4,mm\n"
    other = line.replace("001", "002").replace("0.10", "0.20")
    plan = plan_import(logbook, table(tmp_path, line + line.replace("0.10", "0.15") + other))
    assert [one.line for one in plan.bad] == [3, 4]
    assert plan.bad[0].reason.startswith("upper_deg is '0.15', but '0.10' in row 2 of the same fit: give")
    assert "attempt 1 of this guitar with another upper_deg (0.1)" in plan.bad[1].reason
    assert plan.held_back == (2,)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the columns serial, started_utc, upper_deg, lower_deg are missing"),
        (b"serial,upper\n", "did you mean 'upper_deg'"),
        (b"serial,serial,started_utc,upper_deg,lower_deg\n", "appears twice"),
        ("serial,model\n1,\xe9\n".encode("latin-1"), "is not UTF-8 text"),
        (b'serial,started_utc,upper_deg,lower_deg\n"1,2,3\n', "quotation mark is missing"),
    ],
)
def test_files_that_are_no_such_table(logbook: Logbook, tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "in.csv"
    path.write_bytes(content)
    with pytest.raises(LogbookError, match=said):
        plan_import(logbook, path)


def test_a_file_that_is_not_there(logbook: Logbook, tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="cannot be read"):
        plan_import(logbook, tmp_path / "none.csv")
    with pytest.raises(LogbookError, match="cannot be written"):
        export_csv(logbook, tmp_path / "no folder" / "out.csv", ())
    (tmp_path / "out.csv").write_text("mine")
    with pytest.raises(LogbookError, match="exists already"):
        export_csv(logbook, tmp_path / "out.csv", ())
    assert (tmp_path / "out.csv").read_text() == "mine"


def test_an_import_stops_whole_when_the_log_changed_meanwhile(logbook: Logbook, tmp_path: Path) -> None:
    lines = "".join(f"{number:03d},1,2025-05-04T08:30:00Z,0.10,-0.05,,,,,\n" for number in range(5))
    plan = plan_import(logbook, table(tmp_path, lines))
    add_fit(logbook, entry("003"))
    with pytest.raises(LogbookError, match="attempt 1 of the guitar '003' already"):
        apply_import(logbook, plan)
    assert len(fits(logbook)) == 1

"""Every row of evidence holds, and every row can fail: each of its mutations makes it do so."""

import math
from collections import Counter

import pytest

from materials.creep import kelvin_chain
from materials.errors import NeckpreloadError
from tests.evidence import PAGE, page
from tests.evidence_rows.mutation import MUTATIONS, Edited, Misled, Mutation, Scaled, resolve
from tests.evidence_rows.row import MARKS, PARTS, Outcome, Row, all_rows
from tests.full_run import lines, outcomes

ROWS = all_rows()
CATCHERS = {
    mutation: [row for row in ROWS if mutation in row.mutations] for row in ROWS for mutation in row.mutations
}

LIMIT = 2.0


def doubled(value: float) -> float:
    return 2 * value


def refused(value: float) -> float:
    if value > LIMIT:
        raise NeckpreloadError("too large; take a smaller value")
    return value


def row_of(ours, outside) -> Row:
    texts = dict.fromkeys(("what", "reason", "mark", "source"), "")
    return Row(
        key="materials-probe", unit="-", ours=ours, outside=outside, tolerance="1e-4 %", mutations=(), **texts
    )


def unnoticed(mutation: Mutation, rows: list[Row]) -> list[str]:
    """Rows that still hold while a formula is broken."""
    with mutation.applied():
        return [row.key for row in rows if not row.fails()]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.key)
def test_row_is_within_its_tolerance(row: Row):
    outcome = row.outcome()
    assert outcome.passed, f"{row.what}: ours {outcome.ours}, outside {outcome.outside} ({row.source})"


@pytest.mark.parametrize("mutation", CATCHERS, ids=[mutation.what for mutation in CATCHERS])
def test_rows_fail_when_the_formula_is_broken(mutation: Mutation):
    assert not unnoticed(mutation, CATCHERS[mutation])


def test_every_row_is_complete():
    assert {row.part for row in ROWS} <= set(PARTS)
    assert all(count == 1 for count in Counter(row.key for row in ROWS).values())
    for row in ROWS:
        assert row.mutations, f"{row.key} names no mutation that it catches"
        assert row.limit > 0, row.key
        assert row.unit, row.key
        assert row.mark in MARKS, row.key
        assert all(len(text) > 10 for text in (row.what, row.reason, row.source)), row.key


def test_the_page_lists_every_row_as_it_is_defined():
    text = PAGE.read_text(encoding="utf-8")
    missing = [
        row.key
        for row in ROWS
        for cell in (row.what, f"{row.tolerance}: {row.reason}", row.source)
        if cell not in text
    ]
    assert not missing, f"run python -m tests.evidence; docs/evidence.md is behind on {missing}"


def test_a_row_outside_its_tolerance_is_shown_as_failed():
    wrong = row_of(lambda: 1.1, 1.0).outcome()
    assert not wrong.passed
    assert "### materials-probe: FAILED" in page([wrong], date="a day", commit="a commit")
    assert "0 of 1 rows" in page([wrong], date="a day", commit="a commit")


def test_the_full_run_is_read_from_its_report(tmp_path):
    report = tmp_path / "report.xml"
    report.write_text(
        '<testsuites><testsuite time="90.0"><testcase classname="tests.test_a" name="x" time="1.5"/>'
        '<testcase classname="tests.page.test_b" name="y" time="2"><skipped message="none"/></testcase>'
        '<testcase classname="tests.test_a" name="z" time="3"><failure message="no"/></testcase>'
        "</testsuite></testsuites>"
    )
    second, first = outcomes(report)
    assert first == {"file": "tests/test_a.py", "passed": 1, "failed": 1, "skipped": 0, "seconds": 4.5}
    assert (second["file"], second["skipped"]) == ("tests/page/test_b.py", 1)
    shown = lines({"date": "a day", "commit": "c", "processors": 2, "minutes": 1.5, "files": [first, second]})
    assert "1 passed, 1 failed, 1 skipped" in shown[2]
    assert "| tests/test_a.py | 1 | 1 | 0 | 4 |" in shown


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_value_that_is_no_number_fails(value: float):
    assert not row_of(lambda: value, 1.0).outcome().passed
    assert not Outcome(row=row_of(lambda: 1.0, 1.0), ours=1.0, outside=value, difference=value).passed


@pytest.mark.parametrize(
    ("breakage", "noticed"),
    [
        (Edited("twice is thrice", f"{__name__}:doubled", "2 * value", "3 * value"), True),
        (Misled("half the value", f"{__name__}:doubled", "value = value / 2"), True),
        (Edited("refused by name", f"{__name__}:refused", "value > LIMIT", "value >= LIMIT"), True),
        (Scaled("limit down, refused", f"{__name__}:LIMIT", 0.25), True),
        (Edited("same value", f"{__name__}:doubled", "2 * value", "value + value"), False),
    ],
    ids=lambda value: getattr(value, "what", ""),
)
def test_a_breakage_is_noticed_when_it_changes_the_value_and_put_back(breakage: Mutation, noticed: bool):
    row = row_of(lambda: refused(doubled(1.0)), 2.0)
    assert unnoticed(breakage, [row]) == ([] if noticed else [row.key])
    assert not row.fails()
    assert resolve(f"{__name__}:LIMIT")[1] == 2.0


def test_no_cached_result_outlives_a_breakage():
    whole = kelvin_chain().at(50.0)
    with MUTATIONS["creep-life"].applied():
        assert kelvin_chain().at(50.0) != whole
    assert kelvin_chain().at(50.0) == whole


def test_an_edit_whose_text_is_gone_says_so():
    edit = Edited("gone", f"{__name__}:doubled", "5 * value", "value")
    with pytest.raises(LookupError, match="give the breakage its new text"), edit.applied():
        pass

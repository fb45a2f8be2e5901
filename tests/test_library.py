"""The library: public names and signatures, and what every result shows; docs/api.md runs."""

import csv
import dataclasses
import inspect
import io
import json
import pydoc
import rlcompleter
import subprocess
import sys
from functools import partial
from itertools import count, takewhile
from pathlib import Path
from typing import get_type_hints

import numpy as np
import pytest
from threadpoolctl import threadpool_info, threadpool_limits

import cases
from cases.monte_carlo.spread import READINGS, Distribution, Trust
from cases.monte_carlo.success_rate import Rate
from cases.result import Result, unit_of
from materials.errors import InputError
from tests.command import Command
from tests.pages import PAGES, Block, blocks
from tests.test_docs import run_python

API = PAGES / "api.md"
CASE = "fourteen-mahogany"
STUDIES = ("preload", "compare", "drift", "flex", "sensitivity", "spread")
RESULTS = ("answer", "comparison", "study", "bending", "ranking", "drawn")
SCREENS = {
    "offset": ("answer", "cases.offset.preload.answer_for"),
    "compare": ("comparison", "cases.studies.compare.compare"),
    "drift": ("study", "cases.studies.drift.drift"),
    "sensitivity": ("ranking", "cases.studies.sensitivity.sensitivity"),
    "spread": ("drawn", "cases.monte_carlo.spread.spread"),
}
"""Result and solving function of each command that prints a result."""


def run_page(chosen: list[Block], folder: Path) -> dict[str, object]:
    """Run blocks of the page in a folder; the names that they made."""
    names: dict[str, object] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for block in chosen:
            assert run_python(block, page=API, names=names).failed == 0, block.heading
    return names


def drawn(necks: int) -> Result:
    """A spread of random numbers; one neck has no equilibrium."""
    random = np.random.default_rng(1)
    columns = {
        name: random.normal(0.1, 0.02, necks) for name in ("offset_deg", "tongue_gap_mm", "action_error_mm")
    }
    bands = dict.fromkeys(READINGS, Distribution.of(columns["offset_deg"]))
    columns["offset_deg"][7] = np.nan
    return cases.Spread(
        version="1",
        case=CASE,
        case_sha256="0",
        seed=1,
        necks=necks,
        upper_deg=0.0,
        lower_deg=-0.12,
        case_offset_deg=-0.115,
        rates=(Rate("fixed pair", 0.7, 0.6, 0.01, necks),),
        in_full=0,
        unsolved=1,
        trust=Trust(32, 1e-4, 0.5, 32),
        tolerance_mm=(0.15, 0.05),
        columns={"neck_e_factor": random.normal(1.0, 0.2, necks), **columns},
        **bands,
    )


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    """One result of each class: those of the page, a ranking of few inputs and a spread made by hand."""
    names = run_page([block for block in blocks(API) if not block.full], tmp_path_factory.mktemp("page"))
    with pytest.MonkeyPatch.context() as patch:
        few = ("joint.friction", "targets.relief_mm")
        patch.setattr("cases.studies.sensitivity.keys_that_matter", lambda case: few)
        names["ranking"] = cases.sensitivity(CASE)
    return {name: names[name] for name in RESULTS if name in names} | {"drawn": drawn(10_000)}


@pytest.mark.full
def test_the_whole_page_runs(tmp_path: Path):
    assert {"ranking", "drawn"} <= run_page(blocks(API), tmp_path).keys()


def test_the_page_names_every_public_name_and_nothing_else():
    listed = {
        line.removeprefix("::: cases.") for line in API.read_text().splitlines() if line.startswith("::: ")
    }
    assert listed | {"Answer", "Case"} == set(cases.__all__) | {"result.Result", "result.Table"}


def test_tab_and_help_show_the_public_names():
    complete = partial(rlcompleter.Completer({"cases": cases}).complete, "cases.")
    offered = takewhile(lambda text: text is not None, map(complete, count()))
    names = {text.removeprefix("cases.").rstrip("()") for text in offered}
    assert names == set(dir(cases)) == set(cases.__all__)
    shown = pydoc.render_doc(cases, renderer=pydoc.plaintext)
    assert [name for name in cases.__all__ if f" {name}(" not in shown] == []
    with pytest.raises(AttributeError, match="no attribute 'prelod'"):
        _ = cases.prelod


@pytest.mark.parametrize("name", STUDIES)
def test_a_study_takes_a_case_or_its_name_and_options_by_keyword(name: str):
    function = getattr(cases, name)
    first, *others = inspect.signature(function).parameters.values()
    hints = get_type_hints(function)
    assert hints[first.name] == cases.Case | str | Path
    assert {one.kind for one in others} <= {inspect.Parameter.KEYWORD_ONLY}
    assert issubclass(hints["return"], Result)
    documented = inspect.getdoc(function) or ""
    assert [one.name for one in (first, *others) if one.name not in documented.split("Returns")[0]] == []
    assert "Raises" in documented


@pytest.mark.parametrize("name", STUDIES)
def test_a_study_takes_a_file_and_works_on_one_thread(name: str, monkeypatch: pytest.MonkeyPatch):
    seen = []

    def load(path: object) -> cases.Case:
        seen.append((path, {pool["num_threads"] for pool in threadpool_info()}))
        raise InputError("seen")

    monkeypatch.setattr("cases.casefile.files.load", load)
    with threadpool_limits(limits=2), pytest.raises(InputError, match="seen"):
        getattr(cases, name)(Path("some.toml"))
    assert seen == [(Path("some.toml"), {1})]


def test_the_table_of_flex_is_the_budget_of_its_text_and_json(results: dict[str, Result]):
    table, whole = results["bending"].table(), results["bending"].to_dict()
    assert (table.columns, table.units) == (("part", "nut_rise_mm", "heel_stretch_deg"), ("", "mm", "deg"))
    assert {part: rise for part, rise, _ in table.rows} == whole["budget"]["nut_rise_shares_mm"]
    assert {part: turn for part, _, turn in table.rows} == whole["budget"]["heel_stretch_shares_deg"]
    lines = str(results["bending"]).splitlines()[1:]
    assert all(line.split("  ")[1] == row[0] for line, row in zip(lines, table.rows, strict=True))
    assert len(whole["line"]) > 40
    assert whole["line"][0].keys() >= {"x_mm", "beam_moment_n_m", "curvature_per_m"}


@pytest.mark.parametrize("name", RESULTS)
def test_every_result_is_a_frozen_value_with_json_table_text_and_picture(
    name: str, results: dict[str, Result]
):
    result = results[name]
    with pytest.raises(dataclasses.FrozenInstanceError):
        result.case = "another"  # type: ignore[attr-defined]
    assert json.loads(json.dumps(result.to_dict(), allow_nan=False))
    table = result.table()
    head, *rows = csv.reader(io.StringIO(table.to_csv()))
    assert len(rows) == len(table.rows) > 0
    assert len(head) == len(table.units)
    for column, unit in zip(head, table.units, strict=True):
        assert unit == unit_of(column) or column.endswith(f"[{unit}]")
    html = result._repr_html_()
    assert html == result._repr_html_(), "a notebook run again shows no difference"
    assert html.count("<table") == html.count("<svg") == 1
    assert html.count("<tr>") <= 22
    assert len(html) < 400_000


def test_a_notebook_shows_rounded_numbers_with_units_and_cuts_long_tables(results: dict[str, Result]):
    html = results["study"].table().to_html()
    assert "<th>relief<br>[mm]</th>" in html
    assert "<th>rod<br>[N]</th>" in html
    assert "<td>0.200</td><td>0.000</td>" in html
    assert "e-1" not in html
    assert ">-0" not in html.replace(">-0.", "")
    assert f"20 of {len(results['study'].table().rows)} rows shown" in html
    assert "rows shown" not in results["answer"].table().to_html()
    assert "<td>–</td>" in results["drawn"].table().to_html()
    answer = results["answer"].table().to_html()
    offset = f"{results['answer'].preload_offset_deg:.3f}"
    assert f'<td class="text">preload_offset_deg</td><td>{offset}</td><td class="text">deg</td>' in answer


@pytest.mark.parametrize("command", SCREENS)
def test_the_text_of_a_result_is_the_screen_of_its_command(
    command: str, results: dict[str, Result], monkeypatch, capsys
):
    name, solving = SCREENS[command]
    monkeypatch.setattr(solving, lambda *given, **options: results[name])
    assert Command(monkeypatch, capsys)(command, CASE).out == f"{results[name]}\n"


def test_any_import_registers_the_views_and_loads_no_study_and_no_drawing():
    program = (
        "import sys\nfrom cases.result import VIEWS\n"
        "print(*sorted(VIEWS), *(name for name in ('numpy', 'matplotlib') if name in sys.modules))"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    classes = {name for name in cases.__all__ if name[0].isupper()} - {"Case"}
    assert run.stdout.split() == sorted(classes), run.stderr


def test_a_table_without_pandas_says_what_to_do(results: dict[str, Result], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(InputError, match="install pandas, or use"):
        results["answer"].table().to_frame()

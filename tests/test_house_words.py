"""The house rules for words, links, commands and constraints."""

import re
import tomllib
from pathlib import Path

import pytest

from tests.house import FILES, ROOT, shown

TEXT_ENDINGS = {".py", ".md", ".toml", ".csv", ".txt", ".json", ".html", ".css", ".js", ".inp", ".svg", ""}


# Written in pieces so that this file does not contain what it looks for.
FORBIDDEN = {
    "a package registry's host": r"py"
    + r"pi\.(org|python)|files\.python"
    + r"hosted|registry\.npm"
    + r"js|crates"
    + r"\.io",
    "a path of one machine": r"(?<![\w.\-/])/(wo" + r"rk|ho" + r"me|ro" + r"ot|Us" + r"ers)/\w",
    "a folder outside the project": r"\.\./sha" + r"red",
    "an unfinished marker": r"\b(TO" + r"DO|FIX" + r"ME|XX" + r"X)\b",
    "the number of a task": r"\biss" + r"ue #?\d",
}


MARKDOWN = [path for path in FILES if path.suffix == ".md"]


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a package registry's host", "see py" + "pi.org"),
        ("a path of one machine", "reads /wo" + "rk/main"),
        ("a folder outside the project", "from ../sha" + "red/x"),
        ("an unfinished marker", "# TO" + "DO: later"),
        ("the number of a task", "as iss" + "ue 7 asks"),
    ],
)
def test_each_forbidden_pattern_matches_its_example(what: str, text: str):
    assert re.search(FORBIDDEN[what], text)


@pytest.mark.parametrize("what", sorted(FORBIDDEN))
def test_no_forbidden_words(what: str):
    wrong = []
    for path in FILES:
        if path.suffix not in TEXT_ENDINGS:
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if re.search(FORBIDDEN[what], line):
                wrong.append(f"{shown(path)}:{number}: {line.strip()[:80]}")
    assert not wrong, f"{what} must not stand in the project:\n" + "\n".join(wrong)


def markdown_anchors(text: str) -> set[str]:
    """Anchors of the headings, as the common renderers form them."""
    headings = re.findall(r"^#+\s+(.*)$", text, flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-") for heading in headings}


def broken_links(path: Path) -> list[str]:
    """Relative links and anchors of a page that lead nowhere."""
    text = re.sub(r"```.*?```|`[^`\n]*`", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    broken = []
    for target in re.findall(r"\]\(([^)\s]+)(?:\s+\"[^\"]*\")?\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        file, _, anchor = target.partition("#")
        page = (path.parent / file).resolve() if file else path
        if not page.exists() or (
            anchor
            and page.suffix == ".md"
            and anchor not in markdown_anchors(page.read_text(encoding="utf-8"))
        ):
            broken.append(f"{shown(path)}: {target}")
    return broken


def test_a_broken_link_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    page = tmp_path / "page.md"
    page.write_text("# A title\n[good](#a-title) [bad](#b-title) [gone](gone.md) [out](https://example.org)")
    monkeypatch.setattr("tests.house.ROOT", tmp_path)
    assert broken_links(page) == ["page.md: #b-title", "page.md: gone.md"]


def test_every_markdown_link_resolves():
    broken = [link for path in MARKDOWN for link in broken_links(path)]
    assert not broken, "links that lead nowhere:\n" + "\n".join(broken)


def test_version_is_the_same_in_package_citation_and_changelog():
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    citation = re.search(r"^version: (.*)$", (ROOT / "docs/CITATION.cff").read_text(), re.MULTILINE)
    newest = re.search(r"^## (\d\S*),", (ROOT / "docs/changelog.md").read_text(), re.MULTILINE)
    assert citation is not None
    assert newest is not None
    assert citation[1] == newest[1] == version


def test_the_readme_is_short():
    assert len((ROOT / "README.md").read_text(encoding="utf-8").splitlines()) <= 110


def readme_commands() -> list[str]:
    """The two commands of the README, each run in a fresh clone."""
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    return [line.strip() for line in lines if line.strip().startswith("python3 -m venv .venv && ")]


def test_ci_runs_the_readme_test_command_to_the_letter():
    main_job, test = readme_commands()
    assert main_job.endswith(".venv/bin/neckpreload offset fourteen-mahogany --out out")
    assert test.endswith(".venv/bin/python -m pytest")
    assert test in (ROOT / ".ci" / "run").read_text().splitlines()


def test_constraints_are_names_and_versions_alone():
    lines = (ROOT / ".ci" / "constraints.txt").read_text().splitlines()
    assert len(lines) > 20
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!]+", line) for line in lines)
    names = [line.split("==")[0].lower() for line in lines]
    assert len(names) == len(set(names))
    assert {"numpy", "scipy", "scikit-fem", "pytest", "sectionproperties"} <= set(names)

"""The house rules that can be read off the files: storeys, sizes, words, docstrings, links, commands."""

import ast
import fnmatch
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "fem", "materials", "cases", "tests", "docs"}
DOT_FILES = {".ci", ".gitignore", ".git"}
UPWARD = {"materials": {"fem", "cases", "tests"}, "fem": {"cases", "tests"}, "cases": {"tests"}}
NOT_IN_FEM = {"matplotlib", "typer", "rich", "pydantic"}
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "common", "misc", "manager"}
MAX_LINES = 400
MAX_FUNCTION_LINES = 70
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


def ignored(path: Path) -> bool:
    """True for what .gitignore leaves out (its patterns are plain names, one a line)."""
    patterns = [
        line.strip().strip("/") for line in (ROOT / ".gitignore").read_text().splitlines() if line.strip()
    ]
    parts = path.relative_to(ROOT).parts
    return any(fnmatch.fnmatch(part, pattern) for part in parts for pattern in patterns)


def house_files() -> Iterator[Path]:
    """Every file of the house that version control would keep."""
    for top in sorted(TOP_LEVEL | {".ci", ".gitignore"}):
        start = ROOT / top
        inside = sorted(start.rglob("*")) if start.is_dir() else [start]
        yield from (path for path in inside if path.is_file() and not ignored(path))


def shown(path: Path) -> str:
    return str(path.relative_to(ROOT))


FILES = list(house_files())
PYTHON = [path for path in FILES if path.suffix == ".py"]
MARKDOWN = [path for path in FILES if path.suffix == ".md"]
TREES = {path: ast.parse(path.read_text(encoding="utf-8")) for path in PYTHON}


def storey(path: Path) -> str:
    return path.relative_to(ROOT).parts[0]


def imported(tree: ast.AST) -> set[str]:
    """Top-level names of everything a file imports, wherever the import stands."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names.add(node.module.split(".")[0])
    return names


def called(tree: ast.AST) -> set[str]:
    """Dotted names of everything a file calls or raises by name."""
    return {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)} | {
        ast.unparse(node.exc)
        for node in ast.walk(tree)
        if isinstance(node, ast.Raise) and node.exc is not None
    }


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))


def test_the_walk_finds_the_house():
    """Guards every test below against passing on an empty list."""
    found = {shown(path) for path in FILES}
    assert {"materials/__init__.py", "fem/__init__.py", "cases/__init__.py", "tests/test_house.py"} <= found
    assert not any(".venv" in name for name in found)


@pytest.mark.parametrize(
    ("name", "source", "wrong"),
    [
        ("materials", "from fem.members.beam import deflection", {"fem"}),
        ("fem", "def f():\n    import cases.offset.build", {"cases"}),
        ("fem", "from materials.wood import wood", set()),
    ],
)
def test_the_import_reader_sees_an_upward_import(name: str, source: str, wrong: set[str]):
    assert imported(ast.parse(source)) & UPWARD[name] == wrong


def test_imports_run_downward_only():
    wrong = {
        shown(path): sorted(imported(tree) & UPWARD[storey(path)])
        for path, tree in TREES.items()
        if storey(path) in UPWARD and imported(tree) & UPWARD[storey(path)]
    }
    assert not wrong, f"imports that run upward (cases > fem > materials): {wrong}"


def test_the_mechanics_import_no_plotting_border_or_command_library():
    wrong = {
        shown(path): sorted(imported(tree) & NOT_IN_FEM)
        for path, tree in TREES.items()
        if storey(path) in {"fem", "materials"} and imported(tree) & NOT_IN_FEM
    }
    assert not wrong, f"fem and materials take values and return values; move this to cases: {wrong}"


def test_the_mechanics_print_nothing_and_touch_no_files():
    wrong = {
        shown(path): sorted(called(tree) & {"print", "open", "input"})
        for path, tree in TREES.items()
        if storey(path) == "fem" and called(tree) & {"print", "open", "input"}
    }
    assert not wrong, f"fem takes values and returns values: {wrong}"


def test_only_the_command_line_exits():
    exits = {"sys.exit", "exit", "quit", "os._exit", "typer.Exit", "SystemExit"}
    wrong = [
        shown(path)
        for path, tree in TREES.items()
        if storey(path) in UPWARD
        and {name.split("(")[0] for name in called(tree)} & exits
        and not fnmatch.fnmatch(shown(path), "cases/cli*.py")
    ]
    assert not wrong, f"only cases/cli*.py ends the process; raise a named error instead: {wrong}"


def test_top_level_holds_only_what_the_house_names():
    present = {path.name for path in ROOT.iterdir() if not ignored(path)}
    assert present - TOP_LEVEL - DOT_FILES == set(), (
        "the top level is fixed; find a place inside one of its folders"
    )
    assert present >= TOP_LEVEL, f"missing at the top level: {sorted(TOP_LEVEL - present)}"


def test_no_file_is_longer_than_the_stop():
    long = {
        shown(path): count for path in PYTHON if (count := len(path.read_text().splitlines())) > MAX_LINES
    }
    assert not long, (
        f"split by step of the calculation (300 lines is the signal, {MAX_LINES} the stop): {long}"
    )


def test_no_function_is_longer_than_a_screen():
    long = {
        f"{shown(path)}:{node.name}": node.end_lineno - node.lineno + 1
        for path, tree in TREES.items()
        for node in functions(tree)
        if node.end_lineno is not None and node.end_lineno - node.lineno + 1 > MAX_FUNCTION_LINES
    }
    assert not long, f"at most {MAX_FUNCTION_LINES} lines a function: {long}"


def asserts_something(node: ast.AST, checking: frozenset[str] = frozenset()) -> bool:
    """Whether a test compares, expects an error or calls something that does (`checking`: names that do)."""
    return any(
        isinstance(part, ast.Assert)
        or (
            isinstance(part, ast.Call)
            and (
                re.search(r"raises|warns|fail|assert|check|expect", ast.unparse(part.func))
                or ast.unparse(part.func) in checking
            )
        )
        for part in ast.walk(node)
    )


def test_every_test_asserts_something():
    silent = []
    for path, tree in TREES.items():
        if storey(path) == "tests":
            checking = frozenset(node.name for node in functions(tree) if asserts_something(node))
            silent += [
                f"{shown(path)}:{node.name}"
                for node in functions(tree)
                if node.name.startswith("test_") and not asserts_something(node, checking)
            ]
    assert not silent, f"a test that cannot fail: {silent}"


def swallows(tree: ast.AST) -> bool:
    """Whether a file catches everything and goes on as if nothing had been."""
    return any(
        isinstance(node, ast.ExceptHandler)
        and (node.type is None or ast.unparse(node.type) in {"Exception", "BaseException"})
        and all(isinstance(step, ast.Pass | ast.Continue) for step in node.body)
        for node in ast.walk(tree)
    )


def test_no_file_swallows_every_error():
    assert swallows(ast.parse("try:\n    f()\nexcept Exception:\n    pass"))
    assert not [shown(path) for path, tree in TREES.items() if swallows(tree)]


def test_no_file_has_a_name_that_says_nothing():
    assert not [shown(path) for path in PYTHON if path.stem in EMPTY_NAMES]


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


def public_without_docstring(tree: ast.Module) -> list[str]:
    """Names of public functions, classes and methods that say nothing of themselves."""
    silent = [] if ast.get_docstring(tree) else ["(module)"]
    holders: list[tuple[str, list[ast.stmt]]] = [("", tree.body)]
    holders += [(f"{node.name}.", node.body) for node in tree.body if isinstance(node, ast.ClassDef)]
    for prefix, body in holders:
        silent += [
            prefix + node.name
            for node in body
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
            and not node.name.startswith("_")
            and not ast.get_docstring(node)
        ]
    return silent


def test_every_public_name_has_a_docstring():
    wrong = {
        shown(path): silent
        for path, tree in TREES.items()
        if storey(path) in UPWARD and (silent := public_without_docstring(tree))
    }
    assert not wrong, f"say what it does, shape and [unit], errors, source: {wrong}"


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
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    assert broken_links(page) == ["page.md: #b-title", "page.md: gone.md"]


def test_every_markdown_link_resolves():
    broken = [link for path in MARKDOWN for link in broken_links(path)]
    assert not broken, "links that lead nowhere:\n" + "\n".join(broken)


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


def test_the_mechanics_import_with_matplotlib_blocked():
    """Every module of fem and materials loads in an interpreter that cannot import matplotlib."""
    modules = [
        shown(path).removesuffix(".py").replace("/", ".")
        for path in PYTHON
        if storey(path) in {"fem", "materials"} and path.stem not in {"__init__", "__main__"}
    ]
    program = (
        "import sys, importlib\nsys.modules['matplotlib'] = None\n"
        f"for name in {modules!r}:\n    importlib.import_module(name)\nprint(len(sys.modules))"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert modules


def test_the_main_question_is_solved_with_matplotlib_blocked():
    program = (
        "import sys\nsys.modules['matplotlib'] = None\nfrom cases import load, preload\n"
        "print(preload(load('fourteen-mahogany'), effects=False).preload_offset_deg)"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert abs(float(run.stdout)) < 10

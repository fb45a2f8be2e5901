"""The project's rules that its own text shows: order of folders, imports, sizes, docstrings, exits."""

import ast
import fnmatch
import re
import subprocess
import sys
from collections.abc import Collection, Iterator
from pathlib import Path

import pytest

from tests.house import DOT_FILES, FILES, PYTHON, ROOT, STOREYS, TOP_LEVEL, ignored, shown, storey, trees

ROOMS = (
    "materials",
    "fem.errors",
    *(f"fem.{room}" for room in ("geometry", "members", "joint", "solve", "results", "time", "many")),
    "cases.result",
    *(f"cases.{room}" for room in ("casefile", "offset", "studies", "monte_carlo")),
    *(f"cases.bench.{room}" for room in ("logbook", "shims", "learning", "simulated")),
    *(f"cases.{room}" for room in ("show", "page", "commands", "cli")),
)

"""From the bottom up: a file imports from its own room and from those before it."""

PACKAGES = {"fem", "cases", "cases.bench"}
NOT_IN_FEM = {"matplotlib", "typer", "rich", "pydantic"}
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "common", "misc", "manager"}
MAX_LINES = 400
MAX_FUNCTION_LINES = 70


def imported(tree: ast.AST) -> set[str]:
    """Top-level names of everything a file imports, at any depth."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names.add(node.module.split(".")[0])
    return names


def named(node: ast.AST | None) -> str:
    """The dotted name of an expression, empty for any other."""
    if isinstance(node, ast.Attribute):
        return f"{named(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def called(tree: ast.AST) -> set[str]:
    """Dotted names of everything a file calls or raises."""
    nodes = list(ast.walk(tree))
    return {named(node.func) for node in nodes if isinstance(node, ast.Call)} | {
        named(node.exc) for node in nodes if isinstance(node, ast.Raise)
    }


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))


def test_the_walk_finds_the_house():
    """Guards every test below against passing on an empty list."""
    found = {shown(path) for path in FILES}
    assert {"materials/__init__.py", "fem/__init__.py", "cases/__init__.py", "tests/test_house.py"} <= found
    assert not any(".venv" in name for name in found)


def module_name(path: Path) -> str:
    return shown(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def imported_modules(tree: ast.AST, modules: Collection[str]) -> set[str]:
    """Modules of the project that a file imports, at any depth."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            inside = {f"{node.module}.{alias.name}" for alias in node.names}
            names.update(inside.intersection(modules) or {node.module})
    return names.intersection(modules)


def room_number(module: str) -> int:
    """Place of a module's room in the order of rooms; raises `StopIteration` for a module without a room."""
    return next(n for n, room in enumerate(ROOMS) if module == room or module.startswith(f"{room}."))


def upward(imports: dict[str, set[str]]) -> list[str]:
    """Imports that run up the order of rooms."""
    return [
        f"{module} -> {other}"
        for module, others in imports.items()
        for other in sorted(others - PACKAGES)
        if module not in PACKAGES and room_number(other) > room_number(module)
    ]


def in_circles(imports: dict[str, set[str]]) -> set[str]:
    """Modules on circles of imports, and those between two circles."""
    left = set(imports)
    while True:
        imported_by_left = set().union(*(imports[one] for one in left)) if left else set()
        kept = {one for one in left if imports[one] & left and one in imported_by_left}
        if kept == left:
            return left
        left = kept


MODULES = {module_name(path) for path in PYTHON if storey(path) in STOREYS}


@pytest.fixture(scope="module")
def imports() -> dict[str, set[str]]:
    """Modules of the project by the name of the module that imports them."""
    found = {module_name(path): tree for path, tree in trees(*STOREYS).items()}
    return {name: imported_modules(tree, MODULES) - {name} for name, tree in found.items()}


@pytest.mark.parametrize(
    ("source", "wrong"),
    [
        ("from cases.studies.compare import compare", True),
        ("def f():\n    from cases.show import style", True),
        ("from cases.casefile import case", False),
        ("from fem.solve.offset import pair", False),
    ],
)
def test_an_upward_import_is_seen(source: str, wrong: bool):
    imports = {"cases.offset.preload": imported_modules(ast.parse(source), MODULES)}
    assert imports["cases.offset.preload"]
    assert bool(upward(imports)) == wrong


def test_imports_run_down_the_order_of_rooms(imports: dict[str, set[str]]):
    assert not upward(imports), "these imports run up the order of rooms in ROOMS"


def test_a_circle_is_seen():
    assert in_circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": set()}) == {"b", "c"}


def test_no_imports_go_round_in_a_circle(imports: dict[str, set[str]]):
    # a package's own file names its modules only to load them on first use
    assert not in_circles({name: others for name, others in imports.items() if name not in PACKAGES})


def test_every_room_says_what_lives_there_and_what_may_not():
    rooms = {path for path in PYTHON if path.name == "__init__.py" and storey(path) in STOREYS}
    short = [
        shown(path)
        for path in rooms
        if len((ast.get_docstring(trees()[path]) or "").split("\n\n")) < 2 and "migrations" not in shown(path)
    ]
    assert len(rooms) > 20
    assert not short, f"two sentences: what lives here, and what may not: {short}"


def test_no_room_is_named_like_a_public_name():
    import cases

    assert not {room.rpartition(".")[2] for room in ROOMS if Path(ROOT, *room.split(".")).is_dir()} & set(
        cases.__all__
    )


def test_the_mechanics_import_no_plotting_border_or_command_library():
    wrong = {
        shown(path): sorted(imported(tree) & NOT_IN_FEM)
        for path, tree in trees("fem", "materials").items()
        if imported(tree) & NOT_IN_FEM
    }
    assert not wrong, f"fem and materials take values and return values; move this to cases: {wrong}"


def test_the_mechanics_print_nothing_and_touch_no_files():
    wrong = {
        shown(path): names
        for path, tree in trees("fem").items()
        if (names := called(tree) & {"print", "open", "input"})
    }
    assert not wrong, f"fem takes values and returns values: {wrong}"


def test_only_the_command_line_exits():
    exits = {"sys.exit", "exit", "quit", "os._exit", "typer.Exit", "SystemExit"}
    wrong = [
        shown(path)
        for path, tree in trees(*STOREYS).items()
        if not fnmatch.fnmatch(shown(path), "cases/cli*.py") and called(tree) & exits
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
        for path, tree in trees().items()
        for node in functions(tree)
        if node.end_lineno is not None and node.end_lineno - node.lineno + 1 > MAX_FUNCTION_LINES
    }
    assert not long, f"at most {MAX_FUNCTION_LINES} lines a function: {long}"


def asserts_something(node: ast.AST, checking: frozenset[str] = frozenset()) -> bool:
    """Whether a test compares, expects an error or calls something that does (`checking`: names that do)."""
    calls = (part for part in ast.walk(node) if isinstance(part, ast.Assert | ast.Call))
    return any(
        isinstance(part, ast.Assert)
        or named(part.func) in checking
        or re.search(r"raises|warns|fail|assert|check|expect", named(part.func)) is not None
        for part in calls
    )


def test_every_test_asserts_something():
    silent = []
    for path, tree in trees("tests").items():
        checking = frozenset(node.name for node in functions(tree) if asserts_something(node))
        silent += [
            f"{shown(path)}:{node.name}"
            for node in functions(tree)
            if node.name.startswith("test_")
            and node.name not in checking
            and not asserts_something(node, checking)
        ]
    assert not silent, f"a test that cannot fail: {silent}"


def swallows(tree: ast.AST) -> bool:
    """Whether a file catches everything and goes on as if nothing had been."""
    return any(
        isinstance(node, ast.ExceptHandler)
        and (node.type is None or named(node.type) in {"Exception", "BaseException"})
        and all(isinstance(step, ast.Pass | ast.Continue) for step in node.body)
        for node in ast.walk(tree)
    )


def test_no_file_swallows_every_error():
    assert swallows(ast.parse("try:\n    f()\nexcept Exception:\n    pass"))
    assert not [shown(path) for path, tree in trees().items() if swallows(tree)]


def test_no_file_has_a_name_that_says_nothing():
    assert not [shown(path) for path in PYTHON if path.stem in EMPTY_NAMES]


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
        for path, tree in trees(*STOREYS).items()
        if (silent := public_without_docstring(tree))
    }
    assert not wrong, f"say what it does, shape and [unit], errors, source: {wrong}"


def test_the_mechanics_load_and_answer_with_matplotlib_blocked():
    """Every module of fem and materials loads, and a case is solved, where matplotlib cannot be imported."""
    modules = [name for name in MODULES if name.startswith(("fem.", "materials."))]
    assert len(modules) > 40
    program = (
        "import sys, importlib\nsys.modules['matplotlib'] = None\n"
        f"for name in {modules!r}:\n    importlib.import_module(name)\n"
        "from cases import load, preload\n"
        "print(preload(load('fourteen-mahogany'), effects=False).preload_offset_deg)"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert abs(float(run.stdout)) < 10

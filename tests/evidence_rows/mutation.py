"""Breaks one formula of the running project for a moment, to show that a test notices.

`Scaled` multiplies a module constant, `Edited` changes the source text of one function, `Misled` corrupts an
argument of a function. All change the live objects, so that every importing module sees the change, and
restore them afterwards. `what` is printed beside the rows that notice a breakage; `target` is
`package.module:function` or `package.module:Class.method`. All are listed in mutations.toml.
"""

import ast
import functools
import importlib
import inspect
import sys
import textwrap
import tomllib
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar

Result = TypeVar("Result")

STOREYS = ("fem", "materials", "cases")
_kept_until_broken: list[Callable[[], None]] = []


def kept_until_broken(function: Callable[[], Result]) -> Callable[[], Result]:
    """Cache a solution of the project that several rows read, until a formula is broken or put back."""
    cached = functools.cache(function)
    _kept_until_broken.append(cached.cache_clear)
    return cached


def project_modules() -> list[ModuleType]:
    """Loaded modules of the three storeys."""
    return [module for name, module in list(sys.modules.items()) if name.split(".")[0] in STOREYS]


def forget_cached_results() -> None:
    """Empty every cache in the project, so that no value outlives a change."""
    for module in project_modules():
        for value in list(vars(module).values()):
            members = list(vars(value).values()) if isinstance(value, type) else []
            for candidate in (value, *members):
                if callable(clear := getattr(candidate, "cache_clear", None)):
                    clear()
    for clear in _kept_until_broken:
        clear()


def resolve(target: str) -> tuple[ModuleType, Any]:
    """Module and object of `package.module:Name.attribute`."""
    module_name, _, path = target.partition(":")
    module = importlib.import_module(module_name)
    found: Any = module
    for part in path.split("."):
        # vars() of a class gives the property or classmethod itself, not its value
        found = vars(found)[part] if isinstance(found, type) else getattr(found, part)
    return module, found


def plain_function(found: Any) -> FunctionType:
    """The function under a property, a class or static method, or a cache."""
    if isinstance(found, property):
        found = found.fget
    if isinstance(found, functools.cached_property):
        found = found.func
    found = inspect.unwrap(getattr(found, "__func__", found))
    if not isinstance(found, FunctionType):
        raise TypeError(f"{found!r} is not a function; name a function or method")
    return found


def replaced_once(text: str, old: str, new: str, *, what: str) -> str:
    """The text with its one ``old`` replaced; LookupError naming ``what`` if the formula was rewritten."""
    if text.count(old) != 1:
        raise LookupError(
            f"{what} contains {old!r} {text.count(old)} times, not once; the formula was rewritten, give the "
            "breakage its new text"
        )
    return text.replace(old, new)


@dataclass(frozen=True)
class Scaled:
    """Multiply a constant, `package.module:CONSTANT`, also where other modules imported it by name."""

    what: str
    target: str
    factor: float

    @contextmanager
    def applied(self) -> Iterator[None]:
        """Apply the change within a `with` block."""
        module, original = resolve(self.target)
        name = self.target.partition(":")[2]
        holders = [other for other in {module, *project_modules()} if vars(other).get(name) is original]
        for holder in holders:
            setattr(holder, name, original * self.factor)
        forget_cached_results()
        try:
            yield
        finally:
            for holder in holders:
                setattr(holder, name, original)
            forget_cached_results()


@contextmanager
def replaced_body(target: str, change: Callable[[str], ast.Module]) -> Iterator[None]:
    """Replace the body of a live function by what `change` makes of its source, within a `with` block."""
    function = plain_function(resolve(target)[1])
    tree = change(textwrap.dedent(inspect.getsource(function)))
    definition = tree.body[0]
    assert isinstance(definition, ast.FunctionDef)
    definition.decorator_list = []
    scope: dict[str, Any] = {}
    exec(compile(ast.fix_missing_locations(tree), target, "exec"), dict(function.__globals__), scope)
    original = function.__code__
    function.__code__ = scope[definition.name].__code__
    forget_cached_results()
    try:
        yield
    finally:
        function.__code__ = original
        forget_cached_results()


@dataclass(frozen=True)
class Edited:
    """Replace ``old``, which the source text of one function contains exactly once, by ``new``."""

    what: str
    target: str
    old: str
    new: str

    def changed(self, source: str) -> ast.Module:
        """The function with the piece replaced."""
        return ast.parse(replaced_once(source, self.old, self.new, what=f"'{self.what}': {self.target}"))

    def applied(self) -> AbstractContextManager[None]:
        """Apply the change within a `with` block."""
        return replaced_body(self.target, self.changed)


@dataclass(frozen=True)
class Misled:
    """Put ``statement``, which corrupts an argument, before the body of one function."""

    what: str
    target: str
    statement: str

    def changed(self, source: str) -> ast.Module:
        """The function with the statement before its body."""
        tree = ast.parse(source)
        definition = tree.body[0]
        assert isinstance(definition, ast.FunctionDef)
        definition.body[:0] = ast.parse(self.statement).body
        return tree

    def applied(self) -> AbstractContextManager[None]:
        """Apply the change within a `with` block."""
        return replaced_body(self.target, self.changed)


Mutation = Scaled | Edited | Misled
KINDS: dict[str, type[Mutation]] = {"factor": Scaled, "old": Edited, "statement": Misled}
MUTATIONS = {
    name: next(kind for field, kind in KINDS.items() if field in table)(**table)
    for name, table in tomllib.loads(
        Path(__file__).with_name("mutations.toml").read_text(encoding="utf-8")
    ).items()
}
"""Breakages by the name that rows give under `broken_by`."""

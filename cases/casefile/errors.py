"""Errors of the input: a case file, a workshop file or a typed value."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from materials.errors import InputError


@dataclass(frozen=True)
class Problem:
    """One error of one key.

    Attributes
    ----------
    path : the key, as `table.key`.
    given : its value as shown; empty without one.
    wrong, allowed, remedy : what is wrong, what is allowed, what to do.
    meant : the key that a mistyped one was probably meant for, which is then not reported as missing.
    line : its line in the file, where that is certain.
    """

    path: str
    given: str
    wrong: str
    allowed: str
    remedy: str
    meant: str = ""
    line: int | None = None

    def __str__(self) -> str:
        """Return the one sentence that the user reads."""
        path = "".join(char if char.isprintable() else "?" for char in self.path)
        path = path if len(path) <= 80 else path[:77] + "..."
        where = f"{path} = {self.given}" if self.given else path
        where = f"{where} (line {self.line})" if self.line is not None else where
        return f"{where}: {self.wrong}; allowed: {self.allowed}; {self.remedy}."

    def error(self, where: str | Path = "") -> "CaseError":
        """Return the error of this one problem."""
        return CaseError(str(where), (self,))


class CaseError(InputError):
    """An input that cannot be used; `problems` holds one sentence for each error.

    Parameters
    ----------
    where : the file or other origin; empty if the sentence names it.
    problems : the errors, or their sentences; `faults` keeps those with a key.
    """

    def __init__(self, where: str, problems: Sequence[Problem | str]) -> None:
        self.where = where
        self.problems = tuple(map(str, problems))
        self.faults = tuple(problem for problem in problems if isinstance(problem, Problem))
        if len(problems) == 1:
            super().__init__(f"{where}: {problems[0]}" if where else str(problems[0]))
        else:
            lines = "\n".join(f"  {number}. {problem}" for number, problem in enumerate(problems, start=1))
            super().__init__(f"{where}: {len(problems)} errors:\n{lines}")

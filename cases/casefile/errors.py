"""Errors of the border: what a case file, a workshop file or a typed value may do wrong."""

from dataclasses import dataclass

from materials.errors import InputError


@dataclass(frozen=True)
class Problem:
    """One thing wrong with one key: where, what stands there, what is wrong, what is allowed, what to do.

    Attributes
    ----------
    path : str
        The key, as `table.key`.
    given : str
        What stands there, as it is shown; empty when nothing does.
    wrong : str
        What is wrong with it.
    allowed : str
        What is allowed.
    remedy : str
        What to do.
    meant : str
        The key that a mistyped one most likely stands for; no rule then takes that one as missing.
    line : int or None
        The line of the file on which it stands, where that is sure.
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


class CaseError(InputError):
    """A case that cannot be used; `problems` holds one sentence for each thing wrong.

    Parameters
    ----------
    where : str
        The file or what else the case came from; empty where the sentence says it.
    problems : tuple of str
        One sentence each.
    """

    def __init__(self, where: str, problems: tuple[str, ...]) -> None:
        self.where = where
        self.problems = problems
        if len(problems) == 1:
            super().__init__(f"{where}: {problems[0]}" if where else problems[0])
        else:
            lines = "\n".join(f"  {number}. {problem}" for number, problem in enumerate(problems, start=1))
            super().__init__(f"{where}: {len(problems)} things to put right:\n{lines}")

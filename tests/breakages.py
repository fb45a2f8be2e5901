"""Formulas to break one at a time, each with the tests that must notice (run by `tests.mutations`)."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

from tests.evidence_rows.mutation import replaced_once


@dataclass(frozen=True)
class Breakage:
    """One breakage: ``old``, which ``file`` contains exactly once, is replaced by ``new``.

    ``tests`` are the test files that must notice, in the order in which they run.
    """

    what: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]

    def applied(self, root: Path) -> None:
        """Change the copy under ``root``; LookupError if the formula was rewritten."""
        path = root / self.file
        text = path.read_text(encoding="utf-8")
        changed = replaced_once(text, self.old, self.new, what=f"'{self.what}': {self.file}")
        path.write_text(changed, encoding="utf-8")


_TABLES = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
BREAKAGES, FROM_THEORY, BY_A_STRANGER = (
    tuple(Breakage(**table | {"tests": tuple(table["tests"])}) for table in _TABLES[group])
    for group in ("deliberate", "theory", "stranger")
)

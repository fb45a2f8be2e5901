"""Stores the answers of the commands before a change and compares them after it: no number may change.

`python -m tests.stored_answers store FILE` before, `python -m tests.stored_answers compare FILE` after, on
the same machine.
"""

import contextlib
import csv
import io
import json
import math
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from cases import cli, library_names

TOLERANCE = 1e-12
"""Largest change allowed, relative for numbers above 1 and absolute below."""
MAIN = "fourteen-mahogany"
TIMES = ("seconds", "version")
"""Keys with these words may differ between runs or releases."""


def commands() -> list[list[str]]:
    """The commands; each prints JSON or writes tables into the current folder."""
    bench = ["--reading", "1.8mm", "--heel-square", "0.02mm", "--json"]
    swap = ["--upper", "0.12", "--lower", "0.04", "--reading", "1.8mm", "--action-bass", "3.1mm"]
    swap += ["--action-treble", "2.4mm", "--relief", "0.3mm", "--tongue-gap", "0.04mm"]
    return [
        *(["offset", name, "--json"] for name in library_names()),
        ["offset", MAIN, "--json", "--set", "body.straightedge_drop_mm=4"],
        ["offset", MAIN, "--json", "--strings", "heavy", "--neck-wood", "maple-sugar"],
        ["compare", MAIN, "fourteen-maple", "--strings", "heavy", "--json"],
        ["compare", MAIN, "--strings", "medium", "--saddle-fixed", "--json"],
        ["sensitivity", MAIN, "--json"],
        ["sensitivity", "bass-34", "--json"],
        ["drift", MAIN, "--json"],
        ["drift", "nylon-twelve", "--json"],
        ["history", MAIN, "--json"],
        ["spread", "fourteen-maple", "--necks", "200", "--json"],
        ["pair", MAIN, *bench],
        ["swap", MAIN, *swap],
        ["export", "twelve-string", "--out", "fields"],
        ["flex", MAIN, "--out", "pictures"],
    ]


def answers() -> Iterator[tuple[str, Any]]:
    """Each command with its answer."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        os.environ["NECKPRELOAD_LOG"] = f"sqlite:///{folder}/log.sqlite"
        for arguments in commands():
            print(*arguments, file=sys.stderr)
            printed = io.StringIO()
            sys.argv = ["neckpreload", *arguments]
            with contextlib.redirect_stdout(printed), contextlib.suppress(SystemExit):
                cli.main()
            yield " ".join(arguments), _parsed(printed.getvalue(), arguments)


def _parsed(text: str, arguments: list[str]) -> Any:
    if "--json" in arguments:
        return json.loads(text)
    tables = {path.name: _table(path) for path in sorted(Path.cwd().rglob("*.csv"))}
    return {"words": text.split(), "tables": tables}


def _table(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def differences(before: Any, after: Any, place: str = "") -> Iterator[str]:
    """Places where a number, a name or the structure differs."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key in before.keys() | after.keys():
            if any(word in key for word in TIMES):
                continue
            if key not in before or key not in after:
                yield f"{place}/{key}: only {'before' if key in before else 'after'}"
            else:
                yield from differences(before[key], after[key], f"{place}/{key}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for number, (one, other) in enumerate(zip(before, after, strict=True)):
            yield from differences(one, other, f"{place}/{number}")
    elif not _alike(before, after):
        yield f"{place}: {before!r} -> {after!r}"


def _alike(before: Any, after: Any) -> bool:
    if isinstance(before, bool) or isinstance(after, bool):
        return before is after
    try:
        one, other = float(before), float(after)
    except (TypeError, ValueError):
        return bool(before == after)
    return math.isclose(one, other, rel_tol=TOLERANCE, abs_tol=TOLERANCE) or one == other


def main() -> None:
    """Store or compare."""
    task, file = sys.argv[1], Path(sys.argv[2]).resolve()
    found = dict(answers())
    if task == "store":
        file.write_text(json.dumps(found), encoding="utf-8")
        return
    wrong = list(differences(json.loads(file.read_text(encoding="utf-8")), found))
    print("\n".join(wrong) or f"{len(found)} commands, no difference above {TOLERANCE:g}")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()

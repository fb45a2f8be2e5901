"""Rewrite the output that the pages quote: `python -m tests.fill_docs [PAGE ...]`, by default all pages.

Every `$ neckpreload` line of a page runs, in the page's order and in one folder. A command without `...` gets
its whole output; otherwise each shown line becomes the printed line with the same words. Prose figures with
their command behind them (`tests.prose`) are renewed too. What a person must look at is listed: lines
printed no longer, and other prose figures that the old output showed and the new does not.
"""

import difflib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.pages import FENCE, NUMBER, PAGES, Block, blocks
from tests.prose import MARK
from tests.prose import renewed as with_figures

ROOT = PAGES.parent
DOTS = "..."
COMMAND = re.compile(r"^\$ (?:.*\\\n)*.*\n", re.MULTILINE)
DECIMAL = re.compile(r"\d+\.\d+")


def filled(shown: list[str], printed: list[str]) -> tuple[list[str], list[str]]:
    """Lines to show in place of ``shown``, and those among them that are printed no longer."""
    if not any(line.strip() for line in shown):
        return shown, []
    if DOTS not in (line.strip() for line in shown):
        return [*(line for line in shown if line.startswith("#")), *printed, *_blank_end(shown)], []
    at = _places(shown, printed)
    lines, lost = [], []
    for start, end in _passages(shown):
        known = [at[k] for k in range(start, end) if k in at]
        wanted = [k for k in range(start, end) if _is_output(shown[k])]
        if all(k in at for k in wanted):
            lines += [printed[at[k]] if k in at else shown[k] for k in range(start, end)]
        elif wanted[0] in at and wanted[-1] in at:
            lines += printed[known[0] : known[-1] + 1]
        else:
            lines += shown[start:end]
            lost += [shown[k] for k in wanted if k not in at]
        lines += shown[end : end + 1]
    return lines, lost


def _is_output(line: str) -> bool:
    return bool(line.strip()) and line.strip() != DOTS and not line.startswith("#")


def _blank_end(shown: list[str]) -> list[str]:
    return [""] if not shown[-1].strip() else []


def _passages(shown: list[str]) -> Iterator[tuple[int, int]]:
    """First line, and line after the last, of each passage; dots stand between two passages."""
    ends = [-1, *(k for k, line in enumerate(shown) if line.strip() == DOTS), len(shown)]
    return ((before + 1, after) for before, after in pairwise(ends))


def _places(shown: list[str], printed: list[str]) -> dict[int, int]:
    """The printed line for each shown one: same words, same order, numbers as near as can be."""
    best = [[0.0] * (len(printed) + 1) for _ in range(len(shown) + 1)]
    for i in reversed(range(len(shown))):
        for j in reversed(range(len(printed))):
            best[i][j] = max(
                best[i + 1][j], best[i][j + 1], _likeness(shown[i], printed[j]) + best[i + 1][j + 1]
            )
    found, i, j = {}, 0, 0
    while i < len(shown) and j < len(printed):
        if best[i][j] == best[i + 1][j]:
            i += 1
        elif best[i][j] == best[i][j + 1]:
            j += 1
        else:
            found[i], i, j = j, i + 1, j + 1
    return found


def _likeness(shown: str, printed: str) -> float:
    """0 for other words, else 1 to 2: more the nearer the numbers are."""
    if not _is_output(shown) or NUMBER.sub("#", shown).split() != NUMBER.sub("#", printed).split():
        return 0.0
    pairs = list(zip(map(float, NUMBER.findall(shown)), map(float, NUMBER.findall(printed)), strict=True))
    near = [1.0 / (1.0 + abs(a - b) / max(abs(a), abs(b), 1e-9)) for a, b in pairs]
    return 1.0 + (sum(near) / len(near) if near else 1.0)


def run(arguments: tuple[str, ...], folder: Path) -> list[str]:
    """Lines that a command prints in a folder; it must succeed."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "NECKPRELOAD_LOG": f"sqlite:///{folder / 'log.sqlite'}",
        "XDG_CONFIG_HOME": str(folder / "none"),
    }
    done = subprocess.run(
        [sys.executable, "-m", "cases.cli", *arguments],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise SystemExit(f"neckpreload {' '.join(arguments)}: {done.stderr}")
    return done.stdout.rstrip().splitlines()


def fill_block(text: str, folder: Path, reports: list[str]) -> tuple[str, str]:
    """The block with its output renewed, and everything that its commands printed."""
    starts = list(COMMAND.finditer(text))
    parts, everything = [text[: starts[0].start()] if starts else text], ""
    for place, match in enumerate(starts):
        end = starts[place + 1].start() if place + 1 < len(starts) else len(text)
        (call,) = Block("", "console", match[0]).calls()
        printed = run(call.arguments, folder)
        everything += "\n".join(printed)
        lines, lost = filled(text[match.end() : end].splitlines(), printed)
        for line in lost:
            near = difflib.get_close_matches(line, printed, 1, 0.5)
            reports.append(f"neckpreload {' '.join(call.arguments)}\n    no longer prints: {line}")
            reports[-1] += f"\n    nearest line now:  {near[0]}" if near else ""
        parts += [match[0], *(f"{line}\n" for line in lines)]
    return "".join(parts), everything


def fill(page: Path) -> list[str]:
    """Rewrite a page in place; return what a person must look at."""
    old, reports, printed = page.read_text(encoding="utf-8"), [], ""
    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for block in blocks(page):
            if block.language == "csv":  # the how-to's points of a heel
                (folder / "heel.csv").write_text(block.text)
            elif block.language == "toml" and block.heading == "Load cases":
                (folder / "loads.toml").write_text(block.text)

        def renewed(match: re.Match[str]) -> str:
            nonlocal printed
            if match[1] != "console":
                return match[0]
            text, everything = fill_block(match[2], folder, reports)
            printed += everything + "\n"
            return f"```console\n{text}```"

        new = with_figures(FENCE.sub(renewed, old))
    page.write_text(new, encoding="utf-8")
    shown = {figure for block in blocks(page) for figure in DECIMAL.findall(block.text)}
    before = {figure for match in FENCE.finditer(old) for figure in DECIMAL.findall(match[2])}
    gone = before - shown - set(DECIMAL.findall(printed))
    for number, line in enumerate(FENCE.sub(lambda match: "\n" * match[0].count("\n"), new).splitlines(), 1):
        figures = gone & set(DECIMAL.findall(line))
        reports += [
            f"line {number}: the prose says {figure}, the output no longer" for figure in sorted(figures)
        ]
    return reports


def main() -> None:
    """Fill the pages named, or all that show commands."""
    named = [Path(name).resolve() for name in sys.argv[1:]]
    for page in named or [ROOT / "README.md", *sorted(PAGES.glob("*.md"))]:
        if any(block.language == "console" for block in blocks(page)) or MARK.search(page.read_text()):
            print(page.relative_to(ROOT), flush=True)
            for report in fill(page):
                print(f"  {report}", flush=True)


if __name__ == "__main__":
    main()

"""The pages of docs/ that tests run: their blocks, the commands in them, and the output they show."""

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.command import Command

PAGES = Path(__file__).resolve().parent.parent / "docs"
FENCE = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
HEADING = re.compile(r"^#+\s+(.*)$", re.MULTILINE)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
FULL = "# full"
"""A line that begins so keeps its block out of the default run; the rest of the line gives the reason."""


@dataclass(frozen=True)
class Call:
    """One `$ neckpreload ...` line and the lines shown under it."""

    arguments: tuple[str, ...]
    shown: tuple[str, ...]


@dataclass(frozen=True)
class Block:
    """A fenced block under its heading."""

    heading: str
    language: str
    text: str

    @property
    def id(self) -> str:
        """Its heading as a name for a test."""
        return self.heading.lower().replace(" ", "-")

    @property
    def full(self) -> bool:
        """Whether the page marks it as slow."""
        return any(line.startswith(FULL) for line in self.text.splitlines())

    def calls(self) -> Iterator[Call]:
        """Its commands; a line that ends in a backslash goes on."""
        for part in re.split(r"^\$ ", self.text.replace("\\\n", " "), flags=re.MULTILINE)[1:]:
            command, _, rest = part.partition("\n")
            program, *arguments = shlex.split(command, comments=True)
            assert program == "neckpreload", f"pages show neckpreload's own lines only: {command}"
            assert not set(arguments) & {">", "|", "&&", ";"}, f"a shell's work is not run here: {command}"
            lines = tuple(line for line in rest.splitlines() if line.strip() and line.strip() != "...")
            yield Call(tuple(arguments), tuple(line for line in lines if not line.startswith("#")))


def blocks(page: Path) -> list[Block]:
    """The fenced blocks of a page, in order."""
    text = page.read_text(encoding="utf-8")
    found = []
    for match in FENCE.finditer(text):
        headings = HEADING.findall(FENCE.sub("", text[: match.start()]))
        found.append(Block(headings[-1] if headings else "", match[1], match[2]))
    return found


def missing(shown: tuple[str, ...], printed: str) -> list[str]:
    """Lines of a page that the output does not contain in the same order.

    Words must be the same; numbers may differ by 5 % or 0.012, since meshes and platforms change the last
    digits.
    """
    lines = printed.splitlines()
    absent, start = [], 0
    for line in shown:
        found = next((at for at in range(start, len(lines)) if alike(line, lines[at])), None)
        if found is None:
            absent.append(line)
        else:
            start = found + 1
    return absent


def run_block(block: Block, command: Command) -> int:
    """Run the commands of a block, each of which must print what the page shows; return their number."""
    calls = list(block.calls())
    for call in calls:
        done = command(*call.arguments)
        assert done.code == 0, f"neckpreload {' '.join(call.arguments)}: {done.err}"
        absent = missing(call.shown, done.out)
        assert not absent, f"neckpreload {' '.join(call.arguments)} no longer prints: {absent}\n{done.out}"
    return len(calls)


def alike(shown: str, printed: str) -> bool:
    """Whether two lines have the same words and nearly the same numbers."""
    if NUMBER.sub("#", shown).split() != NUMBER.sub("#", printed).split():
        return False
    pairs = zip(NUMBER.findall(shown), NUMBER.findall(printed), strict=True)
    return all(abs(float(a) - float(b)) <= max(0.012, 0.05 * abs(float(b))) for a, b in pairs)

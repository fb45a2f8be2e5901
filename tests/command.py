"""The command run inside the test's own process: what it prints and its exit code."""

import sys
from dataclasses import dataclass

import pytest
from typer.testing import CliRunner

from cases import cli
from materials.errors import InputError


@dataclass(frozen=True)
class Run:
    """One run of the command."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class Command:
    """Runs the command with pytest's own means of catching what it prints."""

    monkeypatch: pytest.MonkeyPatch
    capsys: pytest.CaptureFixture[str]

    def __call__(self, *arguments: object) -> Run:
        """Run `neckpreload` with some arguments."""
        self.monkeypatch.setattr(sys, "argv", ["neckpreload", *map(str, arguments)])
        with pytest.raises(SystemExit) as caught:
            cli.main()
        printed = self.capsys.readouterr()
        code = caught.value.code
        return Run(code if isinstance(code, int) else 0, printed.out, printed.err)


def said(*arguments: object) -> str:
    """Run the command, which must succeed, and return what it prints."""
    done = CliRunner().invoke(cli.app, [*map(str, arguments)])
    assert done.exit_code == 0, (arguments, done.output, done.exception)
    return done.output


def refused(*arguments: object) -> str:
    """Run the command with a wrong input and return its one sentence; nothing else is printed."""
    done = CliRunner().invoke(cli.app, [*map(str, arguments)])
    assert isinstance(done.exception, InputError), (arguments, done.output, done.exception)
    assert done.stdout == ""
    return str(done.exception)

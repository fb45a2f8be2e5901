"""The command `neckpreload`: parses, calls, prints; the one place that ends the program."""

import errno
import logging
import os
import sys
from typing import Annotated

import typer

from cases.commands.calibrate import app as calibrate
from cases.commands.check import check
from cases.commands.cli_words import UsageError, asks_for_help, plain
from cases.commands.compare import compare
from cases.commands.drift import drift
from cases.commands.export import export
from cases.commands.flex import flex
from cases.commands.label import label
from cases.commands.list_cases import list_cases
from cases.commands.logbook_files import app as logbook
from cases.commands.new import new
from cases.commands.offset import offset
from cases.commands.page import page
from cases.commands.pair import pair
from cases.commands.sensitivity import sensitivity
from cases.commands.sheet import sheet
from cases.commands.spread import spread
from cases.commands.strings import strings
from cases.commands.swap import swap
from cases.commands.trend import trend
from cases.commands.woods import woods

# Matrices here have about a hundred rows: more than one thread for each product only costs time.
for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")

INPUT_WRONG = 2
NO_RESULT = 1

app = typer.Typer(
    help="Which shim angle difference leaves the fretboard straight once the strings are at pitch.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("offset")(offset)
app.command("pair")(pair)
app.command("swap")(swap)
app.command("flex")(flex)
app.command("compare")(compare)
app.command("drift")(drift)
app.command("sensitivity")(sensitivity)
app.command("spread")(spread)
app.command("sheet")(sheet)
app.command("export")(export)
app.command("cases")(list_cases)
app.command("new")(new)
app.command("check")(check)
app.command("woods")(woods)
app.command("strings")(strings)
app.command("label")(label)
app.command("trend")(trend)
app.command("page")(page)
app.add_typer(logbook, name="logbook")
app.add_typer(calibrate, name="calibrate")


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(version("neckpreload"))
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    """Take the options that stand before a subcommand."""


def main() -> None:
    """Run the command; every error becomes one message and an exit code.

    2: the input is wrong, or what it describes cannot be. 1: a search finds no result, or a fault of the
    program; `NECKPRELOAD_DEBUG=1` shows where.
    """
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a character gets a stand-in for it, not a traceback.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    # Where the library of pictures keeps its cache is nothing to tell at the bench.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    from fem.errors import ModelError
    from materials.errors import InputError, NeckpreloadError

    try:
        code = app(prog_name="neckpreload", standalone_mode=False)
    except NeckpreloadError as error:
        _end(str(error), code=INPUT_WRONG if isinstance(error, InputError | ModelError) else NO_RESULT)
    except UsageError as error:
        if asks_for_help(error):
            typer.echo(str(error), err=True)
            sys.exit(INPUT_WRONG)
        _end(plain(error), code=INPUT_WRONG)
    except SystemExit as end:
        # Whoever reads has read enough, as `| head -1` does: the parser ends with 1, and nothing is wrong.
        code = 0 if end.code == 1 else end.code
    except Exception as error:
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            _end(
                f"nothing more can be written: {error.strerror}; free some space and try again",
                code=NO_RESULT,
            )
        if os.environ.get("NECKPRELOAD_DEBUG") == "1":
            raise
        _end(
            f"unexpected {type(error).__name__}: {error}; this is a fault of the program, not of your "
            "input: run it again with NECKPRELOAD_DEBUG=1 to see where, and report that",
            code=NO_RESULT,
        )
    sys.exit(code if isinstance(code, int) else 0)


def _end(message: str, *, code: int) -> None:
    clean = "".join(char if char.isprintable() or char == "\n" else "?" for char in message)
    typer.echo(f"neckpreload: {clean}", err=True)
    sys.exit(code)


if __name__ == "__main__":
    main()

"""The command `neckpreload`: parses, calls, prints; the one place that ends the program."""

import atexit
import errno
import gc
import logging
import os
import sys
from typing import Annotated

import typer

from cases.commands.calibrate import app as calibrate
from cases.commands.check import check
from cases.commands.compare import compare
from cases.commands.drift import drift
from cases.commands.export import export
from cases.commands.flex import flex
from cases.commands.history import history
from cases.commands.label import label
from cases.commands.list_cases import list_cases
from cases.commands.logbook_files import app as logbook
from cases.commands.neck_woods import neck_woods
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
from cases.commands.usage_errors import OnceCommand, UsageError, nothing_typed, sentence_of
from cases.commands.woods import woods

# Matrices are about 100 x 100: threads only add overhead.
for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
# No plug-in of the validation has a part in this: a search through all packages is saved.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")

PROGRAM = "neckpreload"
NEW_OBJECTS = 200_000
"""New objects after which garbage is searched for; Python by itself does so two hundred times while it loads
the libraries of one answer."""

app = typer.Typer(
    help="Which shim angle difference leaves the fretboard straight once the strings are at pitch.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command in (
    *(offset, pair, swap, flex, compare, neck_woods, drift, history, sensitivity, spread, sheet, export),
    *(list_cases, new, check, woods, strings, label, trend, page),
):
    app.command(command.__name__.removeprefix("list_").replace("_", "-"))(command)
app.add_typer(logbook, name="logbook", short_help=logbook.info.help)
app.add_typer(calibrate, name="calibrate", short_help=calibrate.info.help)
for listed in (app, logbook, calibrate):
    for info in listed.registered_commands:
        info.cls = OnceCommand
        # without this the parser cuts the sentence off in its list of commands
        info.short_help = (info.callback.__doc__ or "").partition("\n")[0]


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

    2: the input is wrong, or no model can be made of it. 1: a search found no result, or the program failed;
    `NECKPRELOAD_DEBUG=1` shows where.
    """
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a character prints a question mark instead of a traceback.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    gc.set_threshold(NEW_OBJECTS)
    # and not through all of them at the end of the program
    atexit.register(gc.freeze)
    # matplotlib warns where it puts its cache; that is of no use at the bench.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    from materials.errors import InputError, NeckpreloadError

    if not _can_be_shown():
        _end("standard output is closed, so nothing can be shown; open it, or send it to a file", code=1)
    try:
        code = app(prog_name=PROGRAM, standalone_mode=False)
    except NeckpreloadError as error:
        _end(str(error), code=error.exit_code)
    except UsageError as error:
        if nothing_typed(error):
            typer.echo(str(error), err=True)
            sys.exit(InputError.exit_code)
        _end(sentence_of(error, sys.argv[1:]), code=InputError.exit_code)
    except SystemExit as end:
        # Output pipe closed early, as by `| head -1`: the parser ends with 1, which is no error.
        code = 0 if end.code == 1 else end.code
    except Exception as error:
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            remedy = "raise the limit of file size" if error.errno == errno.EFBIG else "free some space"
            _end(f"cannot write more: {error.strerror}; {remedy} and try again", code=1)
        if os.environ.get("NECKPRELOAD_DEBUG") == "1":
            raise
        _end(
            f"unexpected {type(error).__name__}: {error}; this is a fault of the program, not of your "
            "input: run it again with NECKPRELOAD_DEBUG=1 to see where, and report that",
            code=1,
        )
    sys.exit(code if isinstance(code, int) else 0)


def _can_be_shown() -> bool:
    """Whether standard output is open, as it is not after `>&-`."""
    try:
        return sys.stdout is not None and (sys.stdout.flush() or True)
    except (OSError, ValueError):
        return False


def _end(message: str, *, code: int) -> None:
    clean = "".join(char if char.isprintable() or char == "\n" else "?" for char in message)
    typer.echo(f"{PROGRAM}: {clean}", err=True)
    sys.exit(code)


if __name__ == "__main__":
    main()

"""`neckpreload logbook export|import|backup|restore|check`: the log as files, and its check."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cases.commands.logbook import SinceOption, app, parse_moment
from cases.commands.options import LogOption
from materials.counted import counted

if TYPE_CHECKING:
    from cases.bench.logbook.backup import CheckResult

__all__ = ["app"]

FileArgument = Annotated[Path, typer.Argument(metavar="FILE")]


@app.command("export")
def export(file: FileArgument, since: SinceOption = None, log: LogOption = None) -> None:
    """Write the log as CSV: current values, without struck-out rows."""
    from cases.bench.logbook.csv_exchange import export_csv
    from cases.bench.logbook.logbook import fits
    from cases.bench.logbook.store import open_logbook

    moment = parse_moment(since, name="--since")
    with open_logbook(log, create=False) as logbook:
        lines = export_csv(logbook, file, fits(logbook, since=moment))
        typer.echo(
            f"{counted(lines, 'line')} from {logbook.where} to {file}; the history of corrections stays in "
            "the log"
        )


@app.command("import")
def import_table(
    file: FileArgument,
    write: Annotated[bool, typer.Option("--write", help="Add the rows; default: a dry run.")] = False,
    keep_good: Annotated[
        bool, typer.Option("--keep-good", help="With --write: add the good fits even if others are bad.")
    ] = False,
    log: LogOption = None,
) -> None:
    """Read a CSV; list first what it would add, which rows are wrong, and why."""
    from cases.bench.logbook.csv_exchange import apply_import, csv_lines, plan_import
    from cases.bench.logbook.store import LogbookError, open_logbook

    csv_lines(file)  # a table that cannot be read starts no log
    with open_logbook(log) as logbook:
        plan = plan_import(logbook, file)
        for one in plan.bad:
            typer.echo(f"{file} row {one.line}: {one.reason}", err=True)
        more = sum(len(measured) for _, measured in plan.more_measured)
        typer.echo(
            f"{counted(len(plan.new_fits), 'new fit')}, {counted(more, 'new measurement')} of fits already "
            "there, "
            f"{counted(plan.fits_in_log, 'fit')} already there, {counted(len(plan.bad), 'bad row')}"
        )
        if plan.held_back:
            rows = ", ".join(map(str, plan.held_back))
            which = "row {} is good, but waits" if len(plan.held_back) == 1 else "rows {} are good, but wait"
            typer.echo(f"{which.format(rows)} for a bad row of the same fit")
        if not write:
            typer.echo(f"dry run: nothing was added to {logbook.where}; give --write to add them")
            if plan.bad and not keep_good:
                bad = ", ".join(str(one.line) for one in plan.bad)
                raise LogbookError(
                    f"{file}: {'this row' if len(plan.bad) == 1 else 'these rows'} cannot be added: {bad}; "
                    f"correct {'it' if len(plan.bad) == 1 else 'them'}, or add only the good ones with "
                    "--write --keep-good."
                )
            return
        added = apply_import(logbook, plan, keep_good=keep_good)
        typer.echo(f"{counted(added, 'fit')} and {counted(more, 'measurement')} added to {logbook.where}")


@app.command("backup")
def backup_log(file: FileArgument, log: LogOption = None) -> None:
    """Copy the whole log, with its history, into one new file."""
    from cases.bench.logbook.backup import backup
    from cases.bench.logbook.store import open_logbook

    with open_logbook(log, create=False) as logbook:
        found = backup(logbook, file)
        typer.echo(f"{logbook.where} copied to {file} and checked: {_rows(found)}")


@app.command("restore")
def restore_log(file: FileArgument, log: LogOption = None) -> None:
    """Copy a backup into an empty log; a log with rows is never overwritten."""
    from cases.bench.logbook.backup import open_backup, restore
    from cases.bench.logbook.store import open_logbook

    with open_backup(file) as source, open_logbook(log) as logbook:
        found = restore(source, logbook)
        typer.echo(f"{file} restored to {logbook.where} and checked: {_rows(found)}")


@app.command("check")
def check_log(log: LogOption = None) -> None:
    """Check the whole log; exit code 2 if something is wrong."""
    from cases.bench.logbook.backup import check
    from cases.bench.logbook.store import RESTORE, LogbookError, open_logbook

    with open_logbook(log, create=False) as logbook:
        found = check(logbook)
        for problem in found.problems:
            typer.echo(problem, err=True)
        if found.problems:
            wrong = counted(len(found.problems), "thing is wrong", "things are wrong")
            raise LogbookError(f"{logbook.where}: {wrong}; {RESTORE}.")
        typer.echo(f"{logbook.where}: log is valid, {_rows(found)}")


def _rows(found: "CheckResult") -> str:
    return ", ".join(counted(count, f"{table} row") for table, count in found.rows.items())

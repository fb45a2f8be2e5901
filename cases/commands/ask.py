"""The questions of `neckpreload new --ask`: each answer is checked at once."""

from collections.abc import Callable, Iterator, Mapping
from textwrap import fill

import typer

from cases.casefile.case import Case
from cases.casefile.errors import CaseError
from cases.casefile.measurements import Measurement, to_measure
from cases.casefile.quantity import has_unit
from cases.casefile.setting import parse_value
from cases.casefile.wrong_value import shown, unit_of

DRAWING = r"""
     nut  fret 1             fret 10  12        joint   last fret
  B   |     |                   |     | K         | C       | F
      +=====+===================+=====+===========+=========+
      |     | D     neck        | E               |  tongue |
      +-----+-------------------+-----.           +---------+
                                       \     G    | upper shim H
                                        \   heel  |
                                         \        | J (bolt)
                                          \_______| lower shim H

  A: nut to fret 12, times two.  L: largest gap under a straightedge, fret 1 to joint.
"""
INTRODUCTION = """Enter keeps the value in brackets, which then counts as copied. A number stands
alone, in the unit shown, or with its own: 5/64in, 0.008in, 163 lbf, 9 in-lb.
Ctrl-D ends the questions and writes what you have answered, Ctrl-C stops
without a file. docs/what-to-measure.md has the drawing in detail.
Wear eye protection; slacken all strings before you undo a neck bolt."""
Unusual = Callable[[Case], tuple[str, ...]]


def ask(like: Case, *, unusual: Unusual) -> tuple[Case, dict[str, object]]:
    """Ask for each value to measure; return the case with the answers, and the answers by key.

    `CaseError` if the answers do not fit one another, after a line with all of them.

    Parameters
    ----------
    unusual : gives sentences about inputs of a case that are far from practice.
    """
    typer.echo(DRAWING)
    typer.echo(INTRODUCTION)
    values: dict[str, object] = {}
    try:
        for key, one, first in _questions(like):
            _ask_one(like, values, key, one.line if first else "", unusual=unusual)
    except EOFError:
        typer.echo("\nthe questions that are left keep their copied values")
    return _fitted(like, values), values


def _questions(like: Case) -> Iterator[tuple[str, Measurement, bool]]:
    """Give each key with its measurement, and whether it is the first that is measured so."""
    said = None
    for key, one in to_measure(like):
        yield key, one, one is not said
        said = one


def _ask_one(like: Case, values: dict[str, object], key: str, line: str, *, unusual: Unusual) -> None:
    """Ask until the answer is right, or none is given; an unusual one is asked again, Enter keeps it."""
    if line:
        typer.echo(f"\n{fill(line, 80, break_on_hyphens=False)}")
    known = set(unusual(like))
    while True:
        now = values.get(key, like.value(key))
        typed = input(f"  {key}{_in_unit(key)} [{shown(now).strip(chr(34))}]: ").strip()
        if not typed:
            return
        try:
            value = parse_value(key, typed)
            doubts = set(unusual(_changed(like, {**values, key: value}, key))) - known
        except CaseError as error:
            typer.echo("\n".join(f"  {sentence}" for sentence in error.problems))
            continue
        values[key] = value
        if has_unit(typed) and isinstance(value, float):
            typer.echo(f"  = {value:.6g} {unit_of(key)}")
        if not doubts:
            return
        typer.echo("\n".join(f"  UNUSUAL INPUT: {sentence}" for sentence in sorted(doubts)))
        typer.echo("  Enter keeps it.")
        known |= doubts


def _in_unit(key: str) -> str:
    unit = unit_of(key)
    return f", {unit}" if unit else ""


def _changed(like: Case, values: Mapping[str, object], key: str) -> Case:
    """The case with the answers; of what is wrong only the sentences about one key count: others may change.

    `CaseError` with those sentences.
    """
    try:
        return like.with_values(values)
    except CaseError as error:
        own = [fault for fault in error.faults if fault.path == key]
        if own:
            raise CaseError("", own) from None
        return like


def _fitted(like: Case, values: Mapping[str, object]) -> Case:
    """The case with the answers; copied values that do not fit them give way to the usual ones."""
    try:
        return like.with_values(values)
    except CaseError as error:
        copied = [fault.path for fault in error.faults if fault.path not in values]
    try:
        made = like.with_values({**values, **dict.fromkeys(copied)})
    except CaseError:
        typer.echo("your answers: " + ", ".join(f"{key} = {shown(value)}" for key, value in values.items()))
        raise
    for key in copied:
        typer.echo(f"{key}: the copied value does not fit your answers; it is now {shown(made.value(key))}")
    return made

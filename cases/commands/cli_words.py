"""What the parser of options finds wrong, in one sentence of the workshop's own words."""

import re
from typing import Any

import typer

from cases.casefile.errors import Problem

UsageError: type[Exception] = typer.BadParameter.__mro__[1]
"""The parser's own error; wherever the parser keeps it, this is the parent of its public one."""
NUMBER = ("a number", "a number in digits, as 20 or 2.5")
KINDS = {
    "integer": ("a whole number", "a whole number in digits, as 20"),
    "number": NUMBER,
    "float": NUMBER,
    "format": ("a date", "year-month-day, as 2031-05-04"),
}
"""By a word of the parser's message: what was not given, and what is allowed."""
NO_COMMAND = re.compile(r"No such command '(?P<name>.*?)'\.(?: Did you mean (?P<near>.*)\?)?")
TOO_MUCH = re.compile(r"Got unexpected extra arguments?(?:\(s\))? \((?P<words>.*)\)")


def asks_for_help(error: Exception) -> bool:
    """Whether the parser only says that nothing was typed, with the help as its text."""
    return type(error).__name__ == "NoArgsIsHelpError"


def plain(error: Any) -> str:
    """One sentence for an error of the parser: what, where, what is allowed, what to do."""
    command = error.ctx.command_path if error.ctx is not None else "neckpreload"
    see = f"see {command} --help"
    kind, message = type(error).__name__, error.message
    if kind == "MissingParameter":
        meaning = (error.param.help or "").rstrip(".")
        return f"{_name(error.param)} is missing ({meaning[:1].lower()}{meaning[1:]}); add it, {see}."
    if kind == "BadParameter" and error.param is not None:
        return _misread(error, see)
    if kind == "NoSuchOption":
        near = " or ".join(error.possibilities or ())
        return _no_such(error.option_name, "option", command, f"perhaps {near}" if near else "leave it out")
    if kind == "BadOptionUsage":
        wrong = ("nothing follows it", "a value after it", "add the value")
        if "requires" not in message:
            wrong = ("it takes no value", "the option alone", "take the value away")
        return str(Problem(error.option_name, "", *wrong))
    if found := NO_COMMAND.match(message):
        near = (found["near"] or "").replace("'", "")
        return _no_such(found["name"], "command", command, f"perhaps {near}" if near else "take one of those")
    if found := TOO_MUCH.match(message):
        return f'{command}: "{_shown(found["words"])}" is too much here; leave it out, or {see}.'
    return f"{command}: {message.rstrip('.')}; {see}."


def _misread(error: Any, see: str) -> str:
    """A value that is not of its option's kind."""
    found: list[Any] = getattr(error.__cause__, "errors", list)()
    given = f'"{_shown(str(found[0]["input"]))}"' if found else ""
    for word, (kind, allowed) in KINDS.items():
        if word in error.message:
            wrong = (f"this is not {kind}", allowed, "write it in that form")
            return str(Problem(_name(error.param), given, *wrong))
    return f"{_name(error.param)} {given}: {error.message.rstrip('.')}; {see}."


def _no_such(name: str, what: str, command: str, remedy: str) -> str:
    return str(Problem(_shown(name), "", f"there is no such {what}", f"those of {command} --help", remedy))


def _name(parameter: Any) -> str:
    option = parameter.param_type_name == "option"
    return str(parameter.opts[0] if option else parameter.metavar or parameter.name)


def _shown(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."

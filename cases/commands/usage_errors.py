"""One sentence for a command line that the option parser refuses, from the fields of its exception."""

from collections.abc import Iterable, Sequence
from typing import Any

import typer
from typer.core import TyperCommand

from cases.casefile.errors import Problem
from materials.errors import InputError

UsageError: type[Exception] = typer.BadParameter.__mro__[1]
"""Base class of the parser's exceptions, for which typer has no public name."""
KINDS = {
    "int_parsing": ("this is not a whole number", "a whole number in digits, as 20"),
    "float_parsing": ("this is not a number", "a number in digits, as 20 or 2.5"),
    "value_error": ("this is not a date", "year-month-day, as 2031-05-04"),
}
"""By the type of the validation error; only dates are read by a function, which ends in `value_error`."""


class OnceCommand(TyperCommand):
    """A command that refuses an option of one value given twice; the parser alone would drop the first."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse the words; raise `InputError` if an option that takes one value occurs more than once."""
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        seen = set()
        for param in order:  # one entry for each time a parameter was typed
            if param.param_type_name != "option" or param.multiple or getattr(param, "is_flag", False):
                continue
            if param.name in seen:
                remedy = "keep one; where it takes several values, give one list with commas between them"
                raise InputError(str(Problem(param.opts[0], "", "it is given twice", "once", remedy)))
            seen.add(param.name)
        return super().parse_args(ctx, args)


def nothing_typed(error: Exception) -> bool:
    """Whether no command was typed; the text of the exception is then the help."""
    return type(error).__name__ == "NoArgsIsHelpError"


def sentence_of(error: Any, typed: Sequence[str]) -> str:
    """Return one sentence for an exception of the parser.

    Parameters
    ----------
    error : a `UsageError`.
    typed : the words of the command line after the program's name.
    """
    command = error.ctx.command_path if error.ctx is not None else "neckpreload"
    if hasattr(error, "possibilities"):
        return _unknown("option", error.option_name, command, near=error.possibilities or ())
    if hasattr(error, "option_name"):
        with_value = any(word.startswith(f"{error.option_name}=") for word in typed)
        wrong = ("a value is missing", "a value after it", "add the value")
        if with_value:
            wrong = ("it takes no value", "the option alone", "remove the value")
        return str(Problem(error.option_name, "", *wrong))
    if getattr(error, "param", None) is not None:
        return _wrong_parameter(error, see=f"see {command} --help")
    words = list(typed[command.count(" ") :])
    _, unread, _ = error.ctx.command.make_parser(error.ctx).parse_args(args=words)
    if hasattr(error.ctx.command, "commands"):
        from materials.table import nearest_names

        near = nearest_names(unread[0], error.ctx.command.commands, count=3)
        return _unknown("command", unread[0], command, near=near)
    return f'{command}: unexpected "{_cut(" ".join(unread))}"; remove it, or see {command} --help.'


def _wrong_parameter(error: Any, *, see: str) -> str:
    parameter = error.param
    option = parameter.param_type_name == "option"
    name = str(parameter.opts[0] if option else parameter.metavar or parameter.name)
    if hasattr(error, "param_type"):
        meaning = (parameter.help or "").rstrip(".")
        return f"{name} is missing ({meaning[:1].lower()}{meaning[1:]}); add it, {see}."
    (found, *_) = getattr(error.__cause__, "errors", list)() or [{"type": "", "input": ""}]
    if found["type"] not in KINDS:
        return f"{name}: {error.message.rstrip('.')}; {see}."
    return str(
        Problem(name, f'"{_cut(str(found["input"]))}"', *KINDS[found["type"]], "write it in that form")
    )


def _unknown(what: str, name: str, command: str, *, near: Iterable[str]) -> str:
    remedy = (
        f"perhaps {' or '.join(near)}" if near else "remove it" if what == "option" else "choose one of those"
    )
    return str(Problem(_cut(name), "", f"there is no such {what}", f"those of {command} --help", remedy))


def _cut(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."

"""The instrument as chosen and typed in a tab, valid or not, and the case made from it."""

from dataclasses import dataclass
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from cases.casefile.case import Case
from cases.casefile.errors import CaseError
from cases.casefile.setting import parse_value
from cases.casefile.stringing import strings_of
from cases.page.room import DEFAULT_CASE, FILE_KEYS, RefusedError, Room
from materials.errors import InputError

MOST_EDITS = 400
MOST_FILE = 100 * 1024
"""Largest case file accepted [bytes]."""
MOST_TEXT = 400
"""Longest typed value [characters]."""
MOST_NAME = 60
MOST_KEPT = 300_000
"""Longest input that a tab gives back [characters]."""
TEXT_KEYS = {
    "wood",
    "set",
    "material",
    "alloy",
    "tuning",
    "kind",
    "mode",
    "grain",
    "ring_orientation",
    "face",
}
"""Keys whose values are text even if they look like a number."""


class Draft(BaseModel):
    """An instrument being edited.

    ``start`` names the case it began with, ``text`` is TOML dropped in its place and ``text_name`` names its
    file; ``edits`` is typed text by key.
    """

    model_config = ConfigDict(frozen=True)

    start: str = DEFAULT_CASE
    text: str | None = None
    text_name: Annotated[str, Field(max_length=MOST_NAME)] = ""
    edits: Annotated[
        dict[str, Annotated[str, Field(max_length=MOST_TEXT)]], Field(max_length=MOST_EDITS)
    ] = {}

    def edited(self, key: str, text: str) -> "Draft":
        """The draft with one value typed. Raises `InputError` if it is longer than any value."""
        if len(text) > MOST_TEXT or len(self.edits) >= MOST_EDITS:
            raise InputError(f"{key}: this is longer than any value; type at most {MOST_TEXT} characters.")
        return self.model_copy(update={"edits": {**self.edits, key: text}})


Kept = TypeVar("Kept", bound=BaseModel)


def from_tab(model: type[Kept], kept: object) -> Kept:
    """The input that a tab gave back; the empty one if it is invalid or too long."""
    try:
        return model.model_validate_json(kept if isinstance(kept, str) and len(kept) < MOST_KEPT else "{}")
    except ValidationError:
        return model()


@dataclass(frozen=True)
class Made:
    """Result of a draft: the case, or every error; ``base`` is the case without the edits, None if wrong."""

    base: Case | None
    case: Case | None
    problems: tuple[str, ...] = ()

    def problem_of(self, key: str) -> str | None:
        """The error of one key, without the key; None if it is valid."""
        for text in self.problems:
            head, _, rest = text.partition(": ")
            if head == key or head.startswith((f"{key} = ", f"{key} (line ")):
                return rest[:1].upper() + rest[1:]
        return None


def made(draft: Draft, room: Room) -> Made:
    """Make the case of a draft; every edit counts, and no text is evaluated."""
    try:
        if draft.text is None:
            base = room.open_case(draft.start)
        else:
            base = room.read_case(draft.text, where=draft.text_name or "the file")
        strings_of(base.strings)
    except InputError as error:
        return Made(None, None, _sentences(error))
    values: dict[str, object] = {}
    problems: list[str] = []
    for key, text in draft.edits.items():
        try:
            values[key] = _value(key, text)
        except InputError as error:
            problems.append(str(error))
    if problems:
        return Made(base, None, tuple(problems))
    try:
        return Made(base, base.with_values(values) if values else base)
    except InputError as error:
        return Made(base, None, _sentences(error))


def _value(key: str, text: str) -> object:
    last = key.split(".")[-1]
    if last in FILE_KEYS:
        raise RefusedError(f"{key}: a page opens no files beside the case; leave it empty.")
    stripped = text.strip()
    if not stripped:
        return None
    return stripped if last in TEXT_KEYS else parse_value(key, stripped)


def _sentences(error: InputError) -> tuple[str, ...]:
    return error.problems if isinstance(error, CaseError) else (str(error),)


def display_name(given: object) -> str:
    r"""Name of a dropped file for display: its last part, printable and short; never used as a path.

    >>> display_name("../../etc/passwd"), display_name("C:\\x\\a\x00b.toml")
    ('passwd', 'a?b.toml')
    """
    last = str(given).replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(char if char.isprintable() else "?" for char in last)[:MOST_NAME] or "the file"


def dropped(draft: Draft, given: object) -> Draft:
    """A draft of a file sent by the browser. Raises `InputError` if it is too large or not text."""
    name, text = (given.get("name"), given.get("text")) if isinstance(given, dict) else (None, None)
    where = display_name(name if isinstance(name, str) else "the file")
    if not isinstance(text, str) or len(text.encode()) > MOST_FILE:
        raise InputError(
            f"{where}: too large for a case file; allowed: {MOST_FILE // 1024} kB of text; a case has a few."
        )
    if "\N{REPLACEMENT CHARACTER}" in text or "\0" in text:
        raise InputError(f"{where}: this is not text in UTF-8; save the file as UTF-8 and load it again.")
    return Draft(start=draft.start, text=text, text_name=where)

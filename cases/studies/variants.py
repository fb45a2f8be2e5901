"""Instruments of a comparison: cases with some of their keys changed, in every combination."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import floor, prod

from cases.casefile.case import Case
from cases.casefile.changes import are_gauges, own_gauges, string_changes, tuning_of
from cases.casefile.errors import CaseError, Problem
from cases.casefile.limits.names import unknown_wood
from cases.casefile.problems import unknown_key
from cases.casefile.setting import parse_value
from materials.errors import InputError, NeckpreloadError
from materials.strings import string_set
from materials.wood import wood_names

MOST_ROWS = 2000
"""Largest number of rows of a comparison, at about one second each."""

LARGEST = 1e100
"""Largest number of a range, far above any of a case; sums of larger ones would overflow."""

SHORT = {
    "neck.wood": "neck {}",
    "fretboard.wood": "board {}",
    "strings.set": "strings {}",
    "strings.tuning": "tuning {}",
    "instrument.scale_mm": "scale {} mm",
}
"""Form of a change in the name of a row; other keys use their path."""


@dataclass(frozen=True)
class Axis:
    """Values of one key, in the given order."""

    key: str
    values: tuple[object, ...]

    @property
    def numeric(self) -> bool:
        """Whether all values are numbers."""
        return all(isinstance(value, int | float) for value in self.values)


@dataclass(frozen=True)
class Variant:
    """One instrument of a comparison, or the reason in ``problem`` why it is impossible.

    ``start`` is the original case, ``changed`` its changed keys.
    """

    name: str
    start: Case
    changed: Mapping[str, object]
    case: Case | None
    problem: str | None


def axes_of(
    *,
    neck_wood: Sequence[str],
    board_wood: Sequence[str],
    strings: Sequence[str],
    scale_mm: Sequence[float],
    vary: Mapping[str, Sequence[float]],
    tuning: Sequence[str] = (),
    own_woods: Sequence[str] = (),
) -> tuple[Axis, ...]:
    """Axes of a comparison; a value given twice counts once.

    Raises `InputError` for a wood neither in the table nor among `own_woods`, an unknown string set, a wrong
    gauge, more than two varied keys, or the same key twice.
    """
    for option, names in (("--neck-wood", neck_wood), ("--board-wood", board_wood)):
        for name in names:
            if name not in (*wood_names(), *own_woods):
                raise unknown_wood(option, name).error()
    for text in strings:
        own_gauges(text) if are_gauges(text) else string_set(text)
    if len(vary) > 2:
        wrong = "more than two keys cannot be drawn"
        raise Problem(", ".join(vary), "", wrong, "one or two keys", "leave some out").error()
    given: tuple[tuple[str, Sequence[object]], ...] = (
        ("neck.wood", neck_wood),
        ("fretboard.wood", board_wood),
        ("strings.set", strings),
        ("strings.tuning", tuning),
        ("instrument.scale_mm", scale_mm),
        *vary.items(),
    )
    axes = tuple(Axis(key, tuple(dict.fromkeys(values))) for key, values in given if len(values))
    if len({axis.key for axis in axes}) < len(axes):
        wrong, remedy = "it is varied twice", "leave --scale-mm out"
        raise Problem("instrument.scale_mm", "", wrong, "each key once", remedy).error()
    return axes


def check_axes(case: Case, axes: Sequence[Axis]) -> None:
    """Validate axes for a case. Raises `InputError` for an unknown key, with the nearest ones, or a text
    where a number is varied.
    """
    keys = tuple(path for path, _ in case.items())
    for axis in axes:
        if axis.key not in keys:
            raise unknown_key(axis.key, keys).error()
        is_text = isinstance(case.value(axis.key), str)
        if (axis.numeric and is_text) or not (axis.numeric or axis.key in SHORT):
            wrong, allowed = "only numbers can be varied", "a key with a number"
            remedy = "use --neck-wood, --board-wood or --strings for names, or run again with --set"
            raise Problem(axis.key, "", wrong, allowed, remedy).error()


def variants(cases: Sequence[Case], axes: Sequence[Axis]) -> Iterator[Variant]:
    """Every case unchanged, then with every combination of changes; `InputError` for too many rows.

    Two may have one name (`named_apart`).
    """
    rows = len(cases) * prod(len(axis.values) for axis in axes)
    if rows > MOST_ROWS:
        wrong = f"this makes {rows} rows, about a second each"
        raise Problem("--vary", "", wrong, f"at most {MOST_ROWS}", "use larger steps").error()
    yield from _all_variants(cases, axes, usual=tuning_of(cases[0]))


def named_apart(found: Iterable[Variant]) -> Iterator[Variant]:
    """Variants with names of their own: a second one of the same name gets a number."""
    used: dict[str, int] = {}
    for variant in found:
        used[variant.name] = used.get(variant.name, 0) + 1
        again = f" ({used[variant.name]})" if used[variant.name] > 1 else ""
        yield replace(variant, name=variant.name + again)


def _all_variants(cases: Sequence[Case], axes: Sequence[Axis], *, usual: str) -> Iterator[Variant]:
    """Variants whose names show a tuning other than that of the first."""
    for case in cases:
        yield Variant(case.name + tuned(case, {}, usual), case, {}, case, None)
        for values in product(*(axis.values for axis in axes)) if axes else ():
            changed = {axis.key: value for axis, value in zip(axes, values, strict=True)}
            found = _variant(case, changed, several=len(cases) > 1)
            yield replace(found, name=found.name + tuned(found.case, changed, usual))


def tuned(case: Case | None, changed: Mapping[str, object], usual: str) -> str:
    """Words for the tuning of a variant if it is neither the usual one nor named as a change."""
    if case is None or "strings.tuning" in changed or tuning_of(case) == usual:
        return ""
    return f" (tuned {tuning_of(case)})"


def _variant(case: Case, changed: dict[str, object], *, several: bool) -> Variant:
    shown = {key: f"{value:g}" if isinstance(value, float) else value for key, value in changed.items()}
    words = ", ".join(SHORT.get(key, key + " {}").format(value) for key, value in shown.items())
    name = f"{case.name}: {words}" if several else words
    try:
        values = dict(changed)
        if "strings.set" in values:
            beside = "strings.tuning" in values
            values = string_changes(case, str(values.pop("strings.set")), tuned=beside) | values
        return Variant(name, case, changed, case.with_values(values), None)
    except InputError as error:
        return Variant(name, case, changed, None, one_line(error))


def one_line(error: NeckpreloadError) -> str:
    """Text of an error on one line."""
    return " ".join(error.problems) if isinstance(error, CaseError) else " ".join(str(error).split())


def parse_axis(text: str) -> Axis:
    """Read `KEY=FROM:TO:STEP` or `KEY=VALUE,VALUE,...`; a length may carry its unit.

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> parse_axis("heel.height_mm=80:100:10")
    Axis(key='heel.height_mm', values=(80, 90, 100))
    >>> parse_axis("heel.height_mm=3in,3.5in").values
    (76.2, 88.9)
    """
    key, _, right = (part.strip() for part in text.partition("="))
    parts = [part.strip() for part in right.split(":" if ":" in right else ",")]
    found = [parse_value(key, part) for part in parts if part]
    numbers = [value for value in found if isinstance(value, int | float) and not isinstance(value, bool)]
    if not key or not numbers or len(numbers) != len(parts):
        raise _misread(text, "this is not KEY=FROM:TO:STEP")
    if not all(abs(value) <= LARGEST for value in numbers):
        raise _misread(text, "a value is not finite, or much too large")
    if ":" not in right:
        return Axis(key, tuple(numbers))
    if len(numbers) != 3:
        raise _misread(text, f"a range has three numbers, not {len(numbers)}")
    first, last, step = numbers
    if step == 0 or (last - first) / step < 0:
        raise _misread(text, "the step does not lead from the first to the last number")
    steps = (last - first) / step
    if steps >= MOST_ROWS:
        raise _misread(text, f"this makes more than {MOST_ROWS} values")
    count = floor(steps + 1e-9) + 1
    # round leaves an int an int
    return Axis(key, tuple(round(first + index * step, 9) for index in range(count)))


def _misread(text: str, wrong: str) -> InputError:
    allowed = "from, to and step, or values separated by commas"
    remedy = "write for example --vary heel.height_mm=80:100:5"
    return Problem("--vary", f'"{text}"', wrong, allowed, remedy).error()

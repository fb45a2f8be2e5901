"""A program outside the project: .ci/run runs it on the installed wheel and checks it with `mypy --strict`.

Each ``type: ignore`` covers a deliberate error. mypy reports one that covers none, so a wheel that lost its
types fails.
"""

from typing import assert_type

from cases import Answer, Case, Comparison, compare, load, preload
from fem.errors import ModelError
from materials.errors import InputError


def offset_of(name: str) -> float:
    """Preload offset of a case [deg]."""
    case = load(name)
    assert_type(case, Case)
    answer = preload(case, effects=False)
    assert_type(answer, Answer)
    return answer.offset_deg


def change_with(strings: str, *, name: str) -> float | None:
    """Change of the offset with another string set [deg]."""
    comparison = compare(name, strings=[strings])
    assert_type(comparison, Comparison)
    assert_type(comparison.table().units, tuple[str, ...])
    numbers = comparison.rows[1].numbers
    return numbers.change_deg if numbers else None


def errors() -> None:
    """Wrong uses, never called."""
    preload(12)  # type: ignore[arg-type]
    preload("fourteen-mahogany", False)  # type: ignore[call-arg]
    compare("fourteen-mahogany", string=["acoustic-medium"])  # type: ignore[call-arg]
    print(load("fourteen-mahogany").instrument.scale)  # type: ignore[attr-defined]
    raise InputError(1) from ModelError().text  # type: ignore[attr-defined]


if __name__ == "__main__":
    print(f"{offset_of('fourteen-mahogany'):+.3f} deg")
    print(f"change {change_with('acoustic-medium', name='fourteen-mahogany') or 0.0:+.3f} deg")

"""Values of a file that are typed with their unit, as `"0.008in"`: read in the unit of their key."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from cases.casefile.defaults import table_models
from cases.casefile.errors import CaseError, Problem
from cases.casefile.key_values import LISTS, item_label
from cases.casefile.quantity import has_unit, parse_quantity
from cases.casefile.wrong_value import unit_of


@dataclass(frozen=True)
class Typed:
    """A value that was typed with its unit: its key, the text, the number in the key's unit."""

    path: str
    text: str
    value: float

    def __str__(self) -> str:
        """Return the line that shows the conversion."""
        return f'{self.path} = "{self.text}": {self.value:.6g} {unit_of(self.path)}'


@dataclass
class _Reading:
    typed: list[Typed] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def table_of(self, content: Mapping[str, Any], model: type[BaseModel], path: str) -> dict[str, Any]:
        """The table with numbers for quantities."""
        fields = model.model_fields
        return {
            key: self.read(value, f"{path}.{key}".lstrip("."), fields[key])
            if key in fields and not isinstance(value, float)
            else value
            for key, value in content.items()
        }

    def read(self, value: Any, path: str, of: FieldInfo) -> Any:
        """The value, as a number if it is a quantity in text."""
        if isinstance(value, list | tuple):
            return type(value)(self.read(item, path, of) for item in value)
        if not isinstance(value, str):
            return value
        kind: Any = of.annotation
        unit = unit_of(path) if _is_number(kind) else ""
        if not unit or not has_unit(value.replace("−", "-")):
            return value
        try:
            number = parse_quantity(value, name=path, unit=unit)
        except CaseError as error:
            self.problems += error.faults
            return value
        self.typed.append(Typed(path, value, number))
        return number


def with_numbers(
    raw: Mapping[str, Any], file_model: type[BaseModel]
) -> tuple[dict[str, Any], list[Typed], list[Problem]]:
    """Return the content of a file with numbers for quantities in text, those read, and the wrong ones.

    Text that is not a number with a unit is left as it is.
    """
    reading, models = _Reading(), table_models(file_model)
    content = reading.table_of(raw, file_model, "")
    for name, table in raw.items():
        model = models.get(name)
        if model is not None and isinstance(table, Mapping):
            content[name] = reading.table_of(table, model, name)
        elif model is not None and name in LISTS and isinstance(table, list | tuple):
            content[name] = [
                reading.table_of(entry, model, f"{name}.{item_label(entry, position=position)}")
                if isinstance(entry, Mapping)
                else entry
                for position, entry in enumerate(table, start=1)
            ]
    return content, reading.typed, reading.problems


@cache
def _is_number(annotation: Any) -> bool:
    """Whether a key holds a number, or a list of them, and no text."""
    kinds = {annotation, *get_args(annotation)}
    kinds |= {kind for inner in kinds for kind in get_args(inner)}
    return bool({int, float} & kinds) and str not in kinds

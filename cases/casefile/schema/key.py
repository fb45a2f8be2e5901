"""How one key of a case file is declared."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

PRACTICE = "common practice, no source"
ASSUMPTION = "assumption, no source"


class Table(BaseModel):
    """One table of a case file: frozen, and closed to keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


def required(description: str, *, low: float | None = None, high: float | None = None) -> Any:
    """Declare a key that the file must give.

    Parameters
    ----------
    description : str
        What the key means, unit in square brackets.
    low, high : float, optional
        Limits, both included.

    Returns
    -------
    Any
        A pydantic field.
    """
    return Field(description=description, ge=low, le=high)


def defaulted(
    description: str, value: Any, source: str, *, low: float | None = None, high: float | None = None
) -> Any:
    """Declare a key with a fixed default.

    Parameters
    ----------
    description : str
        What the key means, unit in square brackets.
    value : Any
        The default; `None` means that the key may stay away.
    source : str
        Where the default comes from.
    low, high : float, optional
        Limits, both included.

    Returns
    -------
    Any
        A pydantic field.
    """
    return Field(
        default=value, description=description, ge=low, le=high, json_schema_extra={"source": source}
    )


def computed(
    description: str, rule: str, source: str, *, low: float | None = None, high: float | None = None
) -> Any:
    """Declare a key whose default follows from other keys; `cases.casefile.defaults` works it out.

    Parameters
    ----------
    description : str
        What the key means, unit in square brackets.
    rule : str
        The rule in words.
    source : str
        Where the rule comes from.
    low, high : float, optional
        Limits, both included.

    Returns
    -------
    Any
        A pydantic field.
    """
    return Field(description=description, ge=low, le=high, json_schema_extra={"rule": rule, "source": source})


def label(description: str) -> Any:
    """Declare the name of an item of a list; key paths use it: letters, digits, `-` and `_` only."""
    return Field(description=description, pattern=r"^[A-Za-z0-9_-]{1,40}$")

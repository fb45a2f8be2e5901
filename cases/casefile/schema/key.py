"""Declaration of the keys of a case file; the limits `within` are included in what is allowed."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

PRACTICE = "common practice, no source"
ASSUMPTION = "assumption, no source"
NUT_FACTOR = "0.2 where the state of the bolt is not stated: Shigley [shigley2011], Table 8-15, from memory"
TORQUE_SCATTER = (
    "+-35 % unlubricated, +-25 % lubricated: NSTS 08307 [nasa1998]; +-23 to +-28 % with estimated friction: "
    "VDI 2230 [vdi2230-2015], Table A8; both from memory"
)


class Table(BaseModel):
    """One table of a case file: frozen, without unknown keys."""

    # the whole case is built when the first one is read, not each table before
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True)


Limits = tuple[float, float] | tuple[None, None]
NO_LIMITS = (None, None)


def required(description: str, *, within: Limits = NO_LIMITS) -> Any:
    """Return the field of a key that the file must give; the description ends with the unit in brackets."""
    return Field(description=description, ge=within[0], le=within[1])


def defaulted(description: str, value: Any, source: str, *, within: Limits = NO_LIMITS) -> Any:
    """Return the field of a key with a fixed default from a source; `None` if it may be left out."""
    low, high = within
    return Field(
        default=value, description=description, ge=low, le=high, json_schema_extra={"source": source}
    )


def computed(description: str, rule: str, source: str, *, within: Limits = NO_LIMITS) -> Any:
    """Return the field of a key whose default follows from others: `rule` in words, formula in `defaults`."""
    low, high = within
    return Field(description=description, ge=low, le=high, json_schema_extra={"rule": rule, "source": source})


def label(description: str) -> Any:
    """Return the field of the name of a list's item, which key paths use: letters, digits, `-` and `_`."""
    return Field(description=description, pattern=r"^[A-Za-z0-9_-]{1,40}$")

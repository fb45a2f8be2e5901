"""Calibration files: written by `neckpreload calibrate`, validated on loading."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from cases.casefile.errors import CaseError, Problem
from cases.casefile.plausible import WOOD_KEYS, limits_of
from cases.casefile.toml_text import read_toml, write_text
from cases.offset.calibration import LEARNED, LEAST_FACTOR, MODEL, STRETCH, TRANSFER, Calibration, Kind
from materials.counted import counted

MARKS = ("format", "id", "kind", "parameters")
"""A file with none of these keys is no calibration."""

WRITTEN = "a file that `neckpreload calibrate` wrote"


class _File(BaseModel):
    """Content of the file."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    format: Literal[1]
    id: str = Field(min_length=1, max_length=80)
    kind: Kind
    created: datetime
    rows: list[str]
    parameters: list[str] = Field(min_length=1)
    mean: list[float]
    covariance: list[list[float]]
    scale: tuple[float, float] = (1.0, 1.0)
    extra: tuple[float, float] = (0.0, 0.0)
    notes: list[str] = []
    followed: tuple[float, float] | None = None
    valid_for: dict[str, str]

    @model_validator(mode="after")
    def _fits(self) -> "_File":
        count = len(self.parameters)
        if len(set(self.parameters)) != count:
            raise ValueError("a parameter is listed twice; list each once")
        unknown = [name for name in self.parameters if name.startswith(MODEL) and name not in LEARNED]
        if unknown:
            raise ValueError(
                f"{unknown[0]} is not known; allowed are {', '.join(LEARNED)} and keys of the case file"
            )
        if len(self.mean) != count:
            raise ValueError(
                f"mean has {counted(len(self.mean), 'number')} for {counted(count, 'parameter')}; give one "
                "each"
            )
        matrix = self.covariance
        if len(matrix) != count or any(len(row) != count for row in matrix):
            raise ValueError(f"covariance must have {count} rows of {count} numbers")
        array = np.array(matrix)
        if not np.allclose(array, array.T, rtol=1e-9, atol=0.0) or np.linalg.eigvalsh(array)[0] < -1e-12:
            raise ValueError("covariance is not symmetric and positive; calibrate again")
        for name in WOOD_KEYS:
            low, high = limits_of(name)
            value = self.mean[self.parameters.index(name)] if name in self.parameters else low
            if not low <= value <= high:
                raise ValueError(f"{name} = {value:g} fits no wood; allowed are {low:g} to {high:g}")
        for name in (STRETCH, TRANSFER):
            if name in self.parameters and self.mean[self.parameters.index(name)] < LEAST_FACTOR:
                raise ValueError(f"{name} below {LEAST_FACTOR} fits no joint; calibrate again")
        if not 0.0 < min(self.scale) <= max(self.scale) <= 1.0 or min(self.extra) < 0.0:
            raise ValueError("scale must be between 0 and 1, extra must not be negative; calibrate again")
        return self


def load_calibration(path: str | Path) -> Calibration:
    """Read a calibration file. Raises `CaseError` if it cannot be read, or for every error in it."""
    _, raw = read_toml(Path(path))
    if not _marked(raw):
        holds = "it is empty" if not raw else f"it begins with {next(iter(raw))}"
        wrong = f"this is no calibration ({holds})"
        remedy = (
            "make one with `neckpreload calibrate shop`, `known`, `neck` or `blank`, or give another file"
        )
        raise Problem("the file", "", wrong, WRITTEN, remedy).error(path)
    try:
        read = _File.model_validate(raw)
    except ValidationError as error:
        raise CaseError(str(path), [_problem(found) for found in error.errors()]) from None
    values = read.model_dump(exclude={"format"})
    values |= {name: tuple(values[name]) for name in ("rows", "parameters", "mean", "notes")}
    values["covariance"] = tuple(tuple(row) for row in values["covariance"])
    return Calibration(**values)


def calibrations_in(folder: Path) -> list[Calibration]:
    """Read the calibrations of a folder in the order of their names; its other TOML files are passed over.

    Raises `CaseError` as `load_calibration`.
    """
    return [load_calibration(path) for path in sorted(folder.glob("*.toml")) if _marked(read_toml(path)[1])]


def _marked(raw: Mapping[str, Any]) -> bool:
    """Whether a file says that it is a calibration."""
    return bool(raw.keys() & set(MARKS))


def _problem(found: Any) -> Problem:
    path = ".".join(str(part) for part in found["loc"]) or "the file"
    said = str(found.get("ctx", {}).get("error", found["msg"]))
    given = found["input"] if isinstance(found["input"], str | int | float) else ""
    return Problem(path, f'"{given}"' if given != "" else "", said, WRITTEN, "calibrate again")


def save_calibration(calibration: Calibration, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write a calibration file; `CaseError` if it exists (unless ``overwrite``) or cannot be written."""
    return write_text(path, calibration.to_toml(), overwrite=overwrite)

"""The house settings of a workshop: units, shim stock, tolerances, own offset and folder of cases."""

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

import typer
from pydantic import Field, PrivateAttr, ValidationError

from cases.casefile.defaults import with_tuples
from cases.casefile.errors import CaseError, Problem
from cases.casefile.key_values import Unchecked, Values, marked
from cases.casefile.limits.playing import stock_limits
from cases.casefile.problems import translate
from cases.casefile.schema.key import Table
from cases.casefile.schema.shop import Stock, Tolerance
from cases.casefile.toml_place import placed
from cases.casefile.toml_text import read_toml
from cases.casefile.typed_units import with_numbers

FILE_NAME = "workshop.toml"


class Workshop(Table):
    """The settings of one workshop, from `workshop.toml`."""

    units: Literal["metric", "inch"] = Field(
        default="metric",
        description="Units of `pair`, `swap` and the page's bench; everything else prints mm.",
    )
    paper_thickness_mm: float = Field(
        default=0.10,
        ge=0.02,
        le=1,
        description="Thickness of a sheet of paper, 80 g/m2, used to measure shims [mm].",
    )
    stock: Stock | None = Field(default=None, description="Shim stock, for cases that give none.")
    tolerance: Tolerance = Field(
        default=Tolerance(), description="Tolerances, for cases that give none; keys as in a case."
    )
    known_offset_deg: float | None = Field(
        default=None,
        ge=-2,
        le=2,
        description="The shop's own preload offset, from experience, for known_case [deg].",
    )
    known_case: str | None = Field(default=None, description="The case of this offset, by name or path.")
    known_strings: str | None = Field(default=None, description="The string set of this offset.")
    known_on: int | None = Field(
        default=None, ge=1, le=1_000_000, description="Number of guitars behind it; a note for yourself."
    )
    cases_folder: str | None = Field(
        default=None, description="Folder of the workshop's cases, relative to workshop.toml."
    )

    _path: Path | None = PrivateAttr(default=None)

    @property
    def path(self) -> Path | None:
        """The file these settings came from, or None."""
        return self._path

    @property
    def cases_path(self) -> Path | None:
        """The folder of the workshop's cases, or None."""
        if self.cases_folder is None:
            return None
        return (self._path.parent if self._path is not None else Path()) / self.cases_folder

    def case_tables(self) -> Mapping[str, Any]:
        """Return the tables that these settings give to cases without their own."""
        tables = {"stock": self.stock or Stock(), "tolerance": self.tolerance}
        dumped = {name: table.model_dump(exclude_unset=True) for name, table in tables.items()}
        return {name: table for name, table in dumped.items() if table}


def user_workshop_path() -> Path:
    """Return the path of a user's own `workshop.toml` on this platform."""
    return Path(typer.get_app_dir("neckpreload")) / FILE_NAME


def load_workshop(path: str | Path | None = None) -> Workshop:
    """Read the house settings: the file given, else `workshop.toml` of the current folder, else the user's.

    Without any of them the settings are the defaults.

    Raises
    ------
    CaseError
        If the file is missing, is not TOML, or is wrong, with one sentence for each error.
    """
    places = [Path(path)] if path is not None else [Path(FILE_NAME), user_workshop_path()]
    found = next((place for place in places if place.is_file()), None)
    if found is None and path is None:
        return Workshop()
    if found is None:
        allowed, remedy = f"a {FILE_NAME}", "correct the path or leave the option out"
        raise Problem("--workshop", f'"{path}"', "there is no such file", allowed, remedy).error()
    text, raw = read_toml(found)
    if {"instrument", "neck"} & raw.keys():
        wrong = "this is a case, not a workshop's settings"
        allowed = f"a {FILE_NAME} (its keys: docs/case-file.md)"
        remedy = "give the case as CASE, and --workshop only for the settings"
        raise Problem("the file", "", wrong, allowed, remedy).error(found)
    numbers, _, wrong_units = with_numbers(raw, Workshop)
    if wrong_units:
        raise CaseError(str(found), placed(wrong_units, text))
    workshop = _checked(with_tuples(numbers), where=found, text=text)
    workshop._path = found
    return workshop


def _checked(content: dict[str, Any], *, where: Path, text: str) -> Workshop:
    problems: list[Problem] = []
    workshop = Workshop()
    try:
        workshop = Workshop.model_validate(content)
    except ValidationError as error:
        problems = translate(error, content=content, own=Workshop)
    if "stock" in content:
        with contextlib.suppress(Unchecked):
            problems += stock_limits(Values(marked(content, {problem.path for problem in problems})))
    if workshop.known_offset_deg is None and workshop.known_case is not None:
        missing, remedy = "this key is missing", "add it, or remove known_case"
        problems.append(Problem("known_offset_deg", "", missing, "-2 to 2 degrees", remedy))
    folder = workshop.cases_folder
    if folder is not None and not (where.parent / folder).is_dir():
        wrong, remedy = "there is no such folder", "make it or correct the path"
        problems.append(Problem("cases_folder", f'"{folder}"', wrong, "a folder", remedy))
    if problems:
        raise CaseError(str(where), placed(problems, text))
    return workshop

"""Rights of a page in its mode: the cases it opens, whether it has a logbook. Every view asks here."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from cases.bench.logbook.store import Logbook, open_logbook
from cases.casefile.case import Case
from cases.casefile.files import library_names, load, loads, workshop_names
from cases.casefile.toml_text import parse_toml
from cases.page.settings import PageSettings
from materials.errors import InputError

DEFAULT_CASE = "fourteen-mahogany"
FILE_KEYS = ("outline_csv", "mesh")
"""Keys of the heel that name a file; the page opens none."""


class RefusedError(InputError):
    """An action that this page does not offer in its mode."""


@dataclass(frozen=True)
class Room:
    """Rights of one running page."""

    settings: PageSettings

    def case_names(self) -> tuple[str, ...]:
        """Names to choose from, the workshop's first; at the bench released cases only."""
        workshop = self.settings.workshop
        own = workshop_names(workshop)
        names = (*own, *(name for name in library_names() if name not in own))
        if self.settings.mode != "bench":
            return names
        return tuple(name for name in names if self._released(name))

    def _released(self, name: str) -> bool:
        try:
            return is_released(load(name, workshop=self.settings.workshop))
        except InputError:
            return False

    def open_case(self, name: str) -> Case:
        """A case by its name, which is never used as a path.

        Raises `InputError` if the name is unknown, the file is wrong, or the bench may not use it.
        """
        if name not in (*workshop_names(self.settings.workshop), *library_names()):
            known = ", ".join(self.case_names()) or "none is released yet"
            raise RefusedError(f"There is no case of this name here; choose one of these: {known}.")
        case = load(name, workshop=self.settings.workshop)
        if self.settings.mode == "bench" and not is_released(case):
            raise RefusedError(
                f"{name} is not released: the bench takes a case with revision, released_by and "
                "released_on; have it released first."
            )
        return case

    def read_case(self, text: str, *, where: str) -> Case:
        """A case from the text of a file. Raises `InputError` if it is wrong, names files, or is refused."""
        if self.settings.mode == "bench":
            raise RefusedError("The bench takes released cases only; load a file on a page without --bench.")
        heel = parse_toml(text, where=where).get("heel")
        for key in FILE_KEYS:
            if isinstance(heel, dict) and heel.get(key) is not None:
                raise RefusedError(
                    f"{where}: heel.{key}: a page opens no files beside the case; allowed: the heel's own "
                    "measures; leave the key out here, or put the case into the workshop's folder."
                )
        return loads(text, where=where, workshop=self.settings.workshop)

    @property
    def has_logbook(self) -> bool:
        """Whether this page reads and writes a logbook."""
        return self.settings.mode != "class"

    @property
    def may_save(self) -> bool:
        """Whether a case may be saved as a file."""
        return self.settings.mode == "open"

    def with_logbook(self, work: Callable[[Logbook], Any], *, create: bool = True) -> Any:
        """Run ``work`` with the open logbook; without ``create`` it must exist.

        Raises `RefusedError` in a class, before any file is touched; `LogbookError` if it cannot be used.
        """
        if not self.has_logbook:
            raise RefusedError("A class keeps no logbook and saves nothing; use a page without --class.")
        with open_logbook(self.settings.log, create=create) as logbook:
            return work(logbook)


def is_released(case: Case) -> bool:
    """Whether a case states its revision, who released it and when."""
    return None not in (case.revision, case.released_by, case.released_on)

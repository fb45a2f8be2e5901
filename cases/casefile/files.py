"""Where case files are found, and how they are read and written."""

import os
from pathlib import Path

from cases.casefile.case import Case, resolve
from cases.casefile.errors import CaseError, Problem
from cases.casefile.toml_text import parse_toml, read_toml, write_text
from cases.casefile.workshop import Workshop
from materials.table import nearest_names

LIBRARY = Path(__file__).parent.parent / "library"


def library_names() -> tuple[str, ...]:
    """Return the names of the instruments of the library."""
    return tuple(sorted(path.stem for path in LIBRARY.glob("*.toml")))


def workshop_names(workshop: Workshop | None) -> tuple[str, ...]:
    """Return the names of the cases in the workshop's folder."""
    folder = workshop.cases_path if workshop is not None else None
    return tuple(sorted(path.stem for path in folder.glob("*.toml"))) if folder is not None else ()


def find(name_or_path: str | Path, *, workshop: Workshop | None = None) -> Path:
    """Return the file of a case: a .toml path, else a name in the workshop's folder, else one of the library.

    `CaseError` if there is no such case, or the workshop and the library both have the name.
    """
    text = str(name_or_path)
    if text.lower().endswith(".toml"):
        # os.path, unlike Path, treats a name too long for any file as one that does not exist
        if os.path.isfile(text):
            return Path(text)
        if _hidden(text):
            wrong, allowed = "its folder cannot be read", "a file that you may read"
            remedy = "ask the owner of the folder, or copy the file to a folder of yours"
            raise Problem("CASE", f'"{text}"', wrong, allowed, remedy).error()
        wrong = "this is not a file" if os.path.exists(text) else "there is no such file"
        raise _not_found(text, wrong, workshop)
    folder = workshop.cases_path if workshop is not None else None
    places = [place for place in (folder, LIBRARY) if place is not None]
    found = [
        place / f"{text}.toml" for place in places if text in {path.stem for path in place.glob("*.toml")}
    ]
    if len(found) > 1 and found[0].resolve() != found[1].resolve():
        wrong = f"two cases have this name: {found[0]} and {found[1]}"
        remedy = "rename your file, or give the path of the one you mean"
        raise Problem("CASE", f'"{text}"', wrong, "a name of one case", remedy).error()
    if not found:
        raise _not_found(text, "there is no such case", workshop)
    return found[0]


def _hidden(text: str) -> bool:
    """Return whether the folder of a path cannot be read."""
    try:
        os.stat(text)
    except PermissionError:
        return True
    except (OSError, ValueError):
        return False
    return False


def _not_found(text: str, wrong: str, workshop: Workshop | None) -> CaseError:
    names = (*library_names(), *workshop_names(workshop))
    close = nearest_names(Path(text).stem, names) or names
    here = os.path.isfile(f"{text}.toml")
    allowed = f"a path that ends in .toml, or a name such as {', '.join(close[:5])}"
    remedy = f"for the file of this name write {text}.toml" if here else "`neckpreload cases` lists all names"
    return Problem("CASE", f'"{text}"', wrong, allowed, remedy).error()


def load(name_or_path: str | Path, *, workshop: Workshop | None = None) -> Case:
    """Read a case, from a `.toml` path or by its name (see `find`), and check it.

    The stock and the tolerances of the workshop apply if the case gives none.

    Raises
    ------
    CaseError
        If the case is not found, is not TOML, or is wrong, with one sentence for each error.

    Examples
    --------
    >>> load("fourteen-mahogany").instrument.scale_mm
    647.7
    """
    path = find(name_or_path, workshop=workshop)
    text, raw = read_toml(path)
    house = workshop.case_tables() if workshop else None
    return resolve(raw, where=str(path), name=path.stem, text=text, house=house, folder=path.parent)


def opened(case: Case | str | Path) -> Case:
    """Return the case itself, or the one of this path or name (see `load`)."""
    return case if isinstance(case, Case) else load(case)


def loads(text: str, *, where: str = "case", workshop: Workshop | None = None) -> Case:
    """Make a case from the text of a case file.

    Raises
    ------
    CaseError
        As `load`.
    """
    house = workshop.case_tables() if workshop else None
    return resolve(parse_toml(text, where=where), where=where, text=text, house=house)


def save(case: Case, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write a case as TOML, without its defaults, and return the path.

    Raises
    ------
    CaseError
        If the path does not end in `.toml`, exists (unless `overwrite`), or cannot be written.
    """
    return write_text(path, case.to_toml(), overwrite=overwrite)

"""The publications in docs/sources.bib and where the project cites them."""

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIBLIOGRAPHY = ROOT / "docs" / "sources.bib"
CITATION = re.compile(r"\[([a-z][a-z0-9-]*(?:19|20)\d\d)\]")
DOI = re.compile(r"10\.\d{4,9}/[^\s{}]+")
TEXTS = {".py", ".toml", ".md", ".csv"}
_ENTRY = re.compile(r"^@(\w+)\{([^,\s]+),\n(.*?)^\}", re.MULTILINE | re.DOTALL)
_FIELD = re.compile(r"^  (\w+) = \{(.*?)\},$", re.MULTILINE | re.DOTALL)


def entries() -> dict[str, dict[str, str]]:
    """Fields of each entry by its key.

    Raises
    ------
    ValueError
        If two entries have one key, or text lies outside entries and comments.
    """
    text = BIBLIOGRAPHY.read_text(encoding="utf-8")
    rest = re.sub(r"^%.*\n|^\s*\n", "", _ENTRY.sub("", text), flags=re.MULTILINE)
    if rest.strip():
        raise ValueError(
            f"sources.bib: this is no entry: {rest.strip()[:60]!r}; write @type{{key, field = {{}},"
        )
    found = [(match[2], dict(_FIELD.findall(match[3]))) for match in _ENTRY.finditer(text)]
    if len(dict(found)) < len(found):
        raise ValueError("sources.bib: two entries have one key; give each its own")
    return dict(found)


def cited() -> dict[str, set[str]]:
    """Files that cite each key."""
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    found: dict[str, set[str]] = {}
    for name in names.stdout.splitlines():
        path = ROOT / name
        if path.suffix in TEXTS and path.is_file() and name != "tests/test_bibliography.py":
            for key in CITATION.findall(path.read_text(encoding="utf-8")):
                found.setdefault(key, set()).add(name)
    return found


def reference(fields: dict[str, str]) -> str:
    """One line that finds the publication: author, title, where, year, DOI."""
    author = fields.get("author") or fields["editor"] + " (ed.)"
    where = (
        "series",
        "number",
        "journal",
        "booktitle",
        "volume",
        "pages",
        "publisher",
        "institution",
        "year",
    )
    parts = [
        author.replace(" and ", ", "),
        f"*{fields['title']}*",
        *(f"edition {fields['edition']}" for _ in fields.keys() & {"edition"}),
        *(fields[name] for name in where if name in fields),
        *(f"doi {fields['doi']}" for _ in fields.keys() & {"doi"}),
    ]
    plain = re.sub(r"\\[`'^\"](\w)|\{\\[`'^\"](\w)\}", r"\1\2", ", ".join(parts))
    return re.sub(r"[{}]", "", re.sub(r"\s+", " ", plain)).replace("--", "-")

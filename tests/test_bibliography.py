"""Every publication that the project cites is in docs/sources.bib, complete, and every entry is cited."""

import re

import pytest

from tests.bibliography import CITATION, DOI, ROOT, cited, entries, reference
from tests.evidence_rows.row import all_rows

ENTRIES = entries()


def test_each_key_cited_is_an_entry() -> None:
    missing = {key: sorted(files) for key, files in cited().items() if key not in ENTRIES}
    assert not missing, f"give docs/sources.bib an entry for each: {missing}"


def test_each_entry_is_cited() -> None:
    assert not set(ENTRIES) - set(cited()), "cite these or take them out of docs/sources.bib"


@pytest.mark.parametrize("key", ENTRIES)
def test_an_entry_can_be_found_by_its_fields(key: str) -> None:
    fields = ENTRIES[key]
    assert "author" in fields or "editor" in fields, key
    assert len(fields["title"]) > 5, key
    assert re.fullmatch(r"(19|20)\d\d", fields["year"]), key
    assert key.endswith(fields["year"]), f"{key}: the key ends with the year"
    if "doi" in fields:
        assert DOI.fullmatch(fields["doi"]), f"{key}: {fields['doi']} is no DOI; write 10.NUMBER/NAME"
    assert not re.search(r"[{}\\]", reference(fields)), key


def test_a_reference_reads_as_the_title_page() -> None:
    assert reference(ENTRIES["bodig1982"]) == (
        "Bodig, J., Jayne, B. A., *Mechanics of Wood and Wood Composites*, Van Nostrand Reinhold, 1982"
    )
    assert "Integrita Strutturale" in reference(ENTRIES["bartolucci2020"])


def test_no_doi_stands_outside_the_bibliography() -> None:
    ours = [*ROOT.glob("materials/*"), *ROOT.glob("docs/*.md"), *ROOT.glob("cases/casefile/schema/*.py")]
    texts = [path for path in ours if path.suffix in {".py", ".csv", ".md"} and path.name != "evidence.md"]
    known = {fields["doi"] for fields in ENTRIES.values() if "doi" in fields}
    for path in texts:
        unknown = {doi.rstrip(".,;:)|") for doi in DOI.findall(path.read_text(encoding="utf-8"))} - known
        assert not unknown, f"{path.name}: {unknown}"


def test_a_row_from_a_publication_cites_it() -> None:
    """Seen, quoted and recalled values name an entry; the one exception is data without an author."""
    for row in all_rows():
        if row.mark in {"seen", "quoted", "memory"} and "weighed" not in row.source:
            assert CITATION.search(row.source), f"{row.key}: {row.source}"


def test_a_derivation_named_by_a_row_is_on_the_page() -> None:
    page = (ROOT / "tests" / "evidence_rows" / "derivations.md").read_text(encoding="utf-8")
    named = {int(n) for row in all_rows() for n in re.findall(r"derivation (\d+)", row.source)}
    assert named == {int(n) for n in re.findall(r"^(\d+)\. \*\*", page, re.MULTILINE)}


TRADE = re.compile(
    r"\b(forum|suppliers?|kit manual|factory|building log|newsletter|magazine|mailing list|calculator|"
    r"solution page|tension guide|maker's (notes|sheet)|public page|statistics package)\b",
    re.IGNORECASE,
)


def test_nothing_rests_on_a_page_of_the_trade() -> None:
    """Sources are standards, handbooks, papers and open data; what has none is common practice or assumed."""
    folders = ("materials", "cases/library", "cases/casefile/schema", "docs", "tests/evidence_rows")
    for folder in folders:
        for path in (ROOT / folder).iterdir():
            if path.suffix in {".py", ".toml", ".csv", ".md"} and path.name != "changelog.md":
                found = TRADE.search(path.read_text(encoding="utf-8").replace("default_factory", ""))
                assert not found, f"{path.name}: {found and found[0]}"

"""Where cases are found, how they are written, and the workshop's settings."""

import os
from pathlib import Path

import pytest

from cases.casefile.errors import CaseError
from cases.casefile.files import LIBRARY, find, library_names, load, loads, save, workshop_names
from cases.casefile.new_case import case_path, new_case
from cases.casefile.reference_page import case_file_page
from cases.casefile.workshop import Workshop, load_workshop
from tests.test_case_schema import TWELVE

FIRST = "fourteen-mahogany"


def make_workshop(folder: Path, text: str = "") -> Workshop:
    (folder / "guitars").mkdir(exist_ok=True)
    path = folder / "workshop.toml"
    path.write_text('cases_folder = "guitars"\n' + text, encoding="utf-8")
    return load_workshop(path)


def test_path_then_workshop_then_library(tmp_path: Path) -> None:
    workshop = make_workshop(tmp_path)
    own = tmp_path / "guitars" / "mine.toml"
    own.write_text((LIBRARY / f"{FIRST}.toml").read_text().replace(f'"{FIRST}"', '"mine"', 1))
    elsewhere = tmp_path / "other.toml"
    elsewhere.write_text(own.read_text())
    assert find("mine", workshop=workshop) == own
    assert find(FIRST, workshop=workshop) == LIBRARY / f"{FIRST}.toml"
    assert find(elsewhere, workshop=workshop) == elsewhere
    assert workshop_names(workshop) == ("mine",)
    assert load("mine", workshop=workshop).sha256 == load(elsewhere).sha256
    twin = tmp_path / "guitars" / f"{FIRST}.toml"
    twin.write_text((LIBRARY / f"{FIRST}.toml").read_text())
    with pytest.raises(CaseError) as caught:
        load(FIRST, workshop=workshop)
    assert str(twin) in str(caught.value)
    assert str(LIBRARY / f"{FIRST}.toml") in str(caught.value)
    assert load(twin, workshop=workshop).sha256 == load(FIRST).sha256


@pytest.mark.parametrize(
    "name", ["fourteen-mahogny", "nowhere.toml", "", "../library/fourteen-mahogany", "*"]
)
def test_no_such_case(name: str) -> None:
    with pytest.raises(CaseError, match="there is no such"):
        load(name)


def test_what_is_there_but_no_case_by_this_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mine.toml").touch()
    Path("folder.toml").mkdir()
    Path("long.toml").write_bytes(b"#" * 1_000_001)
    for name, words in (
        ("mine", r"write mine\.toml"),
        ("folder.toml", "not a file"),
        ("long.toml", "too long"),
    ):
        with pytest.raises(CaseError, match=words):
            load(name)


def test_a_folder_that_may_not_be_read_is_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    stat = os.stat

    def refuse(path: object, **options: object) -> object:
        if path == "locked/mine.toml":
            raise PermissionError(13, "Permission denied", path)
        return stat(path, **options)  # type: ignore[arg-type]

    monkeypatch.setattr("cases.casefile.files.os.stat", refuse)
    with pytest.raises(CaseError, match="its folder cannot be read"):
        load("locked/mine.toml")


def test_name_defaults_to_the_file(tmp_path: Path) -> None:
    path = tmp_path / "no-name.toml"
    path.write_text((LIBRARY / f"{FIRST}.toml").read_text().replace(f'name = "{FIRST}"\n', "", 1))
    assert load(path).name == "no-name"


def test_save_never_overwrites_unasked(tmp_path: Path) -> None:
    case = load(FIRST).with_values({"heel.height_mm": 93.0})
    path = save(case, tmp_path / "a.toml")
    assert load(path).sha256 == case.sha256
    with pytest.raises(CaseError, match="exists already"):
        save(load(FIRST), path)
    assert load(path).sha256 == case.sha256
    assert load(save(load(FIRST), path, overwrite=True)).sha256 == load(FIRST).sha256
    with pytest.raises(CaseError, match=r"\.toml"):
        save(case, tmp_path / "a.txt")
    with pytest.raises(CaseError, match="cannot be written"):
        save(case, tmp_path / "nowhere" / "a.toml")


@pytest.mark.parametrize("name", library_names())
def test_new_case_means_the_same_and_names_every_key(name: str) -> None:
    like = load(name)
    text = new_case("mine", like=like, every=True)
    made = loads(text)
    assert made.name == "mine"
    expected = {**dict(like.items()), "name": "mine"}
    assert dict(made.items()) == expected
    assert made.given == like.given
    for path in expected:
        assert f"{path.split('.')[-1]} =" in text, path
    assert max(map(len, text.splitlines())) < 130


def test_a_new_case_is_not_released_and_its_comments_are_right() -> None:
    released = 'revision = "B"\nreleased_by = "bench"\n[instrument]'
    like = loads(load(FIRST).to_toml().replace("[instrument]", released, 1))
    text = new_case("mine", like=like, every=True)
    made = loads(text)
    assert (made.revision, made.released_by) == (None, None)
    uncommented = text.replace("# nut_factor_scatter = 0.3", "nut_factor_scatter = 0.3")
    assert uncommented != text
    assert loads(uncommented).sha256 == made.sha256
    assert "# [[bolts]]" in new_case("bare", like=loads(TWELVE), every=True)
    assert loads(new_case("mine", like=like)).revision is None


@pytest.mark.parametrize("name", ["", "a/b", "..", "x" * 61, "a b"])
def test_a_new_case_needs_a_name_that_files_can_have(name: str, tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="cannot be the name of a case"):
        case_path(name, tmp_path)


def test_workshop_stock_and_tolerance_stand_in(tmp_path: Path) -> None:
    workshop = make_workshop(tmp_path, "[stock]\nlist_deg = [-0.2, 0.2]\n[tolerance]\naction_mm = 0.25\n")
    text = (LIBRARY / f"{FIRST}.toml").read_text()
    bare = text[: text.index("[stock]")]
    with pytest.raises(CaseError, match="shim stock is missing"):
        loads(bare)
    case = loads(bare, workshop=workshop)
    assert case.stock.angles_deg() == (-0.2, 0.2)
    assert case.tolerance.action_mm == 0.25
    assert case.tolerance.reading_mm == 0.05
    assert "stock.list_deg" not in case.given
    sources = {path: source for path, _, source in case.assumed()}
    assert sources["stock.list_deg"] == sources["tolerance.action_mm"] == "the workshop's settings"
    own = loads(text, workshop=workshop)
    assert own.stock.angles_deg()[0] == -0.4
    assert loads(case.to_toml()).sha256 == case.sha256
    changed = case.with_values({"stock.list_deg": (0.0, 0.1)})
    assert changed.stock.angles_deg() == (0.0, 0.1)
    assert changed.tolerance.action_mm == 0.25


def test_workshop_is_found_in_the_current_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        "cases.casefile.workshop.user_workshop_path", lambda: tmp_path / "user" / "workshop.toml"
    )
    assert load_workshop() == Workshop()
    assert load_workshop().path is None
    (tmp_path / "user").mkdir()
    (tmp_path / "user" / "workshop.toml").write_text('units = "inch"\n')
    assert load_workshop().units == "inch"
    (tmp_path / "workshop.toml").write_text("paper_thickness_mm = 0.09\n")
    here = load_workshop()
    assert (here.units, here.paper_thickness_mm, here.path) == ("metric", 0.09, Path("workshop.toml"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('units = "imperial"', "metric"),
        ("paper_thickness_mm = 0.004", "inches"),
        ("known_offset_deg = -7", "-2 to 2 degrees"),
        ('known_case = "x"', "known_offset_deg"),
        ("[stock]\nfrom_deg = -0.2\nto_deg = 0.2", "step_deg"),
        ("[stock]\nstep = 0.1", "step_deg"),
        ("[tolerance]\naction = 0.1", "action_mm"),
        ("[tolerance]\naction_mm = 150.0", "0.01 to 2"),
        ("units = [", "line"),
    ],
)
def test_wrong_workshop(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(CaseError) as caught:
        make_workshop(tmp_path, text)
    for sentence in caught.value.problems:
        assert "; allowed: " in sentence
        assert sentence.endswith(".")
    assert words in str(caught.value)


def test_the_page_of_keys_has_those_of_the_workshop_and_its_example_loads(tmp_path: Path) -> None:
    page = case_file_page().partition("## workshop.toml")[2]
    for key in Workshop.model_fields:
        assert f"`{key}`" in page or f"`[{key}]`" in page, key
    (tmp_path / "guitars").mkdir()
    (tmp_path / "workshop.toml").write_text(page.split("```toml\n")[1].split("```")[0])
    assert load_workshop(tmp_path / "workshop.toml").units == "inch"


def test_a_workshop_file_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text('cases_folder = "none"')
    for path, words in (
        (tmp_path / "none.toml", "there is no such file"),
        (tmp_path / "workshop.toml", "there is no such folder"),
        (LIBRARY / f"{FIRST}.toml", "this is a case, not a workshop's settings"),
    ):
        with pytest.raises(CaseError, match=words) as caught:
            load_workshop(path)
        assert len(caught.value.problems) == 1

"""Calibration files: one sentence for each error of the content or the path."""

from pathlib import Path

import numpy as np
import pytest

from cases import load
from cases.casefile.errors import CaseError
from cases.offset.calibration import KINK_BIAS, Calibration, calibration_of
from cases.offset.calibration_file import load_calibration, save_calibration
from tests.benches import START
from tests.command import refused


def made(**means: float) -> Calibration:
    """A calibration with these means, of a kink bias where none is given."""
    means = {name.replace("__", "."): value for name, value in means.items()} or {KINK_BIAS: 0.02}
    return calibration_of(
        "shop", created=START, rows=["x"], parameters=list(means), mean=list(means.values()),
        covariance=np.diag([1e-4] * len(means)), valid_for={"case": "fourteen-mahogany"},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("model.kink_bias_deg", "model.wind_deg", "not known"),
        ("0.02,", "0.02,\n    0.03,", "2 numbers for 1"),
        ("0.0001", "-0.0001", "positive"),
        ('kind = "shop"', 'kind = "guess"', "kind"),
        ("format = 1", "format = 7", "format"),
    ],
)
def test_a_damaged_file_is_refused_in_a_sentence(tmp_path: Path, old: str, new: str, said: str):
    text = made().to_toml()
    assert old in text
    (tmp_path / "bad.toml").write_text(text.replace(old, new, 1))
    with pytest.raises(CaseError, match=said):
        load_calibration(tmp_path / "bad.toml")


@pytest.mark.parametrize(
    ("text", "holds"),
    [(load("fourteen-mahogany").to_toml(), "it begins with name"), ("# x\n", "it is empty")],
)
def test_a_file_that_is_no_calibration_gets_one_sentence(tmp_path: Path, text: str, holds: str):
    (tmp_path / "other.toml").write_text(text)
    with pytest.raises(CaseError, match=f"this is no calibration .{holds}") as caught:
        load_calibration(tmp_path / "other.toml")
    assert len(caught.value.problems) == 1
    assert "make one with `neckpreload calibrate shop`" in str(caught.value)


def test_a_file_with_a_wood_that_is_none_is_refused(tmp_path: Path):
    assert load_calibration(save_calibration(made(neck__e_l_gpa=9.5), tmp_path / "good.toml"))
    path = save_calibration(made(neck__e_l_gpa=0.49), tmp_path / "n.toml")
    with pytest.raises(CaseError, match=r"neck.e_l_gpa = 0.49 fits no wood; allowed are 3 to 30"):
        load_calibration(path)


@pytest.mark.parametrize(
    "command",
    [
        ("shop", "fourteen-mahogany", "--log", "none.sqlite"),
        ("known", "fourteen-mahogany", "--offset", "-0.16", "--guitars", "40"),
        ("neck", "fourteen-mahogany", "--first=15mm", "--last=290mm", "--load=1mm", "--dial=1mm",
         "--mass-kg=1", "--moved=1mm"),
        ("blank", "--wood", "mahogany-honduran"),
    ],
)  # fmt: skip
def test_a_place_that_cannot_be_written_is_told_before_any_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "calibration.toml").write_text("mine")
    for more, words in (
        ([], "give another name with --out, or --replace"),
        (["--out", "a.txt"], "ends in .toml"),
        (["--out", "no/a.toml"], "make the folder first"),
    ):
        assert words in refused("calibrate", *command, *more)
    assert (tmp_path / "calibration.toml").read_text() == "mine"

import re
from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from cases.cli import app

DOCS = Path(__file__).parent.parent / "docs"
PAGE = (DOCS / "gallery.md").read_text(encoding="utf-8")
LARGEST_BYTES = 450_000
"""A page of five pictures stays below two megabytes."""


def test_the_pages_command_makes_the_pages_pictures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    commands = re.findall(r"^\$ neckpreload (.*)$", PAGE, flags=re.MULTILINE)
    assert len(commands) == 1
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(app, commands[0].split())
    assert result.exit_code == 0, result.output
    made = {f"figures/{path.name}": path for path in (tmp_path / "docs" / "figures").iterdir()}
    shown = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", PAGE)
    assert sorted(shown) == sorted(made)
    for name, path in made.items():
        with Image.open(path) as fresh, Image.open(DOCS / name) as kept:
            assert fresh.format == kept.format
            # the height of a picture follows from the neck's outline
            assert fresh.width == kept.width
            assert abs(fresh.height - kept.height) <= 3
        assert (DOCS / name).stat().st_size < LARGEST_BYTES
    assert result.output.count("written:") == len(made)

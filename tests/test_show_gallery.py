import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from cases.cli import app
from cases.show import style
from cases.studies.up_to_pitch import ROD_STEPS, TENSION_STEPS

DOCS = Path(__file__).parent.parent / "docs"
PAGE = (DOCS / "gallery.md").read_text(encoding="utf-8")
LARGEST_BYTES = 450_000
"""A page of six pictures stays below two megabytes."""


@pytest.mark.full
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
        if path.suffix == ".png":
            with Image.open(path) as fresh:
                assert fresh.width == 11 * style.DOTS_PER_INCH
                assert np.ptp(np.asarray(fresh.convert("L"))) > 200
    assert result.output.count("written:") == len(made)
    with Image.open(next(path for name, path in made.items() if name.endswith(".gif"))) as moving:
        # the first picture stays: equal frames are merged into a longer one
        assert moving.n_frames >= 1 + TENSION_STEPS + ROD_STEPS
        first = np.asarray(moving.convert("L"), dtype=int)
        moving.seek(TENSION_STEPS)
        assert np.abs(np.asarray(moving.convert("L"), dtype=int) - first).max() > 100

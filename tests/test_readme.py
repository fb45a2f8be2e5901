"""What the README shows is what the program prints."""

import re
import subprocess
import sys
from pathlib import Path

from cases import load, preload
from tests.pages import NUMBER

README = Path(__file__).parent.parent / "README.md"


def test_the_example_s_output_is_the_command_s() -> None:
    block = re.search(
        r"```console\n\$ neckpreload (.*?)\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL
    )
    assert block is not None
    done = subprocess.run(
        [sys.executable, "-m", "cases.cli", *block[1].split()],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    shown, printed = block[2].rstrip().splitlines(), done.stdout.rstrip().splitlines()
    assert len(shown) == len(printed)
    for here, there in zip(shown, printed, strict=True):
        assert NUMBER.sub("#", here) == NUMBER.sub("#", there)
        for a, b in zip(NUMBER.findall(here), NUMBER.findall(there), strict=True):
            # one unit of the last digit shown: another linear algebra library may round the other way
            digits = len(a.split(".")[1]) if "." in a else 0
            assert abs(float(a) - float(b)) <= 1.01 * 10.0**-digits, (here, there)


def test_the_library_call_shown_works() -> None:
    text = README.read_text(encoding="utf-8")
    assert "from cases import load, preload" in text
    assert preload(load("fourteen-mahogany"), effects=False).preload_offset_deg < 0.0

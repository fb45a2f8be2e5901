"""Run the outside program on the decks and keep what it says.

python -m tests.reference.solid_run              # all, about an hour on one processor
python -m tests.reference.solid_run twelve flat  # one instrument
"""

import hashlib
import itertools
import json
import math
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tests.reference.by_plate import Crowns
from tests.reference.instruments import Instrument, computed, inputs, instrument, instruments
from tests.reference.solid_joint import bonded_deck, contact_deck
from tests.reference.solid_mesh import Fineness

STORED = Path(__file__).with_name("results.json")
MM = 1e-3
VARIANTS = ("tied", "contact", "bonded", "friction", "even", "even-friction")
LINEAR = ("tied", "bonded")
MESHES = {
    **{name: {"fine": Fineness(3, 20.0, 1.0), "rough": Fineness(2, 25.0, 1.5)} for name in VARIANTS},
    "tied": {"fine": Fineness(5, 12.0, 0.6), "rough": Fineness(3, 20.0, 1.0)},
}
"""Two meshes a variant: the fine one is the reference, the rough one shows how far it has converged."""
NUMBER = re.compile(r"[-+]?\d\.\d+e[-+]\d+")
LEAST = 1e-7
"""Numbers of a deck below this are rounding: the smallest that counts is a thousand times as large."""
ODD = 0.381966
"""Where the steps of a rounded number begin, in parts of one."""


def digest(text: str) -> str:
    """Short fingerprint of a deck, its numbers to six digits: processors round the last ones differently.

    Steps begin at odd places, so that a round number never lies on the edge of one.
    """
    return hashlib.sha256(NUMBER.sub(_rounded, text).encode("ascii")).hexdigest()[:16]


def _rounded(found: re.Match[str]) -> str:
    value = float(found[0])
    if abs(value) < LEAST:
        return "0"
    power = math.floor(math.log10(abs(value)) + ODD)
    return f"{math.floor(value / 10.0 ** (power - 6) + ODD)}e{power}"


def program() -> tuple[str, str]:
    """Path and version of the outside program; RuntimeError if it is missing."""
    path = shutil.which("ccx")
    if path is None:
        raise RuntimeError("the program ccx is not installed; install CalculiX to rerun this reference")
    said = subprocess.run([path, "-v"], capture_output=True, text=True, check=False).stdout
    found = re.search(r"\d[\d.]+", said)
    return path, found.group() if found else "unknown"


def printed_by_program(text: str) -> tuple[str, str]:
    """What the program prints to its table of a deck, empty if it wrote none, and to the screen."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "neck.inp").write_text(text, encoding="ascii")
        done = subprocess.run([program()[0], "neck"], cwd=folder, capture_output=True, text=True, check=False)
        printed = Path(folder, "neck.dat")
        return printed.read_text(encoding="ascii") if printed.exists() else "", done.stdout


def run(text: str, read: list[int], *, steps: int) -> list[Crowns]:
    """States at the end of each step; RuntimeError if the program prints no state for a step."""
    printed, said = printed_by_program(text)
    tables, states = _tables(printed), []
    for step in range(1, steps + 1):
        if len(tables.get(float(step), {})) != len(read):
            raise RuntimeError("ccx did not finish; the end of its output:\n" + said[-2000:])
        rise = np.array([tables[float(step)][node] for node in read]) * MM
        states.append(Crowns(rise[1:], float(rise[0])))
    return states


def _tables(printed: str) -> dict[float, dict[int, float]]:
    """u_z by node, for each printed time."""
    tables: dict[float, dict[int, float]] = {}
    now: dict[int, float] = {}
    for line in printed.splitlines():
        time = re.search(r"time\s+(\S+)", line)
        if time:
            now = tables.setdefault(round(float(time.group(1)), 6), {})
        elif len(parts := line.split()) == 4:
            now[int(parts[0])] = float(parts[3])
    return tables


Deck = tuple[str, list[int]]


def friction_of(variant: str) -> float:
    """Friction of the joint's faces."""
    return float(inputs()["friction"]) if variant.endswith("friction") else 0.0


def decks(one: Instrument, variant: str, mesh: str) -> dict[float, Deck]:
    """Decks of a variant by the angle of the lower shim [deg]."""
    fine = MESHES[variant][mesh]
    if variant in LINEAR:
        return {0.0: bonded_deck(one, fine, on_block=variant == "bonded")}
    even = variant.startswith("even")
    return {
        angle: contact_deck(one, fine, shim_deg=angle, friction=friction_of(variant), even=even)
        for angle in (0.0, float(inputs()["shim_step_deg"]))
    }


def solved(written: dict[float, Deck], *, steps: int) -> dict[str, Any]:
    """The outside program's states: u_z of the crowns, then of the nut, as text [micrometres]."""
    found: dict[str, Any] = {"moves_um": {}, "deck_sha256": {}}
    for angle, deck in written.items():
        found["moves_um"][str(angle)] = [
            " ".join(f"{1e6 * move:.4f}" for move in (*state.crowns, state.nut))
            for state in run(*deck, steps=steps)
        ]
        found["deck_sha256"][str(angle)] = digest(deck[0])
    return found


def states(found: dict[str, Any]) -> dict[float, list[Crowns]]:
    """Stored states by angle of the lower shim [deg]."""
    read: dict[float, list[Crowns]] = {}
    for angle, texts in found["moves_um"].items():
        moves = [1e-6 * np.array(text.split(), dtype=float) for text in texts]
        read[float(angle)] = [Crowns(move[:-1], float(move[-1])) for move in moves]
    return read


def stored() -> dict[str, Any]:
    """What the program gave when it was last run."""
    return dict(json.loads(STORED.read_text(encoding="utf-8"))) if STORED.exists() else {"runs": {}}


def cases(wanted: set[str]) -> Iterator[tuple[str, str, str, str]]:
    """Variant, geometry, cut and mesh of all runs that hold every wanted word."""
    every = itertools.product(VARIANTS, instruments(), ("rough", "fine"))
    kept = ((variant, name, cut, mesh) for variant, (name, cut), mesh in every if computed(name, variant))
    return (case for case in kept if wanted <= set(case))


def _kept(content: dict[str, Any], name: str, cut: str, variant: str) -> Any:
    """Runs of one instrument in one joint, by mesh."""
    return content["runs"].setdefault(f"{name} {cut}", {}).setdefault(variant, {})


def main(arguments: Sequence[str] | None = None) -> int:
    """Run and store what is named, by geometry, cut, variant or mesh, and has changed since."""
    for variant, name, cut, mesh in cases(set(sys.argv[1:] if arguments is None else arguments)):
        written = decks(instrument(name, cut), variant, mesh)
        given = {str(angle): digest(deck[0]) for angle, deck in written.items()}
        if _kept(stored(), name, cut, variant).get(mesh, {}).get("deck_sha256") == given:
            continue
        found = solved(written, steps=1 if variant in LINEAR else 2)
        content = stored() | {"program": "CalculiX", "version": program()[1]}
        _kept(content, name, cut, variant)[mesh] = found
        STORED.write_text(json.dumps(content, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        print(name, cut, variant, mesh, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

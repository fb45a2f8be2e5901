"""Run the outside program on the decks and keep what it says.

python -m tests.reference.solid_run              # all, about an hour on one processor
python -m tests.reference.solid_run twelve flat  # one instrument
"""

import hashlib
import json
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tests.reference.by_plate import Crowns, fret_line
from tests.reference.instruments import Instrument, inputs, instrument
from tests.reference.readings import of_bonded, of_contact
from tests.reference.solid_deck import bonded_deck, contact_deck
from tests.reference.solid_mesh import Fineness

STORED = Path(__file__).with_name("results.json")
MM = 1e-3
VARIANTS = ("tied", "contact", "bonded")
MESHES = {
    "tied": {"fine": Fineness(5, 12.0, 0.6), "rough": Fineness(3, 20.0, 1.0)},
    "contact": {"fine": Fineness(3, 20.0, 1.0), "rough": Fineness(2, 25.0, 1.5)},
    "bonded": {"fine": Fineness(3, 20.0, 1.0), "rough": Fineness(2, 25.0, 1.5)},
}
"""Two meshes a variant: the fine one is the reference, the rough one shows how far it has converged."""


def digest(text: str) -> str:
    """Short fingerprint of a deck."""
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:16]


def program() -> tuple[str, str]:
    """Path and version of the outside program.

    Raises
    ------
    RuntimeError
        If it is missing.
    """
    path = shutil.which("ccx")
    if path is None:
        raise RuntimeError("the program ccx is not installed; install CalculiX to rerun this reference")
    said = subprocess.run([path, "-v"], capture_output=True, text=True, check=False).stdout
    found = re.search(r"\d[\d.]+", said)
    return path, found.group() if found else "unknown"


def run(text: str, read: list[int], *, steps: int) -> list[Crowns]:
    """States at the end of each step.

    Raises
    ------
    RuntimeError
        If the program prints no state for a step.
    """
    path, _ = program()
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "neck.inp").write_text(text, encoding="ascii")
        done = subprocess.run([path, "neck"], cwd=folder, capture_output=True, text=True, check=False)
        printed = Path(folder, "neck.dat")
        tables = _tables(printed.read_text(encoding="ascii")) if printed.exists() else {}
    states = []
    for step in range(1, steps + 1):
        if float(step) not in tables or len(tables[float(step)]) != len(read):
            raise RuntimeError("ccx did not finish; the end of its output:\n" + done.stdout[-2000:])
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


def decks(one: Instrument, variant: str, mesh: str) -> dict[float, Deck]:
    """Decks of a variant by the angle of the lower shim [deg]."""
    fine = MESHES[variant][mesh]
    if variant == "contact":
        angles = (0.0, float(inputs()["shim_step_deg"]))
        return {angle: contact_deck(one, fine, shim_deg=angle) for angle in angles}
    return {0.0: bonded_deck(one, fine, on_block=variant == "bonded")}


def solved(one: Instrument, variant: str, mesh: str) -> dict[str, Any]:
    """Readings of the outside program, and the fingerprint of what it was given."""
    written = decks(one, variant, mesh)
    steps = 2 if variant == "contact" else 1
    states = {angle: run(*deck, steps=steps) for angle, deck in written.items()}
    line = fret_line(one.structure)
    if variant == "contact":
        readings = of_contact(line, {angle: (two[0], two[1]) for angle, two in states.items()})
    else:
        readings = of_bonded(line, states[0.0][0])
    crowns = {
        str(angle): [np.round(1e6 * state.crowns, 4).tolist() for state in found]
        for angle, found in states.items()
    }
    return {
        "readings": readings,
        "crowns_um": crowns,
        "deck_sha256": {str(angle): digest(deck[0]) for angle, deck in written.items()},
    }


def stored() -> dict[str, Any]:
    """What the program gave when it was last run."""
    return dict(json.loads(STORED.read_text(encoding="utf-8"))) if STORED.exists() else {"runs": {}}


def main(arguments: Sequence[str] | None = None, *, solve: Callable[..., dict[str, Any]] = solved) -> int:
    """Run and store; what is named, by geometry, cut, variant or mesh, alone."""
    wanted = set(sys.argv[1:] if arguments is None else arguments)
    for variant in VARIANTS:
        for name in inputs()["geometries"]:
            for cut in inputs()["cuts"]:
                for mesh in ("rough", "fine"):
                    if not wanted <= {variant, name, cut, mesh}:
                        continue
                    found = solve(instrument(name, cut), variant, mesh)
                    content = stored()
                    content |= {"program": "CalculiX", "version": program()[1]}
                    content["runs"].setdefault(f"{name} {cut}", {}).setdefault(variant, {})[mesh] = found
                    STORED.write_text(json.dumps(content, indent=1, sort_keys=True) + "\n", encoding="utf-8")
                    print(name, cut, variant, mesh, found["readings"], flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

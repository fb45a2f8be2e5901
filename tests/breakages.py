"""Formulas to break one at a time, each with the tests that must notice (run by `tests.mutations`)."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Breakage:
    """One breakage: ``old``, which ``file`` contains exactly once, is replaced by ``new``.

    ``tests`` are the test files that must notice, in the order in which they run.
    """

    what: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]

    def applied(self, root: Path) -> None:
        """Change the copy under ``root``.

        Raises
        ------
        LookupError
            If the file does not contain the text exactly once, since the formula was rewritten.
        """
        path = root / self.file
        text = path.read_text(encoding="utf-8")
        if text.count(self.old) != 1:
            raise LookupError(
                f"'{self.what}': {self.file} contains {self.old!r} {text.count(self.old)} times, not once; "
                "give the breakage the formula's new text"
            )
        path.write_text(text.replace(self.old, self.new), encoding="utf-8")


BEAM, RELATIONS, TIE = ("tests/test_beam.py",), ("tests/test_relations.py",), ("tests/test_tie.py",)
EVIDENCE = "tests/test_evidence.py::test_row_is_within_its_tolerance"
LAYER, ROD, BOLT = ("tests/test_shim_layer.py",), ("tests/test_rod.py",), ("tests/test_bolt.py",)
INDENTATION = ("tests/test_local_indentation.py",)

BREAKAGES = (
    Breakage(
        "sign of ES in the axial force",
        "fem/members/beam.py",
        "force = ea * at.stretch - es * at.bend",
        "force = ea * at.stretch + es * at.bend",
        BEAM,
    ),
    Breakage(
        "shear left out of the beam",
        "fem/members/beam.py",
        "kga(at.x)[..., None] * at.shear",
        "1e4 * kga(at.x)[..., None] * at.shear",
        BEAM,
    ),
    Breakage(
        "sign of N w'^2",
        "fem/solve/equilibrium.py",
        "stiffness = -strings.tension * step.T",
        "stiffness = strings.tension * step.T",
        ("tests/test_beam.py", "tests/test_relations.py"),
    ),
    Breakage(
        "string keeps its direction instead of aiming at the saddle",
        "fem/solve/equilibrium.py",
        "    stiffness[0, 0] += strings.tension / strings.saddle\n",
        "",
        ("tests/test_beam.py", "tests/test_relations.py"),
    ),
    Breakage(
        "sign of the kink",
        "fem/geometry/fret_line.py",
        "return self.slope_row(self.tongue) - self.slope_row(self.shaft)",
        "return self.slope_row(self.shaft) - self.slope_row(self.tongue)",
        ("tests/test_preload.py", "tests/test_relations.py"),
    ),
    Breakage(
        "contact made bilateral",
        "fem/joint/shim_layer.py",
        "closed = squeeze > 0.0",
        "closed = squeeze > -np.inf",
        LAYER,
    ),
    Breakage(
        "sign of the interference",
        "fem/joint/shim_layer.py",
        "squeeze = law.interference - opening",
        "squeeze = -law.interference - opening",
        LAYER,
    ),
    Breakage(
        "friction without its limit",
        "fem/joint/shim_layer.py",
        "slipping = np.abs(trial) > most",
        "slipping = np.zeros_like(closed)",
        LAYER,
    ),
    Breakage(
        "surface compliance left out of the layer",
        "fem/joint/shim_layer.py",
        "thickness / pad.young + pad.compliance",
        "thickness / pad.young + 0.0 * pad.compliance",
        (*LAYER, *RELATIONS),
    ),
    Breakage(
        "thick end of the shim at the wrong edge",
        "fem/joint/shim_layer.py",
        'sign = 1.0 if pad.face == "heel" else -1.0',
        'sign = 1.0 if pad.face == "tongue" else -1.0',
        LAYER,
    ),
    Breakage(
        "bolt step skipped: slip counted from the loose joint",
        "fem/solve/equilibrium.py",
        'stuck_at=bolted.displacements[at["slip"]],',
        'stuck_at=0.0 * bolted.displacements[at["slip"]],',
        (*BOLT, *RELATIONS, "tests/test_preload.py"),
    ),
    Breakage(
        "bolts locked without counting what tightening stretched",
        "fem/solve/equilibrium.py",
        'locked=bolting.bolt_tension - bolting.bolt_stiffness * bolted.displacements[at["bolt"]],',
        "locked=bolting.bolt_tension,",
        (*BOLT, *RELATIONS, "tests/test_preload.py"),
    ),
    Breakage(
        "bolt's area from its diameter as radius",
        "fem/joint/bolt.py",
        "bolt.young * 0.25 * np.pi * bolt.diameter**2",
        "bolt.young * np.pi * bolt.diameter**2",
        (*BOLT, EVIDENCE),
    ),
    Breakage(
        "sign of the rod",
        "fem/solve/equilibrium.py",
        'load[at["rod"]] = -wanted.rod',
        'load[at["rod"]] = wanted.rod',
        (*RELATIONS, *ROD),
    ),
    Breakage(
        "shear weights of the tie made even",
        "fem/members/tie.py",
        "return weight * above / np.sum(weight * above)",
        "return weight / np.sum(weight)",
        TIE,
    ),
    Breakage(
        "depth of the tie not turned by the beam",
        "fem/members/tie.py",
        "np.ones(len(on_tie)), -z_tie, mean.data",
        "np.ones(len(on_tie)), 0.0 * z_tie, mean.data",
        TIE,
    ),
    Breakage(
        "radial and tangential direction exchanged",
        "materials/orientation.py",
        "[0.0, math.sin(ring), math.cos(ring)]",
        "[0.0, math.cos(ring), math.sin(ring)]",
        ("tests/test_materials_orientation.py",),
    ),
    Breakage(
        "E_L without the 1.10 over the bending modulus",
        "materials/wood.py",
        "SHEAR_DEFLECTION_FACTOR = 1.10",
        "SHEAR_DEFLECTION_FACTOR = 1.00",
        ("tests/test_materials_wood.py",),
    ),
    Breakage(
        "string length not doubled in T = mu (2 L f)^2",
        "materials/strings.py",
        "return linear_density * (2.0 * scale * frequency) ** 2",
        "return linear_density * (scale * frequency) ** 2",
        ("tests/test_materials_strings.py",),
    ),
    Breakage(
        "round back taken for a V",
        "fem/geometry/outline.py",
        "(1.0 - below**n) ** (1.0 / n)",
        "(1.0 - below)",
        ("tests/test_section.py", "tests/test_tie.py", EVIDENCE),
    ),
    Breakage(
        "thickness floor taken for a ceiling",
        "fem/solve/assembly.py",
        "np.maximum(width, structure.outline.thickness_floor)",
        "np.minimum(width, structure.outline.thickness_floor)",
        TIE,
    ),
    Breakage(
        "secant replaced by the linear estimate",
        "fem/solve/offset.py",
        "        if abs(miss_there) < 1e-11:\n",
        "        if count >= 2:\n",
        ("tests/test_preload.py", "tests/test_relations.py"),
    ),
    Breakage(
        "action moved by the whole fall at the saddle instead of half",
        "cases/bench/shims/geometry.py",
        "return self.share * fall",
        "return fall",
        ("tests/test_bench_pair.py",),
    ),
    Breakage(
        "indentation's waves counted once instead of twice",
        "fem/joint/local_indentation.py",
        "2.0 / width * np.sum(shares * kernels",
        "1.0 / width * np.sum(shares * kernels",
        INDENTATION,
    ),
    Breakage(
        "indentation's strip not clamped at its root: sign of the image",
        "fem/joint/local_indentation.py",
        "(free - image) / (4.0 * k[:, :, None] ** 3)",
        "(free + image) / (4.0 * k[:, :, None] ** 3)",
        INDENTATION,
    ),
    Breakage(
        "indentation into the wood and along its face exchanged",
        "fem/joint/local_indentation.py",
        "np.sqrt(self.into / self.along)",
        "np.sqrt(self.along / self.into)",
        INDENTATION,
    ),
    Breakage(
        "sign of the bow taken out of the kink",
        "fem/geometry/fret_line.py",
        "+ self.bow_part() * relief",
        "- self.bow_part() * relief",
        (
            "tests/test_relations.py::test_a_drawn_hump_is_a_negative_kink_and_a_drawn_hollow_a_positive_one",
            "tests/test_preload.py",
        ),
    ),
)

FROM_THEORY = (
    Breakage(
        "shim's thickness counted from its upper edge instead of its middle",
        "fem/joint/shim_layer.py",
        "sign * (s - 0.5 * (pad.start + pad.end))",
        "sign * (s - pad.start)",
        (*LAYER, *RELATIONS),
    ),
    Breakage(
        "slope of the rod left out of its change of length",
        "fem/members/beam.py",
        "+ lean * at.shear",
        "+ 0.0 * lean * at.shear",
        (*ROD, *BEAM),
    ),
    Breakage(
        "surface compliance left out along the face",
        "fem/joint/shim_layer.py",
        "thickness / pad.shear + pad.compliance",
        "thickness / pad.shear + 0.0 * pad.compliance",
        (*LAYER, *RELATIONS),
    ),
    Breakage(
        "washer's mean not weighted by its chord",
        "fem/joint/bolt.py",
        "chord = weights * np.sqrt(1.0 - nodes**2)",
        "chord = weights",
        (*BOLT, EVIDENCE),
    ),
    Breakage(
        "strings lift the nut by their height there instead of pressing it",
        "fem/solve/equilibrium.py",
        'load[at["nut w"]] = -strings.tension * strings.nut_height / strings.saddle',
        'load[at["nut w"]] = strings.tension * strings.nut_height / strings.saddle',
        RELATIONS,
    ),
)
"""Chosen from docs/theory.md before the tests of these formulas were read."""

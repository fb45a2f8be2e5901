"""Exported files read back with meshio alone: energy, forces and frets in them are the model's."""

from pathlib import Path

import meshio
import numpy as np
import pytest

from cases import load
from cases.offset.solve import Solved, solve
from cases.show.export import PARTS, export
from fem.solve.assembly import BUDGET
from fem.solve.equilibrium import State
from tests.command import Command

GAUSS_3, WEIGHT_3 = np.polynomial.legendre.leggauss(3)
GAUSS_4, WEIGHT_4 = np.polynomial.legendre.leggauss(4)
ON_PLATE = ("fretboard over the joint", "heel", "tongue", "block")


@pytest.fixture(scope="module")
def solved() -> Solved:
    # a sprung body turns everything rigidly: displacements that hold that turn must strain nothing more
    return solve(load("fourteen-mahogany").with_values({"body.stiffness_n_m_per_rad": 4000.0}))


@pytest.fixture(scope="module")
def folder(solved: Solved, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("export")
    export(solved, made)
    return made


def model_energy(solved: Solved, state: State, parts: tuple[str, ...]) -> float:
    """Strain energy of some parts of a state [N mm]."""
    energies = solved.fields.energies(state.forces, state.forces[:, None])
    return 0.5e3 * float(sum(energies[part][0] for part in parts))


def lagrange(at: float, nodes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Values and slopes at a point of the polynomials through each of some nodes."""
    values, slopes = [], []
    for k in range(len(nodes)):
        own = np.poly1d(np.poly(np.delete(nodes, k)) / np.prod(nodes[k] - np.delete(nodes, k)))
        values.append(own(at))
        slopes.append(own.deriv()(at))
    return np.array(values), np.array(slopes)


# VTK's biquadratic quadrilateral: corners anticlockwise, middles of sides 0-1, 1-2, 2-3, 3-0, the centre;
# pairs of (position along xi, position along eta) among -1, 0, 1
VTK_QUAD9 = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1), (1, 1)]


def quad9_slopes(xi: float, eta: float) -> np.ndarray:
    """Slopes of VTK's shape functions by xi and eta, (2, 9)."""
    nodes = np.array([-1.0, 0.0, 1.0])
    along, d_along = lagrange(xi, nodes)
    up, d_up = lagrange(eta, nodes)
    return np.array([[d_along[i] * up[j] for i, j in VTK_QUAD9], [along[i] * d_up[j] for i, j in VTK_QUAD9]])


def plate_energy(mesh: meshio.Mesh) -> float:
    """Strain energy from nodes, cells, displacement, moduli and thickness of a file [N mm]."""
    cells = mesh.cells_dict["quad9"]
    points, moved = mesh.points[:, :2], mesh.point_data["displacement_mm"][:, :2]
    moduli = mesh.cell_data_dict["moduli_mpa"]["quad9"].reshape(-1, 3, 3)
    thickness = mesh.cell_data_dict["thickness_mm"]["quad9"]
    total = 0.0
    for i, xi in enumerate(GAUSS_3):
        for j, eta in enumerate(GAUSS_3):
            slopes = quad9_slopes(xi, eta)
            jacobian = np.einsum("an,cnk->cak", slopes, points[cells])
            gradient = np.linalg.solve(jacobian, np.einsum("an,cnk->cak", slopes, moved[cells]))
            strain = np.stack(
                [gradient[:, 0, 0], gradient[:, 1, 1], gradient[:, 0, 1] + gradient[:, 1, 0]], 1
            )
            area = np.linalg.det(jacobian) * WEIGHT_3[i] * WEIGHT_3[j]
            density = 0.5 * np.einsum("ci,cij,cj->c", strain, moduli, strain)
            total += float(np.sum(area * thickness[:, 3 * i + j] * density))
    return total


def beam_energy(mesh: meshio.Mesh) -> float:
    """Strain energy of the shaft from a file: axial force, bending and shear with its own section [N mm]."""
    cells = mesh.cells_dict["line4"]
    data = {name: values["line4"] for name, values in mesh.cell_data_dict.items()}
    moved, turn = mesh.point_data["displacement_mm"], mesh.point_data["rotation_rad"]
    total = 0.0
    for k, xi in enumerate(GAUSS_4):
        values, slopes = lagrange(xi, np.array([-1.0, 1.0, -1.0 / 3.0, 1.0 / 3.0]))
        half = mesh.points[cells][:, :, 0] @ slopes
        stretch, rise = moved[cells][:, :, 0] @ slopes / half, moved[cells][:, :, 1] @ slopes / half
        bend, lean = turn[cells] @ slopes / half, rise - turn[cells] @ values
        density = (
            data["ea_n"][:, k] * stretch**2
            - 2.0 * data["es_n_mm"][:, k] * stretch * bend
            + data["ei_n_mm2"][:, k] * bend**2
            + data["kga_n"][:, k] * lean**2
        )
        total += float(np.sum(0.5 * WEIGHT_4[k] * half * density))
    return total


def yielding_energy(mesh: meshio.Mesh) -> float:
    """Work that pressure and drag have done on neck and block beyond their plates [N mm]."""
    data = mesh.point_data
    pushed = data["pressure_mpa"] * data["block_yields_mm"] + data["drag_mpa"] * data["block_yields_along_mm"]
    return 0.5 * float(np.sum(data["area_mm2"] * pushed))


def around_bolts(solved: Solved, state: State) -> float:
    """Work of the bolts on the wood around inserts and washers, which no file holds [N mm]."""
    plates, widening = solved.fields.plates, solved.fields.widening
    moved = plates.matrix @ (widening.plates @ state.forces)
    rows = solved.question.flexibility.at["bolt"]
    beyond = state.displacements[rows] - moved[plates.at["bolt"]]
    return -0.5e3 * float(state.bolts @ beyond)


@pytest.mark.parametrize("name", ["bolted", "strung"])
def test_the_energy_of_the_files_is_the_models(solved: Solved, folder: Path, name: str):
    """1e-6 relative: the files hold binary doubles, and the polynomials are the model's own."""
    state = getattr(solved.pair, name)
    plate, beam, shims = (meshio.read(folder / f"{name}-{body}.vtu") for body in ("plate", "beam", "shims"))
    rest = tuple(part for part in BUDGET if part not in ON_PLATE)
    held = plate_energy(plate) + yielding_energy(shims) + around_bolts(solved, state)
    assert held == pytest.approx(model_energy(solved, state, ON_PLATE), rel=1e-6)
    assert yielding_energy(shims) > 0.01 * held
    # bolted up the beam carries nothing: rounding of the whole is left
    assert beam_energy(beam) == pytest.approx(model_energy(solved, state, rest), rel=1e-6, abs=1e-9 * held)


def test_pressure_times_area_is_what_the_bolts_hold_and_the_faces_carry(solved: Solved, folder: Path):
    shims = meshio.read(folder / "bolted-shims.vtu").point_data
    force = shims["pressure_mpa"] * shims["area_mm2"]
    for number, face in ((1, "tongue"), (2, "heel")):
        bolts = sum(
            tension
            for bolt, tension in zip(solved.structure.bolts, solved.pair.bolted.bolts, strict=True)
            if bolt.face == face
        )
        # bolted up there is no friction: each face's pressure balances its own bolts, up to the stabiliser
        assert force[shims["shim_id"] == number].sum() == pytest.approx(bolts, rel=5e-3)
    plate = meshio.read(folder / "strung-plate.vtu")
    points, cells = plate.points, plate.cells_dict["quad9"]
    strung = meshio.read(folder / "strung-shims.vtu").point_data
    for number, pad in enumerate(solved.structure.pads, start=1):
        pressure = plate.cell_data_dict[f"contact_pressure_{pad.name}_mpa"]["quad9"]
        loaded = pressure != 0.0
        zc, xj = 1e3 * solved.structure.outline.corner[1], 1e3 * solved.structure.outline.joint
        axis = 0 if pad.face == "tongue" else 1
        level = np.array([xj, zc])[1 - axis]
        sides = points[cells[loaded][:, :4]]
        on_face = np.isclose(sides[:, :, 1 - axis], level, atol=1e-6)
        length = np.array([np.ptp(side[own, axis]) for side, own in zip(sides, on_face, strict=True)])
        own = strung["shim_id"] == number
        force = float((strung["pressure_mpa"] * strung["area_mm2"])[own].sum())
        # both bodies carry it
        carried = float((pressure[loaded] * length).sum()) * 1e3 * pad.bearing_width
        assert carried == pytest.approx(2.0 * force, rel=1e-9)


def test_forces_and_stress_are_those_of_a_neck_that_strings_bend_forward(solved: Solved, folder: Path):
    beam = meshio.read(folder / "strung-beam.vtu")
    moment = beam.cell_data_dict["bending_moment_n_mm"]["line4"]
    axial = beam.cell_data_dict["axial_force_n"]["line4"]
    ends = beam.points[beam.cells_dict["line4"][:, :2], 0]
    before_rod = ends.max(axis=1) < 1e3 * solved.structure.rod.first + 1e-6
    strings = solved.question.strings
    # ahead of the rod's first anchor the wood carries the strings alone
    assert before_rod.sum() == 1
    assert axial[before_rod].ravel() == pytest.approx(-strings.tension, rel=1e-3)
    assert moment[before_rod].max() == pytest.approx(1e3 * strings.tension * strings.nut_height, rel=0.02)
    assert axial[~before_rod].max() < -strings.tension - 0.9 * solved.pair.strung.rod
    plate = meshio.read(folder / "strung-plate.vtu")
    stress = plate.cell_data_dict["stress_mpa"]["quad9"]
    part = plate.cell_data_dict["part_id"]["quad9"]
    x = plate.points[plate.cells_dict["quad9"][:, 8]]
    first = (part == PARTS["board"]) & (x[:, 0] < 1e3 * solved.structure.outline.heel_start + 5.0)
    # forward bow presses the top of the fretboard together
    assert stress[first, 0].max() < 0.0


def test_frets_in_the_csv_are_the_models(solved: Solved, folder: Path):
    table = np.genfromtxt(folder / "fret-profile.csv", delimiter=",", names=True)
    question = solved.question
    assert table["x_mm"] == pytest.approx(1e3 * question.line.x, abs=1e-6)
    assert table["z_strung_mm"] == pytest.approx(1e3 * question.heights(solved.pair.strung), abs=1e-6)
    assert table["z_bolted_mm"] == pytest.approx(1e3 * question.heights(solved.pair.bolted), abs=1e-6)
    # the field moves the crowns alike: the board's top over fret 18, in the plate's file
    plate = meshio.read(folder / "strung-plate.vtu")
    top = np.isclose(plate.points[:, 1], 1e3 * solved.structure.outline.board_thickness)
    order = np.argsort(plate.points[top, 0])
    risen = np.interp(
        table["x_mm"][17], plate.points[top, 0][order], plate.point_data["displacement_mm"][top, 1][order]
    )
    assert risen == pytest.approx(table["z_strung_mm"][17], abs=2e-4)


def test_the_mesh_file_holds_four_named_parts(solved: Solved, folder: Path):
    mesh = meshio.read(folder / "mesh.msh")
    bodies = solved.fields.bodies
    assert set(mesh.field_data) == set(PARTS)
    group = mesh.cell_data_dict["gmsh:physical"]["quad"]
    counted = {name: int(np.sum(group == number)) for name, number in PARTS.items()}
    assert counted == {
        **{name: len(cells) for name, cells in bodies.parts.items()},
        "block": bodies.block.mesh.t.shape[1],
    }


def test_the_command_writes_every_file(
    solved: Solved, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Command
):
    monkeypatch.setattr("cases.offset.solve.solve", lambda case: solved)
    run = command("export", "fourteen-mahogany", "--out", "out")
    assert (run.code, run.err) == (0, "")
    written = {path.name for path in (tmp_path / "out").iterdir()}
    bodies = {f"{state}-{body}.vtu" for state in ("bolted", "strung") for body in ("plate", "beam", "shims")}
    assert written == bodies | {"mesh.msh", "fret-profile.csv"}
    (tmp_path / "blocked").write_text("a file")
    run = command("export", "fourteen-mahogany", "--out", "blocked")
    assert (run.code, "Traceback" in run.err) == (2, False)
    assert "--out blocked: the folder cannot be written" in run.err

"""A heel from a file: the same answer where it says what the curve says, one sentence where it is wrong."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest

from cases import load, preload
from cases.casefile.case import Case
from cases.casefile.errors import CaseError
from cases.casefile.files import loads
from cases.offset.answer import Answer
from cases.offset.build import outline_of, structure_of
from cases.offset.solve import COARSE, FINE, solve
from cases.show.export import group_mesh
from fem.errors import MeshError
from fem.geometry.outline import Outline
from fem.solve.assembly import bodies
from tests.command import Command

NAME = "fourteen-mahogany"


@pytest.fixture(scope="module")
def case() -> Case:
    return load(NAME)


@pytest.fixture(scope="module")
def parametric(case: Case) -> Answer:
    return preload(case, effects=False)


@pytest.fixture(scope="module")
def mesh_file(case: Case, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The program's own mesh, exported and standing beside a case."""
    path = tmp_path_factory.mktemp("mesh") / "neck.msh"
    group_mesh(solve(case)).write(path, file_format="gmsh22", binary=False)
    return path


def curve(case: Case, count: int) -> np.ndarray:
    """Points of the parametric heel, x from the heel start and depth, (count, 2) [mm]."""
    outline = outline_of(case)
    x = np.linspace(outline.heel_start, outline.joint, count)
    return 1e3 * np.column_stack([x - outline.heel_start, outline.depth(x)])


def written(path: Path, points: np.ndarray) -> Path:
    np.savetxt(path, points, delimiter=",", header="x_mm,depth_mm", comments="", fmt="%.5f")
    return path


def with_file(case: Case, key: str, path: Path) -> Case:
    return case.with_values({f"heel.{key}": str(path)})


def test_the_curve_given_as_points_gives_the_same_answer(case: Case, parametric: Answer, tmp_path: Path):
    """Within the mesh error that every answer states."""
    given = with_file(case, "outline_csv", written(tmp_path / "h.csv", curve(case, 32)))
    answer = preload(given, effects=False)
    error = parametric.checks.mesh_error_deg
    assert answer.preload_offset_deg == pytest.approx(parametric.preload_offset_deg, abs=error)
    assert answer.relief.rod_slack_mm == pytest.approx(parametric.relief.rod_slack_mm, rel=1e-3)


def test_a_deeper_heel_stretches_less(case: Case, parametric: Answer, tmp_path: Path):
    """The file is really used: wood added along the curve stiffens the heel."""
    points = curve(case, 32)
    x = points[:, 0] / points[-1, 0]
    points[:, 1] += 25.0 * np.sin(np.pi * x) * (points[:, 1] < points[-1, 1] - 1.0)
    points[:, 1] = np.minimum(np.maximum.accumulate(points[:, 1]), points[-1, 1])
    answer = preload(with_file(case, "outline_csv", written(tmp_path / "deep.csv", points)), effects=False)
    assert answer.heel_stretch_deg < 0.98 * parametric.heel_stretch_deg


def test_an_exported_mesh_comes_back_as_the_same_neck(case: Case, parametric: Answer, mesh_file: Path):
    """As it is, the file's mesh is the program's own; the answer is taken on cells half as large."""
    given = with_file(case, "mesh", mesh_file)
    own, read = bodies(structure_of(case), FINE), bodies(structure_of(given), COARSE)
    for name in ("neck", "block"):
        ours, theirs = getattr(own, name).mesh, getattr(read, name).mesh
        order = [np.lexsort(np.round(mesh.p, 9)) for mesh in (ours, theirs)]
        assert ours.p[:, order[0]] == pytest.approx(theirs.p[:, order[1]], abs=1e-12)
        assert ours.t.shape == theirs.t.shape
    answer = preload(given, effects=False)
    error = parametric.checks.mesh_error_deg
    assert answer.preload_offset_deg == pytest.approx(parametric.preload_offset_deg, abs=2.0 * error)
    # the two meshes of the run differ, so the stated error is one
    assert 0.0 < answer.checks.mesh_error_deg < error


def test_the_files_mesh_is_refined_and_its_node_order_does_not_matter(
    case: Case, mesh_file: Path, tmp_path: Path
):
    structure = structure_of(with_file(case, "mesh", mesh_file))
    fine, coarse = bodies(structure, FINE), bodies(structure, COARSE)
    assert {part: len(cells) for part, cells in fine.parts.items()} == {
        part: 4 * len(cells) for part, cells in coarse.parts.items()
    }
    z = fine.neck.mesh.p[1][fine.neck.mesh.t[:, fine.parts["board"]]]
    assert z.min() >= -1e-12
    mesh = meshio.read(mesh_file)
    turned = changed(mesh, cells=mesh.cells_dict["quad"][:, [1, 0, 3, 2]])
    clockwise = bodies(structure_of(with_file(case, "mesh", saved(turned, tmp_path))), COARSE)
    assert clockwise.neck.basis.dx.sum() == pytest.approx(coarse.neck.basis.dx.sum(), rel=1e-12)


def test_paths_start_at_the_case_file_and_the_digest_follows_the_content(case: Case, tmp_path: Path):
    folder = tmp_path / "neck"
    folder.mkdir()
    points = curve(case, 12)
    written(folder / "heel.csv", points)
    text = (case.text or "").replace("[heel]", '[heel]\noutline_csv = "heel.csv"')
    (folder / "mine.toml").write_text(text)
    mine = load(folder / "mine.toml")
    assert mine.heel_file is not None
    assert mine.with_values({"neck.wood": "maple-sugar"}).heel_file == mine.heel_file
    same = written(folder / "renamed.csv", points)
    assert mine.with_values({"heel.outline_csv": same.name}).sha256 == mine.sha256
    other = written(folder / "other.csv", np.add(points, [0.0, 0.1]))
    assert mine.with_values({"heel.outline_csv": other.name}).sha256 != mine.sha256
    with pytest.raises(CaseError, match=r"heel\.outline_csv.*cannot be read"):
        loads(text)


HEAD = "x_mm,depth_mm\n0,17.7\n"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("x,depth\n0,17\n62,95\n", r"line 1.*heading.*x_mm,depth_mm"),
        (HEAD + "", r"1 point;.*2 to"),
        (HEAD + "30,deep\n62,95\n", r"line 3.*not two numbers"),
        (HEAD + "30,nan\n62,95\n", r"line 3.*not finite"),
        (HEAD + "30,-40\n62,95\n", r"line 3.*not above zero"),
        (HEAD + "30,40\n30,50\n62,95\n", r"line 4.*beyond the previous point"),
        ("\x00\x01\x02", r"heading|not CSV"),
    ],
)
def test_a_wrong_outline_file_gets_one_sentence(case: Case, tmp_path: Path, content: str, sentence: str):
    path = tmp_path / "h.csv"
    path.write_text(content)
    with pytest.raises(CaseError, match=sentence):
        with_file(case, "outline_csv", path)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda p: np.add(p, [0.0, 6.35]), r"heel start is .* the shaft says .*without the fretboard"),
        (lambda p: np.add(p * [1.0, 0.0], [0.0, 17.78]), r"its end is 17.78 mm; heel.height_mm says 95.00"),
        (lambda p: np.add(p, [5.0, 0.0]), r"runs from x_mm = 5 to 67.*heel.start_mm"),
    ],
)
def test_an_outline_that_does_not_meet_its_neck_is_refused(
    case: Case, tmp_path: Path, change: Callable[[np.ndarray], np.ndarray], sentence: str
):
    path = written(tmp_path / "h.csv", change(curve(case, 20)))
    with pytest.raises(CaseError, match=sentence):
        outline_of(with_file(case, "outline_csv", path))


@pytest.mark.parametrize(
    ("depths", "sentence"),
    [
        (((0.30, 0.02),), "at least two points"),
        (((0.30, 0.02), (0.30, 0.05)), "goes back on itself"),
        (((0.30, 0.02), (0.35, 0.0)), "not above zero"),
    ],
)
def test_the_outline_refuses_points_that_are_no_depths(case: Case, depths: tuple, sentence: str):
    with pytest.raises(MeshError, match=sentence):
        replace(outline_of(case), heel_depths=depths)


def test_between_measured_points_the_depth_never_leaves_their_span(case: Case):
    """Three steps of very different steepness, where an ordinary spline would overshoot."""
    depths = ((0.30, 0.018), (0.31, 0.019), (0.312, 0.09), (0.355, 0.095))
    outline: Outline = replace(outline_of(case), heel_depths=depths)
    x = np.linspace(0.30, 0.355, 2000)
    deep = outline.depth(x)
    assert np.all(np.diff(deep) >= 0.0)
    assert (deep.min(), deep.max()) == pytest.approx((0.018, 0.095))
    assert outline.depth(np.array([0.36])) == pytest.approx(0.095)
    assert outline.depth(np.array([0.20])) == pytest.approx(outline.shaft_depth(np.array([0.20])))


def changed(
    mesh: meshio.Mesh,
    *,
    points: np.ndarray | None = None,
    cells: np.ndarray | None = None,
    kind: str = "quad",
    without: str = "",
) -> meshio.Mesh:
    """A mesh with other nodes or cells, or without the name of a group."""
    cells = mesh.cells_dict["quad"] if cells is None else cells
    group = np.resize(mesh.cell_data["gmsh:physical"][0], len(cells))
    return meshio.Mesh(
        mesh.points if points is None else points,
        [(kind, cells)],
        cell_data={"gmsh:physical": [group], "gmsh:geometrical": [group]},
        field_data={name: tag for name, tag in mesh.field_data.items() if name != without},
    )


def saved(mesh: meshio.Mesh, folder: Path) -> Path:
    mesh.write(folder / "changed.msh", file_format="gmsh22", binary=False)
    return folder / "changed.msh"


def _board_too_short(mesh: meshio.Mesh) -> meshio.Mesh:
    """The last column of the board, beyond all frets, a millimetre nearer."""
    points = mesh.points.copy()
    points[np.isclose(points[:, 0], points[points[:, 1] > 0.5, 0].max()) & (points[:, 1] > -13.0), 0] -= 1.0
    return changed(mesh, points=points)


def _block_moved_by_half_a_cell(mesh: meshio.Mesh) -> meshio.Mesh:
    """Nodes of the block's heel face, but for its ends, half a millimetre lower."""
    points = mesh.points.copy()
    of_block = np.unique(mesh.cells_dict["quad"][mesh.cell_data["gmsh:physical"][0] == 4])
    face = of_block[np.isclose(points[of_block, 0], points[of_block, 0].min(), atol=1e-6)]
    inner = face[(points[face, 1] < -20.0) & (points[face, 1] > -90.0)]
    points[inner, 1] -= 0.5
    return changed(mesh, points=points)


def _torn(mesh: meshio.Mesh) -> meshio.Mesh:
    """The board on nodes of its own, at the same places."""
    cells = mesh.cells_dict["quad"].copy()
    of_board = mesh.cell_data["gmsh:physical"][0] == 1
    cells[of_board] += len(mesh.points)
    return changed(mesh, points=np.concatenate([mesh.points, mesh.points]), cells=cells)


def _folded(mesh: meshio.Mesh) -> meshio.Mesh:
    """One inner node of the heel thrown across its neighbours."""
    points = mesh.points.copy()
    inside = (points[:, 0] > 330.0) & (points[:, 0] < 340.0) & (points[:, 1] < -15.0) & (points[:, 1] > -25.0)
    points[np.flatnonzero(inside)[0], 0] += 15.0
    return changed(mesh, points=points)


@pytest.mark.parametrize(
    ("damage", "sentence"),
    [
        (lambda mesh: changed(mesh, without="tongue"), r"'tongue' is missing.*named groups of cells"),
        (lambda mesh: changed(mesh, points=1e-3 * mesh.points), r"'heel'.*smallest x.*in mm"),
        (_board_too_short, r"'board'.*largest x.*change mesh or case"),
        (lambda mesh: changed(mesh, points=mesh.points + mesh.points[:, :1] * [0, 0, 1]), r"along 3 axes"),
        (_block_moved_by_half_a_cell, r"heel face does not match node for node"),
        (_torn, r"neck is in 2 pieces.*Merge nodes"),
        (_folded, r"inverted cells"),
    ],
)
def test_a_mesh_that_does_not_fit_gets_one_sentence(
    case: Case, mesh_file: Path, tmp_path: Path, damage: Callable[[meshio.Mesh], meshio.Mesh], sentence: str
):
    path = saved(damage(meshio.read(mesh_file)), tmp_path)
    with pytest.raises(CaseError, match=sentence):
        structure_of(with_file(case, "mesh", path))


def test_a_shim_that_ends_between_nodes_is_told_the_nearest(case: Case, mesh_file: Path):
    moved = with_file(case, "mesh", mesh_file).with_values({"shims.lower.from_mm": 3.2})
    with pytest.raises(CaseError, match=r"shims\.lower\.from_mm = 3\.2.*nearest one, 3\."):
        structure_of(moved)


def test_triangles_and_files_that_are_no_mesh_are_refused(case: Case, mesh_file: Path, tmp_path: Path):
    mesh = meshio.read(mesh_file)
    quads = mesh.cells_dict["quad"]
    split = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    triangles = changed(mesh, cells=split, kind="triangle")
    with pytest.raises(CaseError, match=r"holds triangle cells.*quadrilaterals of four nodes"):
        with_file(case, "mesh", saved(triangles, tmp_path))
    for name in ("noise.msh", "noise.unknown"):
        (tmp_path / name).write_bytes(b"this is no mesh\n" * 3)
        with pytest.raises(CaseError, match="not a mesh that can be read"):
            with_file(case, "mesh", tmp_path / name)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ('mesh = "noise.msh"', "noise.msh"),
        ('outline_csv = "short.csv"', "the shaft says"),
        ('outline_csv = "short.csv"\nmesh = "noise.msh"', "heel.outline_csv is given as well"),
    ],
)
def test_the_command_refuses_a_wrong_file_with_two(
    case: Case, keys: str, words: str, tmp_path: Path, command: Command
):
    (tmp_path / "noise.msh").write_bytes(b"this is no mesh\n")
    written(tmp_path / "short.csv", curve(case, 20) * [0.9, 0.5])
    (tmp_path / "mine.toml").write_text((case.text or "").replace("[heel]", f"[heel]\n{keys}"))
    run = command("check", "mine.toml")
    assert (run.code, run.out) == (2, "")
    assert words in run.err
    assert "Traceback" not in run.err

"""A solved case as files for other tools: bodies and shims as .vtu, the mesh as .msh, the frets as CSV.

All in mm, N and MPa; x from the nut to the bridge, y up towards the strings (the model's z), third coordinate
zero.
"""

import csv
from pathlib import Path

import meshio
import numpy as np

from cases.offset.solve import Solved
from cases.show.saving import saving
from fem.geometry.outline import Array
from fem.results.field import BeamField, PlateField, ShimField, StateField, state_field

MM = 1e3
MPA = 1e-6
PARTS = {"board": 1, "heel": 2, "tongue": 3, "block": 4}
"""Number of each part in `part_id` and in the named groups of the mesh."""
MATERIALS = {"board": 2, "heel": 1, "tongue": 1, "block": 3}
"""`material_id` of each part: 1 neck wood, 2 fretboard wood, 3 block wood."""


def export(solved: Solved, folder: Path) -> tuple[Path, ...]:
    """Write both states of a solved case, its mesh and its frets into an existing folder; returns the files.

    Existing files are replaced. Raises `InputError` if a file cannot be written.
    """
    question, states = solved.question, {"bolted": solved.pair.bolted, "strung": solved.pair.strung}
    meshes: dict[str, meshio.Mesh] = {}
    for name, state in states.items():
        field = state_field(
            solved.structure, solved.fields, question.flexibility, state, body=question.body_stiffness
        )
        meshes[f"{name}-plate.vtu"] = plate_mesh(field)
        meshes[f"{name}-beam.vtu"] = beam_mesh(field.shaft)
        meshes[f"{name}-shims.vtu"] = shim_mesh(field.shims)
    with saving(folder):
        for file, mesh in meshes.items():
            mesh.write(folder / file)
        group_mesh(solved).write(folder / "mesh.msh", file_format="gmsh22", binary=False)
        _write_frets(solved, folder / "fret-profile.csv")
    return tuple(folder / name for name in (*meshes, "mesh.msh", "fret-profile.csv"))


def _flat(values: Array) -> Array:
    """Rows (x, z) as points (x, z, 0)."""
    return np.column_stack([*values, np.zeros(values.shape[1])])


def plate_mesh(field: StateField) -> meshio.Mesh:
    """Neck and block as biquadratic quadrilaterals, which hold the model's displacement exactly."""
    bodies = (field.neck, field.block)
    shift = field.neck.nodes.shape[1]
    part = np.concatenate([body.part for body in bodies])
    data = {
        "part_id": np.array([PARTS[str(name)] for name in part]),
        "material_id": np.array([MATERIALS[str(name)] for name in part]),
        "moduli_mpa": MPA * np.concatenate([body.moduli.reshape(-1, 9) for body in bodies]),
        "thickness_mm": MM * np.concatenate([body.thickness for body in bodies]),
        "stress_mpa": MPA * np.concatenate([body.stress for body in bodies]),
    }
    for shim in field.shims:
        pressure = [_cell_pressure(body, shim) for body in bodies]
        data[f"contact_pressure_{shim.name.replace(' ', '_')}_mpa"] = MPA * np.concatenate(pressure)
    return meshio.Mesh(
        MM * np.concatenate([_flat(body.nodes) for body in bodies]),
        [("quad9", np.concatenate([field.neck.cells, field.block.cells + shift]))],
        point_data={"displacement_mm": MM * np.concatenate([_flat(body.displacement) for body in bodies])},
        cell_data={name: [values] for name, values in data.items()},
    )


def _cell_pressure(body: PlateField, shim: ShimField) -> Array:
    """Mean pressure of a shim on each cell's side on its face, zero elsewhere, (cells,) [Pa]."""
    at = shim.face
    corners = body.nodes[:, body.cells[:, :4]] - np.asarray(at.origin)[:, None, None]
    along = np.einsum("k,kcn->cn", at.along, corners)
    on_face = np.abs(np.einsum("k,kcn->cn", at.normal, corners)) < 1e-8
    pressure = np.zeros(len(body.cells))
    for cell in np.flatnonzero(on_face.sum(axis=1) == 2):
        ends = along[cell][on_face[cell]]
        inside = (shim.s > ends.min()) & (shim.s < ends.max())
        if inside.any():
            pressure[cell] = np.average(shim.pressure[inside], weights=shim.area[inside])
    return pressure


def beam_mesh(shaft: BeamField) -> meshio.Mesh:
    """The shaft as cubic lines; section constants and forces at the four Gauss points of each."""
    to_mm = {"EA": 1.0, "ES": MM, "EI": MM**2, "kGA": 1.0}
    units = {"EA": "n", "ES": "n_mm", "EI": "n_mm2", "kGA": "n"}
    data = {f"{name.lower()}_{units[name]}": to_mm[name] * values for name, values in shaft.section.items()}
    data["axial_force_n"] = shaft.forces["N"]
    data["bending_moment_n_mm"] = MM * shaft.forces["M"]
    data["shear_force_n"] = shaft.forces["Q"]
    return meshio.Mesh(
        MM * _flat(np.stack([shaft.x, np.zeros_like(shaft.x)])),
        [("line4", shaft.cells)],
        point_data={"displacement_mm": MM * _flat(shaft.displacement), "rotation_rad": shaft.rotation},
        cell_data={name: [values] for name, values in data.items()},
    )


def shim_mesh(shims: tuple[ShimField, ...]) -> meshio.Mesh:
    """The shims' integration points as vertices."""
    points = MM * _flat(np.concatenate([shim.face.points(shim.s) for shim in shims], axis=1))
    data = {
        "pressure_mpa": MPA * np.concatenate([shim.pressure for shim in shims]),
        "drag_mpa": MPA * np.concatenate([shim.shear_traction for shim in shims]),
        "area_mm2": MM**2 * np.concatenate([shim.area for shim in shims]),
        "opening_mm": MM * np.concatenate([shim.opening for shim in shims]),
        "block_yields_mm": MM * np.concatenate([shim.indentation for shim in shims]),
        "block_yields_along_mm": MM * np.concatenate([shim.indentation_along for shim in shims]),
        "closed": np.concatenate([shim.closed for shim in shims]).astype(np.int64),
        "slipping": np.concatenate([shim.slipping for shim in shims]).astype(np.int64),
        "shim_id": np.concatenate([np.full(len(shim.s), number) for number, shim in enumerate(shims, 1)]),
    }
    return meshio.Mesh(points, [("vertex", np.arange(len(points))[:, None])], point_data=data)


def group_mesh(solved: Solved) -> meshio.Mesh:
    """The mesh of both bodies as quadrilaterals in named groups, readable by `heel.mesh`."""
    bodies = solved.fields.bodies
    neck, block = bodies.neck.mesh, bodies.block.mesh
    part = np.zeros(neck.t.shape[1], dtype=np.int64)
    for name, cells in bodies.parts.items():
        part[cells] = PARTS[name]
    group = np.concatenate([part, np.full(block.t.shape[1], PARTS["block"])])
    return meshio.Mesh(
        MM * _flat(np.concatenate([neck.p, block.p], axis=1)),
        [("quad", np.concatenate([neck.t.T, block.t.T + neck.p.shape[1]]))],
        cell_data={"gmsh:physical": [group], "gmsh:geometrical": [group]},
        field_data={name: np.array([number, 2]) for name, number in PARTS.items()},
    )


def _write_frets(solved: Solved, path: Path) -> None:
    question = solved.question
    bolted, strung = (MM * question.heights(state) for state in (solved.pair.bolted, solved.pair.strung))
    with path.open("w", encoding="utf-8", newline="") as stream:
        rows = csv.writer(stream, lineterminator="\n")
        rows.writerow(("fret", "x_mm", "z_bolted_mm", "z_strung_mm"))
        for number, row in enumerate(zip(MM * question.line.x, bolted, strung, strict=True), start=1):
            rows.writerow((number, *(f"{value:.6f}" for value in row)))

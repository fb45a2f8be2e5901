"""A measured outline or a mesh of a heel, read from its file, checked and converted to metres."""

import contextlib
import csv
import hashlib
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cases.casefile.errors import CaseError, Problem
from cases.casefile.schema.joint import Heel
from fem.errors import MeshError
from fem.geometry.mesh import Block, JointMesh
from fem.geometry.mesh_given import PARTS, GivenMesh, given_joint_mesh
from fem.geometry.outline import Outline
from fem.geometry.pad import Pad
from materials.counted import counted
from materials.table import nearest_names

MM = 1e-3
COLUMNS = ("x_mm", "depth_mm")
MOST_POINTS = 5000
MOST_BYTES = 50_000_000
MEETS_MM = 0.5
"""Tolerance of a measured outline at its ends, to the shaft's depth and the heel's height [mm]."""


@dataclass(frozen=True)
class HeelFile:
    """Content of a heel's file: points (x from the heel start, depth) [m] or a mesh, and its digest."""

    path: str
    sha256: str
    points: tuple[tuple[float, float], ...] | None
    mesh: GivenMesh | None

    def outline(self, parametric: Outline) -> Outline:
        """The outline with this heel; `CaseError` if that does not meet shaft and heel face."""
        start, run = parametric.heel_start, parametric.joint - parametric.heel_start
        try:
            if self.mesh is not None:
                depths = self.mesh.heel_depths(parametric)
            else:
                depths = tuple((start + x, depth) for x, depth in self.points or ())
            measured = replace(parametric, heel_depths=depths)
        except MeshError as error:
            raise CaseError(self.path, (str(error),)) from None
        first, last = depths[0][0] - start, depths[-1][0] - start
        if abs(first) > MEETS_MM * MM or last > run + MEETS_MM * MM:
            raise self._wrong(
                f"the outline runs from x_mm = {first / MM:g} to {last / MM:g}",
                f"from 0 (heel start) to at most {run / MM:g} (heel face, heel.start_mm)",
                "measure x from the heel start, or change heel.start_mm",
            )
        shaft = float(parametric.shaft_depth(np.asarray(start)))
        self._meets(depths[0][1], shaft, at="the heel start", source="the shaft")
        self._meets(depths[-1][1], parametric.heel_height, at="its end", source="heel.height_mm")
        return measured

    def _meets(self, found: float, wanted: float, *, at: str, source: str) -> None:
        if abs(found - wanted) > MEETS_MM * MM:
            raise self._wrong(
                f"the depth at {at} is {found / MM:.2f} mm; {source} says {wanted / MM:.2f} mm",
                f"within {MEETS_MM} mm of it",
                "measure from the glue line (without the fretboard), or change the case",
            )

    def joint_mesh(self, outline: Outline, block: Block, pads: tuple[Pad, ...]) -> JointMesh | None:
        """The mesh, None when the file holds points; `CaseError` if it does not fit the instrument."""
        if self.mesh is None:
            return None
        if {pad.face for pad in pads} != {"tongue", "heel"}:
            raise self._wrong(
                "a mesh is given for another kind of joint",
                'a mesh for joint.kind = "two-shim" alone',
                "take heel.mesh away",
            )
        try:
            return given_joint_mesh(self.mesh, outline=outline, block=block, pads=pads)
        except MeshError as error:
            raise CaseError(self.path, (str(error),)) from None

    def _wrong(self, wrong: str, allowed: str, remedy: str) -> CaseError:
        return Problem("the heel", "", wrong, allowed, remedy).error(self.path)


def read_heel_file(heel: Heel, *, folder: Path | None) -> HeelFile | None:
    """Read the file that a heel names, if any; its path starts at a folder, or at the current one.

    `CaseError` if the file cannot be read, or its content is wrong.
    """
    key = "heel.mesh" if heel.outline_csv is None else "heel.outline_csv"
    name = heel.mesh if heel.outline_csv is None else heel.outline_csv
    if name is None:
        return None
    path = (folder or Path()) / name
    data = _bytes_of(path, key=key, name=name)
    points, mesh = (_points(path, data), None) if heel.mesh is None else (None, _mesh(path))
    return HeelFile(str(path), hashlib.sha256(data).hexdigest(), points, mesh)


def _bytes_of(path: Path, *, key: str, name: str) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        wrong = f"{path} cannot be read: {(error.strerror or 'it cannot be opened').lower()}"
        allowed = "a file, its path from the case file's folder"
        raise Problem(key, f'"{name}"', wrong, allowed, "correct the path").error() from None
    if len(data) > MOST_BYTES:
        raise _bad(path, "the file is too long", f"at most {MOST_BYTES} bytes", "give fewer points or cells")
    return data


def _bad(path: Path, wrong: str, allowed: str, remedy: str, *, where: str = "the file") -> CaseError:
    return Problem(where, "", wrong, allowed, remedy).error(path)


def _points(path: Path, data: bytes) -> tuple[tuple[float, float], ...]:
    """Points of an outline from CSV text [m]: increasing, positive."""
    form = f"a first line {','.join(COLUMNS)}, then two numbers a line, in mm"
    try:
        lines = list(csv.reader(io.StringIO(data.decode("utf-8-sig")), strict=True))
    except (UnicodeDecodeError, csv.Error):
        raise _bad(path, "this is not CSV text in UTF-8", form, "save it as CSV") from None
    rows = [(number, row) for number, row in enumerate(lines, start=1) if any(cell.strip() for cell in row)]
    if not rows or tuple(cell.strip() for cell in rows[0][1]) != COLUMNS:
        raise _bad(path, "the first line is not the heading", form, "add it", where="line 1")
    if not 2 <= len(rows) - 1 <= MOST_POINTS:
        raise _bad(
            path,
            f"this gives {counted(len(rows) - 1, 'point')}",
            f"2 to {MOST_POINTS}",
            "add or leave out some",
        )
    points: list[tuple[float, float]] = []
    for number, row in rows[1:]:
        where, remedy = f"line {number}", "correct the line"
        try:
            x, depth = (float(cell) for cell in row)
        except ValueError:
            raise _bad(path, "these are not two numbers", form, remedy, where=where) from None
        if not (math.isfinite(x) and math.isfinite(depth)):
            raise _bad(path, "a number is not finite", form, remedy, where=where)
        if depth <= 0.0:
            wrong = f"depth_mm = {depth:g} is not above zero"
            raise _bad(path, wrong, "depths below the glue line", remedy, where=where)
        if points and x * MM <= points[-1][0]:
            wrong = f"x_mm = {x:g} is not beyond the previous point"
            remedy = "put the points in order; an undercut heel is not possible"
            raise _bad(path, wrong, "increasing x, each position once", remedy, where=where)
        points.append((x * MM, depth * MM))
    return tuple(points)


def _mesh(path: Path) -> GivenMesh:
    """Nodes and cells by part of a mesh file, in metres."""
    import meshio

    known = "a 2-D mesh that meshio reads, such as .msh"
    said = io.StringIO()
    try:
        # meshio prints what is wrong and ends the process: that is a SystemExit, not an Exception
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            read = meshio.read(path)
    except (SystemExit, Exception) as error:
        words = " ".join((said.getvalue() if isinstance(error, SystemExit) else str(error)).split())[:120]
        reason = f"this is not a mesh that can be read ({words.rstrip('.') or type(error).__name__})"
        raise _bad(path, reason, known, "export it again, for example as Gmsh .msh 4.1") from None
    points = np.asarray(read.points, dtype=float)
    used = [column for column in points.T if np.ptp(column) > 0.0] if len(points) else []
    if len(used) != 2 or not np.all(np.isfinite(points)):
        raise _bad(
            path,
            f"the nodes lie along {counted(len(used), 'axis', 'axes')}",
            "a flat mesh: x from the nut, z up from the glue line, in mm",
            "put the third coordinate to zero",
        )
    return GivenMesh(np.stack(used) * MM, {part: _part(path, read, part) for part in PARTS})


def _part(path: Path, read: Any, part: str) -> NDArray[np.int64]:
    """Cells of a named part, (cells, 4)."""
    sets: Mapping[str, list[NDArray[np.int64] | None]] = read.cell_sets
    tags: Mapping[str, NDArray[np.int64]] = read.field_data
    physical = read.cell_data.get("gmsh:physical")
    if part in sets:
        chosen = [np.asarray([] if cells is None else cells, dtype=int) for cells in sets[part]]
    elif part in tags and physical is not None:
        chosen = [np.flatnonzero(np.asarray(one) == tags[part][0]) for one in physical]
    else:
        chosen = []
    found = [
        (block.type, block.data[cells])
        for block, cells in zip(read.cells, chosen, strict=False)
        if len(cells)
    ]
    kinds = sorted({kind for kind, _ in found})
    if not kinds:
        names = sorted({*sets, *tags})
        close = nearest_names(part, names) or tuple(names)[:6]
        named = f"the file names {', '.join(close)}" if close else "the file names no parts"
        raise _bad(
            path,
            f"the part '{part}' is missing; {named}",
            f"named groups of cells: {', '.join(PARTS)}",
            "name the group so and save again",
        )
    if kinds != ["quad"]:
        raise _bad(
            path,
            f"the part '{part}' holds {', '.join(kinds)} cells",
            "quadrilaterals of four nodes alone",
            "mesh it with quadrilaterals of first order",
        )
    return np.concatenate([cells for _, cells in found]).astype(np.int64)

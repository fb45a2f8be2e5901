"""The plane-section tie: consistent with energy, indifferent to its place, and with the beam's shear."""

from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse as sp
from skfem import MeshQuad

from fem.errors import ModelError
from fem.members.plate import plate, stiffness
from fem.members.section import section_stiffness
from fem.members.shaft import section_shape, shear_flow
from fem.members.tie import edge_points, held_nodes, shear_weights
from fem.solve import assembly
from fem.solve.condensation import neck_rigid_modes
from tests.instrument import (
    COARSE,
    Reading,
    asked_of,
    reading,
    readme_condensed,
    readme_question,
    readme_structure,
)


@pytest.fixture(scope="module")
def base() -> Reading:
    return reading(readme_question())


def differences(found: Reading, base: Reading) -> dict[str, float]:
    return {name: abs(getattr(found, name) / getattr(base, name) - 1) for name in vars(base)}


def test_moving_the_tie_towards_the_nut_by_a_neck_depth_changes_nothing_that_counts(base):
    """A beam is as good as a plate there: offset, transfer, rod, relief, rise, kink, stretch within 1 %."""
    structure = readme_structure()
    start = structure.outline.heel_start
    depth = float(structure.outline.depth(np.asarray(start))) + structure.outline.board_thickness
    moved = differences(reading(asked_of(structure.with_tie(start - depth))), base)
    assert max(moved.values()) < 0.01, moved


def test_a_beam_carried_to_the_joint_would_not_do(base):
    """Why the tie sits where the heel begins: two thirds of the way to the joint the answer is another."""
    structure = readme_structure()
    o = structure.outline
    late = reading(asked_of(structure.with_tie(o.heel_start + 0.65 * (o.joint - o.heel_start))))
    assert abs(late.stretch / base.stretch - 1) > 0.02


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_the_thickness_floor_moves_results_by_under_a_thousandth(factor, base):
    structure = readme_structure()
    floor = factor * structure.outline.thickness_floor
    moved = reading(asked_of(replace(structure, outline=replace(structure.outline, thickness_floor=floor))))
    assert max(differences(moved, base).values()) < 1e-3


def test_a_pull_on_the_plates_edge_arrives_at_the_beams_end():
    """Slave forces go to their masters: all of the pull, and its moment about the axis."""
    body, q = readme_condensed()[1].bodies, readme_condensed()[1].transformation
    tie = readme_structure().outline.tie
    edge = np.flatnonzero(np.isclose(body.neck.nodes[0], tie))
    pull = np.zeros(body.size)
    pull[body.line.size + edge] = 1.0
    # a master's row of Q is a lone one, which reads the force on it
    arrived = q @ (q.T @ pull)
    assert arrived[body.line.at("u", tie)] == pytest.approx(len(edge), rel=1e-12)
    assert arrived[body.line.at("t", tie)] == pytest.approx(-body.neck.nodes[1][edge].sum(), rel=1e-12)


def test_a_rigid_motion_strains_nothing_across_the_tie():
    """Beam and neck plate move together: K times each rigid motion of the neck is zero."""
    fields = readme_condensed()[1]
    modes = neck_rigid_modes(readme_structure(), fields.bodies)
    forces = fields.stiffness @ modes
    scale = np.abs(fields.stiffness).max()
    assert np.abs(forces).max() < 1e-9 * scale
    # and the tie itself allows it: the motion lies in the range of Q
    q = fields.transformation
    inside = modes[: fields.bodies.line.size + 2 * fields.bodies.neck.size]
    masters = sp.linalg.lsqr(q, modes[:, 2], atol=1e-14, btol=1e-14)[0]
    np.testing.assert_allclose((q @ masters)[: len(inside)], inside[:, 2], atol=1e-9)


def test_shear_weights_of_a_rectangle_are_the_parabola():
    """tau = 3/2 (1 - 4 z^2/h^2): the mean of z^2 so weighted is h^2/20 (against h^2/12 for an even mean)."""
    nodes, weights = np.polynomial.legendre.leggauss(40)
    share = shear_weights(0.5 * nodes, 0.5 * weights, np.ones(40))
    assert share.sum() == pytest.approx(1.0, rel=1e-12)
    assert share @ nodes == pytest.approx(0.0, abs=1e-12), "as much above the middle as below"
    assert share @ (0.5 * nodes) ** 2 == pytest.approx(1 / 20, rel=2e-3)


def uniform_neck():
    """The README's shaft as it is at its middle, the same all along, without rod and slots."""
    structure = readme_structure()
    o = structure.outline
    x = 0.15
    width, depth = float(o.width(np.asarray(x))), float(o.shaft_depth(np.asarray(x)))
    total = depth + o.board_thickness
    outline = replace(
        o, width_nut=width, width_joint=width, depth_total=(total, total), slot_depth=0.0, heel_start=0.29
    )
    return replace(structure, outline=outline, rod=None)


def plate_shear_stiffness(structure, *, flat_section):
    """Shear stiffness of the plate from the energy of a cell column where the moment passes through zero.

    A bar under an end force Q and the end moment that leaves no moment at its middle: there the energy per
    length is Q^2/2kGA, up to Q^2 x^2/2EI in the column, which is taken off.
    """
    o = structure.outline
    length, depth = 0.24, float(o.depth(np.asarray(0.1)))
    x = np.concatenate(
        [np.linspace(0, 0.11, 23)[:-1], np.linspace(0.11, 0.13, 5), np.linspace(0.13, 0.24, 23)[1:]]
    )
    z = np.concatenate([np.linspace(-depth, 0.0, 17), np.linspace(0.0, o.board_thickness, 6)[1:]])
    one = plate(MeshQuad.init_tensor(x, z))
    middle = one.mesh.p[:, one.mesh.t].mean(axis=1)
    cells = {"neck": np.flatnonzero(middle[1] < 0), "board": np.flatnonzero(middle[1] > 0)}
    softer = np.diag([1.0, 1.0, shear_flow(structure)])
    laws = {
        "neck": (structure.neck.moduli @ softer, o.neck_thickness_across),
        "board": (structure.board.moduli @ softer, o.board_thickness_across),
    }
    here = np.flatnonzero((middle[0] > 0.11) & (middle[0] < 0.13))

    def assemble(chosen):
        parts = [
            stiffness(
                one, thickness=laws[name][1], moduli=laws[name][0], cells=np.intersect1d(cells[name], chosen)
            )
            for name in laws
        ]
        return parts[0] + parts[1]

    matrix = assemble(np.arange(len(middle[0])))
    force, ei = 1.0, flat_section.ei_centroid
    end = np.flatnonzero(np.isclose(one.nodes[0], length))
    arm = one.nodes[1][end] - one.nodes[1][end].mean()  # no resultant pull, whatever the neutral axis
    load = np.zeros(2 * one.size)
    load[one.size + end] = force / len(end)
    load[end] = 0.5 * force * length * arm / np.sum(arm**2)  # a moment against that of the force
    root = np.flatnonzero(np.isclose(one.nodes[0], 0.0))
    held = np.concatenate([root, one.size + root])
    free = np.setdiff1d(np.arange(2 * one.size), held)
    displacements = np.zeros(2 * one.size)
    displacements[free] = sp.linalg.spsolve(matrix[free][:, free].tocsc(), load[free])
    twice = displacements @ (assemble(here) @ displacements)
    bent = 2 * force**2 * 0.01**3 / 3 / ei
    return force**2 * 0.02 / (twice - bent)


def both_shear_stiffnesses(*, exponent, rigid_across):
    """Shear stiffness of plate and section; `rigid_across` keeps the section from shearing over its width."""
    structure = uniform_neck()
    structure = replace(structure, outline=replace(structure.outline, profile_exponent=exponent))
    if rigid_across:
        neck, board = (
            replace(wood, section=replace(wood.section, shear_xy=1e3 * wood.section.shear_xz))
            for wood in (structure.neck, structure.board)
        )
        structure = replace(structure, neck=neck, board=board)
    section = section_stiffness(
        section_shape(structure, 0.15),
        neck=structure.neck.section,
        board=structure.board.section,
    )
    return plate_shear_stiffness(structure, flat_section=section), section.shear_stiffness


@pytest.mark.parametrize(
    ("exponent", "rigid_across", "within"),
    [(2.0, True, 2e-3), (3.0, True, 2e-3), (8.0, False, 0.02), (2.0, False, 0.02)],
)
def test_plate_and_section_shear_alike(exponent, rigid_across, within):
    """A plate shears evenly over its width: so does a section that cannot shear across. A boxy section
    nearly does; a round back's shear flows towards the middle, which softens the plate's shear modulus.
    """
    found, section = both_shear_stiffnesses(exponent=exponent, rigid_across=rigid_across)
    assert found == pytest.approx(section, rel=within)


def test_edges_that_do_not_exist_are_named():
    fields = readme_condensed()[1]
    structure = readme_structure()
    with pytest.raises(ModelError, match=r"no edge at x = 310\.00 mm\. Put the tie on a grid line"):
        edge_points(fields.bodies.neck, 0.310)
    with pytest.raises(ModelError, match=r"'side' is no edge of the block.*top, bottom, back"):
        held_nodes(fields.bodies.block, structure.outline, structure.block, ("side",))
    short = replace(structure.outline, tongue_end=1.0)
    with pytest.raises(ModelError, match=r"top edge is empty\. Make the block longer"):
        held_nodes(fields.bodies.block, short, structure.block, ("top",))


def test_the_mesh_refines_by_halving():
    fine = assembly.bodies(readme_structure(), COARSE.refined(1))
    coarse = readme_condensed()[1].bodies
    assert 2.5 < fine.neck.size / coarse.neck.size < 4.5

"""Bad numbers do not pass: what cannot be computed ends in a named error, never in a number."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse as sp
from skfem import MeshQuad

from fem.errors import ConvergenceError, MeshError, ModelError
from fem.geometry.mesh import check_cells, joint_mesh
from fem.geometry.structure import Structure
from fem.members.plate import plate, stiffness
from fem.solve.condensation import condense
from fem.solve.factorisation import factored
from fem.solve.offset import Question, find_offset
from materials.errors import InputError, NeckpreloadError
from tests.command import Command
from tests.evidence_rows.mutation import forget_cached_results
from tests.instrument import COARSE, readme_question, readme_structure


def wood(part: str, factor: float) -> Callable[[Structure], Structure]:
    """A change of a structure: the moduli of one of its woods times a factor."""

    def changed(structure: Structure) -> Structure:
        timber = getattr(structure, part)
        bad = replace(timber, moduli=np.full((3, 3), factor) * timber.moduli, solid=None)
        return replace(structure, **{part: bad})

    return changed


def young_of_neck(structure: Structure) -> Structure:
    neck = structure.neck
    return replace(structure, neck=replace(neck, section=replace(neck.section, young=math.nan)))


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        (wood("neck", math.nan), ModelError, "not finite"),
        (wood("board", math.nan), ModelError, "not finite"),
        (wood("block_wood", math.nan), ModelError, "not finite"),
        (wood("block_wood", 0.0), ModelError, "not supported"),
        (wood("block_wood", -1.0), ModelError, "not supported"),
        (lambda s: replace(s, block=replace(s.block, width=math.nan)), ModelError, "not supported"),
        (lambda s: replace(s, block=replace(s.block, width=0.0)), ModelError, "not supported"),
        (lambda s: replace(s, held=()), ModelError, "no held edge"),
        (lambda s: replace(s, held=("side",)), ModelError, "no edge of the block"),
        (lambda s: replace(s, pads=()), ModelError, "no shim"),
        (lambda s: replace(s, bolts=()), ModelError, "no bolt"),
        (young_of_neck, InputError, "young is nan"),
        (lambda s: replace(s, outline=replace(s.outline, heel_height=math.nan)), MeshError, "no cells"),
    ],
)
def test_structure_that_cannot_be_condensed(
    change: Callable[[Structure], Structure], error: type[NeckpreloadError], words: str
) -> None:
    with pytest.raises(error, match=words):
        condense(change(readme_structure()), COARSE)


def free_plate() -> sp.csc_matrix:
    """Stiffness of a square plate of four cells that nothing holds [N/m]."""
    body = plate(MeshQuad.init_tensor(np.linspace(0.0, 0.1, 3), np.linspace(0.0, 0.1, 3)))
    moduli = 1e9 * np.array([[1.1, 0.3, 0.0], [0.3, 1.1, 0.0], [0.0, 0.0, 0.4]])
    return sp.csc_matrix(stiffness(body, thickness=lambda x, z: 0.02 + 0.0 * x, moduli=moduli))


def test_load_that_holds_itself_on_a_body_that_nothing_holds() -> None:
    free = free_plate()
    load = free @ np.random.default_rng(1).normal(
        size=(free.shape[0], 1)
    )  # in equilibrium: K times a movement
    scale = np.abs(load).max()
    assert abs(load[: free.shape[0] // 2].sum()) < 1e-9 * scale
    assert abs(load[free.shape[0] // 2 :].sum()) < 1e-9 * scale
    with pytest.raises(ModelError, match="can move freely"):
        factored(free)(load)


def test_body_must_be_held_in_three_unknowns() -> None:
    free = free_plate()

    def held(*unknowns: int) -> sp.csc_matrix:
        spring = np.zeros(free.shape[0])
        spring[list(unknowns)] = 1e7
        return sp.csc_matrix(free + sp.diags(spring))

    for too_few in (held(0), held(0, 1)):
        with pytest.raises(ModelError, match="can move freely"):
            factored(too_few)
    enough, load = held(0, 1, free.shape[0] // 2), np.random.default_rng(2).normal(size=(free.shape[0], 1))
    assert np.abs(enough @ factored(enough)(load) - load).max() < 1e-9 * np.abs(load).max()


def test_inverted_cells() -> None:
    mesh = MeshQuad(
        np.array([[0.0, 1.0, 1.0, 0.0], [0.0, 0.0, 1.0, 1.0]]), np.array([[0], [1], [2], [3]]), validate=False
    )
    check_cells(mesh, "neck")
    turned = replace(mesh, t=mesh.t[::-1], sort_t=False)
    with pytest.raises(MeshError, match=r"mesh of the block has inverted cells.*Check the heel"):
        check_cells(turned, "block")
    folded = replace(mesh, doflocs=np.array([[0.0, 1.0, 0.2, 0.0], [0.0, 0.0, 0.2, 1.0]]))
    with pytest.raises(MeshError, match="inverted cells"):
        check_cells(folded, "neck")


def test_part_of_the_neck_without_cells() -> None:
    structure = readme_structure()
    pads = {"tongue": [0.0, 0.04], "heel": [0.0, 0.04]}
    without_tongue = replace(structure.outline, tongue_end=structure.outline.joint)
    with pytest.raises(MeshError, match="has no cells"):
        joint_mesh(without_tongue, structure.block, breaks=pads, size=COARSE)


def changed(part: str = "", **values: object) -> Callable[[Question], Question]:
    """A change of a question, or of one of its parts."""
    if not part:
        return lambda question: replace(question, **values)  # type: ignore[arg-type]
    return lambda question: replace(question, **{part: replace(getattr(question, part), **values)})


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        (changed("strings", tension=math.nan), ConvergenceError, "not settle"),
        (changed("strings", tension=1e5), ConvergenceError, "not settle|No setting|not converge"),
        (changed(target_kink=math.nan), ConvergenceError, "did not converge"),
        (changed(target_kink=0.5), ConvergenceError, "did not converge"),
        (changed(body_stiffness=math.nan), ConvergenceError, "not settle"),
        (changed(friction=(0.3, math.nan)), ModelError, "friction"),
        (changed(friction=(-0.1, 0.3)), ModelError, "friction"),
        (changed("wanted", relief=math.nan), ConvergenceError, "not settle"),
        (changed("bolting", bolt_tension=np.full(3, math.nan)), ConvergenceError, "not settle"),
        (changed("bolting", bolt_tension=np.zeros(3)), NeckpreloadError, "bolt"),
    ],
)
def test_question_without_an_answer(
    change: Callable[[Question], Question], error: type[NeckpreloadError], words: str
) -> None:
    with pytest.raises(error, match=words) as caught:
        find_offset(change(readme_question()), upper=0.0)
    assert str(caught.value).endswith(".")


def test_search_that_does_not_close_ends_the_command_with_1(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    forget_cached_results()  # another test may have solved it
    monkeypatch.setattr("fem.solve.newton._STEPS", 1)
    run = command("offset", "short-scale")
    assert (run.code, run.out) == (1, "")
    assert run.err.startswith("neckpreload: The joint did not settle")
    assert "Traceback" not in run.err

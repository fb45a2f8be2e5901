"""A solved case: flexibility, question and the states from which the answer is read."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import wraps
from math import radians
from typing import ParamSpec, TypeVar

from threadpoolctl import threadpool_limits

from cases.casefile.case import Case
from cases.offset.build import StringLine, question_of, string_lines, structure_of
from cases.offset.calibration import Calibration, Overlay, laid_over, overlay_of, structure_laid
from cases.offset.no_answer import why_no_answer
from fem.errors import ContactLostError, ConvergenceError, ModelError
from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.results.reading import read
from fem.solve.condensation import condense
from fem.solve.equilibrium import body_turn
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Offset, Pair, Question, find_offset, pair, slackened

P = ParamSpec("P")
R = TypeVar("R")
FINE = MeshSize()
COARSE = MeshSize(corner=4e-3, far=24e-3, growth=4.0, curve=4e-3)
"""Second mesh of every run, about twice as coarse; the difference of the two answers is the mesh error."""


def one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """The function with one thread for linear algebra: more only cost time on matrices of about 100 x 100."""

    @wraps(function)
    def limited(*args: P.args, **kwargs: P.kwargs) -> R:
        with threadpool_limits(limits=1):
            return function(*args, **kwargs)

    return limited


@dataclass(frozen=True)
class MeshSolution:
    """A case condensed on one mesh, and its states at the offset found there."""

    flexibility: Flexibility
    fields: Fields
    pair: Pair


@dataclass(frozen=True)
class Solved:
    """A solved case; ``upper`` is the upper shim angle at which the offset was found [rad]."""

    case: Case
    lines: tuple[StringLine, ...]
    structure: Structure
    fields: Fields
    question: Question
    offset: Offset
    upper: float
    coarse: MeshSolution
    overlay: Overlay
    calibration: Calibration | None

    @property
    def fine(self) -> MeshSolution:
        """The solution on the fine mesh."""
        return MeshSolution(self.question.flexibility, self.fields, self.pair)

    @property
    def on_coarse(self) -> Question:
        """The question on the coarse mesh, which is enough for changes of the offset."""
        return replace(self.question, flexibility=self.coarse.flexibility)

    @property
    def mesh_error(self) -> float:
        """Difference of the offsets on both meshes [rad]."""
        varied = self.question.varied
        return abs(self.pair.angles[varied] - self.coarse.pair.angles[varied])

    @property
    def pair(self) -> Pair:
        """States at the offset."""
        return self.offset.pair


def aimed_upper(case: Case) -> float:
    """Upper angle for a case without a reading: the middle of the stock; 0 for a single shim [rad]."""
    if case.joint.kind == "flat-pocket":
        return 0.0
    angles = case.stock.angles_deg()
    return radians(angles[len(angles) // 2])


def solve(case: Case, *, calibration: Calibration | None = None) -> Solved:
    """Solve a case on both meshes, with a calibration if given; raises `NeckpreloadError`."""
    case = calibration.applied(case) if calibration else case
    structure = structure_laid(case, calibration)
    flexibility, fields = condense(structure, FINE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    overlay = overlay_of(question, calibration)
    question = laid_over(question, overlay)
    upper = aimed_upper(case)
    offset = answered(case, structure, question, upper=upper)
    coarse, coarse_fields = condense(structure, COARSE, reuse=fields.bodies)
    second = find_offset(
        replace(question, flexibility=coarse),
        upper=upper,
        lower=offset.pair.angles[question.varied],
        transfer=offset.transfer,
    )
    return Solved(
        case,
        string_lines(case),
        structure,
        fields,
        question,
        offset,
        upper,
        MeshSolution(coarse, coarse_fields, second.pair),
        overlay,
        calibration,
    )


def answered(
    case: Case, structure: Structure, question: Question, *, upper: float, start: Pair | None = None
) -> Offset:
    """The offset; raises `CaseError` for an input that alone keeps the search from ending."""
    try:
        return find_offset(question, upper=upper, start=start)
    except (ConvergenceError, ContactLostError) as unsolved:
        why = why_no_answer(case, structure, question, upper=upper)
        if why is None:
            raise
        raise why.error(case.name) from unsolved


def with_known_body(case: Case) -> Case:
    """A case in which the body's stiffness replaces a measured drop of the straightedge.

    The drop was measured on one guitar; every neck drawn or changed then keeps that guitar's body. Raises
    `ModelError` as `with_measured_body`.
    """
    if case.body.straightedge_drop_mm is None:
        return case
    structure = structure_of(case)
    flexibility, _ = condense(structure, FINE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    return case.with_values({"body.stiffness_n_m_per_rad": question.body_stiffness})


def with_measured_body(case: Case, question: Question) -> Question:
    """The question with the body's stiffness from a measured drop of the straightedge, if the case has one.

    The drop at the saddle, to pitch from strings slackened after a first tuning, is that of neck and joint on
    a rigid body, plus the body's rotation times the distance from joint to saddle. The body rotates under the
    strings' moment about the joint corner, ``T (z_n - z_c) + T slope x_j``. Raises `ModelError` if neck and
    joint alone drop more than was measured.
    """
    drop = case.body.straightedge_drop_mm
    if drop is None:
        return question
    upper = aimed_upper(case)
    here = pair(question, question.angles(upper, held=upper))
    strung = read(question, here.strung)
    slack = read(question, slackened(question, here))
    alone = slack.saddle_line - strung.saddle_line
    of_body = drop * 1e-3 - alone
    if of_body <= 0.0:
        raise ModelError(
            f"body.straightedge_drop_mm = {drop:g}: neck and joint alone drop by {1e3 * alone:.2f} mm, which "
            "leaves nothing for the body. Tune to pitch once, slacken, then measure the drop to pitch "
            "with the rod set; or leave the key out for a rigid body."
        )
    line, strings = question.line, question.strings
    turn = of_body / (strings.saddle - float(line.x[line.joint - 1]))
    moment = float(body_turn(question.flexibility) @ here.strung.forces)
    return replace(question, body_stiffness=moment / turn)

"""A case solved: the flexibility, the question and the states that the answer is read from."""

from dataclasses import dataclass, replace
from math import radians

from cases.casefile.case import Case
from cases.offset.build import question_of
from cases.offset.calibration import NOTHING_LAID, Calibration, Overlay, laid_over, overlay_of, structure_laid
from fem.errors import ModelError
from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.results.reading import read
from fem.solve.condensation import Fields, Flexibility, condense
from fem.solve.equilibrium import body_turn
from fem.solve.offset import Offset, Pair, Question, find_offset, other_state, pair

FINE = MeshSize()
COARSE = MeshSize(corner=4e-3, far=24e-3, growth=4.0, curve=4e-3)
"""The second mesh of every run: about twice as coarse; the difference of both answers is the error stated."""


@dataclass(frozen=True)
class Solved:
    """A case with its mechanics; the offset is solved at ``upper`` [rad]."""

    case: Case
    structure: Structure
    fields: Fields
    question: Question
    offset: Offset
    upper: float
    rough: Flexibility
    rough_fields: Fields
    rough_pair: Pair
    overlay: Overlay = NOTHING_LAID
    calibration: Calibration | None = None

    @property
    def mesh_error(self) -> float:
        """Difference of the offsets on both meshes [rad]."""
        which = self.question.varied
        return abs(self.offset.pair.angles[which] - self.rough_pair.angles[which])

    @property
    def pair(self) -> Pair:
        """States at the offset found."""
        return self.offset.pair


def aimed_upper(case: Case) -> float:
    """Upper angle at which a case without a reading is solved: the middle of the stock; a single shim counts
    from 0 [rad].
    """
    if case.joint.kind == "flat-pocket":
        return 0.0
    angles = case.stock.angles_deg()
    return radians(angles[len(angles) // 2])


def solve(case: Case, *, calibration: Calibration | None = None) -> Solved:
    """Solve a case on both meshes, with what a calibration says laid over it.

    Raises
    ------
    ModelError
        If the case cannot be modelled.
    ConvergenceError
        If a search does not close.
    """
    case = calibration.applied(case) if calibration else case
    structure = structure_laid(case, calibration)
    flexibility, fields = condense(structure, FINE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    overlay = overlay_of(question, calibration)
    question = laid_over(question, overlay)
    upper = aimed_upper(case)
    offset = find_offset(question, upper=upper)
    rough, rough_fields = condense(structure, COARSE, reuse=fields.bodies, energies=False)
    second = find_offset(
        replace(question, flexibility=rough), upper=upper, lower=offset.pair.angles[question.varied]
    )
    return Solved(
        case,
        structure,
        fields,
        question,
        offset,
        upper,
        rough,
        rough_fields,
        second.pair,
        overlay,
        calibration,
    )


def with_known_body(case: Case) -> Case:
    """A case whose body's stiffness stands in the place of a measured drop of the straightedge: the drop was
    measured on one guitar, and that body stays where others are asked for.

    Raises
    ------
    ModelError
        As `with_measured_body`.
    """
    if case.body.straightedge_drop_mm is None:
        return case
    structure = structure_laid(case, None)
    flexibility, _ = condense(structure, FINE, energies=False)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    return case.with_values({"body.stiffness_n_m_per_rad": question.body_stiffness})


def with_measured_body(case: Case, question: Question) -> Question:
    """The question with the body's stiffness found from a measured drop of the straightedge.

    The drop at the saddle is that of the neck and joint on a rigid body plus the body's turn times the
    distance from joint to saddle; the body turns under the moment that the strings have about the joint
    corner, ``T (z_n - z_c) + T slope x_j``.

    Raises
    ------
    ModelError
        If neck and joint alone account for more than the drop.
    """
    drop = case.body.straightedge_drop_mm
    if drop is None:
        return question
    upper = aimed_upper(case)
    here = pair(question, question.angles(upper, held=upper))
    strung = read(question, here.strung)
    slack = read(question, other_state(question, here, strings=False, rod=here.strung.rod))
    alone = slack.saddle_line - strung.saddle_line
    left = drop * 1e-3 - alone
    if left <= 0.0:
        raise ModelError(
            f"body.straightedge_drop_mm = {drop:g}: neck and joint alone account for {1e3 * alone:.2f} mm, "
            f"so nothing is left "
            "for the body. Measure the drop again (slack to pitch, rod as set), or leave the key out for a "
            "rigid body."
        )
    line, strings = question.line, question.strings
    joint = float(line.x[line.joint - 1])
    turn = left / (strings.saddle - joint)
    moment = float(body_turn(question.flexibility) @ here.strung.forces)
    return replace(question, body_stiffness=moment / turn)

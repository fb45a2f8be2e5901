"""Newton's step from a Jacobian factored at another contact state, against one factored at its own; and the
patterns from which other moduli are found.
"""

import numpy as np

from fem.solve import newton
from fem.solve.newton import Problem
from tests.pictures import readme_solved


def readme_problem() -> Problem:
    """The bolted joint of the README's instrument, its present slips as stick points."""
    solved = readme_solved()
    question, pair = solved.question, solved.pair
    flexibility, law = question.joint(pair.angles)
    at = flexibility.at
    return Problem(
        c=flexibility.matrix,
        base=np.zeros(flexibility.size),
        columns=np.zeros((flexibility.size, 0)),
        conditions=(),
        opening=at["opening"],
        slip=at["slip"],
        bolt=at["bolt"],
        reference=flexibility.reference[np.concatenate([at["opening"], at["slip"]])],
        law=law,
        stuck_at=pair.bolted.stuck_at,
        locked=question.bolting.bolt_tension,
        bolt_stiffness=question.bolting.bolt_stiffness,
    )


def test_a_step_from_another_contact_state_is_that_of_its_own_jacobian():
    problem, settings = readme_problem(), np.zeros(0)
    bolted = readme_solved().pair.bolted.displacements
    _, _, rows, _, before = newton._residual(problem, bolted, settings)
    touching = np.flatnonzero(before.closed.reshape(len(problem.slip), -1).all(axis=1))
    moved = bolted.copy()
    moved[problem.opening.reshape(len(problem.slip), -1)[touching[:2]]] += 1e-3
    moved[problem.slip[touching[2:6]]] += 1e-3
    residual, _, _, _, after = newton._residual(problem, moved, settings)
    assert (before.closed != after.closed).any()
    assert (before.slipping != after.slipping).any()
    here, there = (newton._factored(problem, contact, rows) for contact in (before, after))
    assert here is not None
    assert there is not None
    own, updated = there.step(after, -residual), here.step(after, -residual)
    assert updated is not None
    np.testing.assert_allclose(updated, own, rtol=0.0, atol=1e-12 * np.abs(own).max())


def test_a_force_that_does_not_reach_a_body_makes_no_pattern_there():
    """The rod lies within the shaft: its movement of the block is rounding, and must not count."""
    flexibility = readme_solved().question.flexibility
    joint = sum(len(flexibility.at[kind]) for kind in ("opening", "slip", "bolt"))
    _, part = flexibility.on_its_own().moduli.parts["block along"]
    assert len(part) <= joint

"""Relief of a neck bowed one way, and of one that a rod bends into an S."""

import numpy as np
import pytest

from cases import load
from cases.offset.solve import solve
from tests.instrument import readme_question

LINE = readme_question().line


def shaft_along(shape) -> np.ndarray:
    """Crown heights of a shape over the share of the way from crown 1 to the joint's, flat beyond [m]."""
    share = (LINE.x - LINE.x[0]) / (LINE.x[LINE.joint - 1] - LINE.x[0])
    return np.where(share <= 1.0 + 1e-9, shape(share), 0.0)


def test_neck_bowed_one_way_has_its_largest_gap() -> None:
    heights = shaft_along(lambda s: -4e-4 * s * (1.0 - s))
    gaps = LINE.gap_rows @ heights
    assert LINE.relief(heights)[0] == pytest.approx(gaps.max(), rel=1e-12)
    assert LINE.relief(-heights)[0] == pytest.approx(-gaps.max(), rel=1e-12)
    assert gaps.max() == pytest.approx(1e-4, rel=0.01)


def test_neck_bent_into_an_s_has_gap_less_hump() -> None:
    heights = shaft_along(lambda s: 1e-4 * np.sin(2.0 * np.pi * s))
    gaps = LINE.gap_rows @ heights
    relief, row = LINE.relief(heights)
    assert gaps.min() < -9e-5
    assert gaps.max() > 9e-5
    assert relief == pytest.approx(gaps.max() + gaps.min(), abs=1e-15)
    assert row @ heights == pytest.approx(relief, abs=1e-15)


def test_relief_runs_through_zero_without_a_jump() -> None:
    bow = shaft_along(lambda s: -4e-4 * s * (1.0 - s))
    ess = shaft_along(lambda s: 1e-4 * np.sin(2.0 * np.pi * s))
    found = np.array([LINE.relief(ess + part * bow)[0] for part in np.linspace(-2.0, 2.0, 401)])
    assert np.all(np.diff(found) > 0.0)
    assert np.diff(found).max() < 2e-6


@pytest.mark.parametrize("name", ["fourteen-mahogany", "solid-25"])
def test_a_straight_neck_can_be_asked_for(name: str) -> None:
    solved = solve(load(name).with_values({"targets.relief_mm": 0.0}))
    heights = solved.question.heights(solved.pair.strung)
    assert solved.question.line.relief(heights)[0] == pytest.approx(0.0, abs=1e-12)
    assert solved.pair.strung.rod > 0.0

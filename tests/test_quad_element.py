"""Four-cornered cells: points go back to where they came from, and outside is said to be outside."""

import numpy as np
import pytest

from fem.errors import ModelError
from fem.geometry import quad_element

SKEW = np.array([[0.0, 2.0, 2.6, 0.3], [0.0, 0.4, 1.9, 1.2]])[:, :, None]
BESIDE = np.array([[2.0, 4.0, 4.0, 2.6], [0.4, 0.1, 2.0, 1.9]])[:, :, None]
TWO = np.concatenate([SKEW, BESIDE], axis=2)


def test_local_coordinates_are_found_again() -> None:
    local = np.random.default_rng(1).random((2, 40))
    there = quad_element.position(np.repeat(SKEW, 40, axis=2), local)
    assert quad_element.local_of(np.repeat(SKEW, 40, axis=2), there) == pytest.approx(local, abs=1e-13)


def test_stretch_is_the_slope_of_the_position() -> None:
    at, step = np.array([[0.3], [0.8]]), 1e-6
    for direction in range(2):
        ahead, behind = at.copy(), at.copy()
        ahead[direction] += step
        behind[direction] -= step
        slope = (quad_element.position(SKEW, ahead) - quad_element.position(SKEW, behind)) / (2.0 * step)
        assert quad_element.stretch(SKEW, at)[:, direction] == pytest.approx(slope, abs=1e-9)


def test_each_point_is_in_its_own_cell_where_bounding_boxes_overlap() -> None:
    local = 0.05 + 0.9 * np.random.default_rng(2).random((2, 60))
    own = np.arange(60) % 2
    cells, found = quad_element.holding(TWO, quad_element.position(TWO[:, :, own], local))
    assert np.array_equal(cells, own)
    assert found == pytest.approx(local, abs=1e-13)


@pytest.mark.parametrize("point", [(-0.1, 0.5), (0.2, 1.3), (9.0, 9.0), (1.0, 0.1)])
def test_a_point_outside_is_refused(point: tuple[float, float]) -> None:
    inside = quad_element.position(SKEW, np.array([[0.5], [0.5]]))
    with pytest.raises(ModelError, match="outside the body"):
        quad_element.holding(TWO, np.concatenate([inside, np.array(point)[:, None]], axis=1))

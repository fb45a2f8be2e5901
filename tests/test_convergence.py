"""Finer meshes run to a limit, and the last difference of every answer is of the size it states."""

import pytest

from cases import load
from tests.convergence import DEFAULT_LEVEL, levels, limit_of, order_of


def test_order_and_limit_of_a_known_row() -> None:
    values = [3.0 + 0.4 * 0.25**k for k in range(3)]
    assert order_of(values) == pytest.approx(2.0, abs=1e-9)
    assert limit_of(values) == pytest.approx(3.0, abs=1e-12)
    assert order_of([1.0, 2.0, 1.5]) is None
    assert order_of([1.0, 2.0, 4.0]) is None
    assert order_of([1.0, 1.0, 1.0]) is None


def test_offset_and_stretch_run_to_a_limit_on_coarse_meshes() -> None:
    study = levels(load("fourteen-mahogany"), DEFAULT_LEVEL + 1)
    for values in ([level.offset for level in study], [level.stretch for level in study]):
        order, limit = order_of(values), limit_of(values)
        assert order is not None
        assert limit is not None
        assert 1.0 < order < 3.0
        assert abs(values[-1] - limit) < 0.003

"""Growth of the factors' memory, the choice of ordering, and the page's table."""

import numpy as np
import pytest
from scipy.sparse.linalg import splu

from cases.offset.solve import COARSE, FINE
from tests.floor import system
from tests.growth import BEGIN, DOCS, END, HALVINGS, Cost, exponent, factored, floor_of, renewed, table


def test_the_exponent_of_a_known_row() -> None:
    unknowns = [1e4, 3e4, 2e5]
    assert exponent(unknowns, [2e-6 * n**1.3 for n in unknowns]) == pytest.approx(1.3, abs=1e-9)


def test_the_factors_measured_are_the_condensation_s() -> None:
    one = system(COARSE)
    solve, factors = factored(one.grounded)
    load = one.right[:5].T.toarray()
    assert np.array_equal(solve(load), factors.solve(load))


def test_entries_of_the_factors_grow_less_than_unknowns_to_the_power_of_1_3() -> None:
    """The plane's best ordering needs n log n of them: about 1.2 here; counts, so no clock can disturb it."""
    meshes = [system(FINE.refined(times)).grounded for times in (-1.0, 0.0, 0.5)]
    power = exponent([one.shape[0] for one in meshes], [factored(one)[1].nnz for one in meshes])
    assert 1.0 < power < 1.3


@pytest.mark.parametrize("other", ["COLAMD", "MMD_ATA"])
def test_no_other_ordering_of_the_library_needs_fewer_entries(other: str) -> None:
    one = system(FINE)
    _, factors = factored(one.grounded)
    how = {"diag_pivot_thresh": 0.0, "options": {"SymmetricMode": True}}
    assert splu(one.grounded, permc_spec=other, **how).nnz > 1.5 * factors.nnz


def test_times_are_shown_as_multiples_of_the_default_mesh_s() -> None:
    costs = [Cost(1000 * 4**k, 100, 2e-3 * 4**k, 3e-3 * 4**k, 5e-3 * 4**k, 10**6) for k in range(3)]
    default = costs[HALVINGS.index(0.0)]
    assert floor_of(costs) == default.seconds
    assert "| 4,000 | 100 | 0.2 | 0.3 | 0.5 | 12 | 3 |" in table(costs, [])[3]


def test_the_page_s_table_has_every_mesh() -> None:
    page = (DOCS / "growth.md").read_text(encoding="utf-8")
    rows = page.split(BEGIN)[1].split(END)[0].strip().splitlines()
    assert len(rows) == len(HALVINGS) + 3
    assert renewed(page, rows) == page

"""Creep against EN 1995-1-1 and the single Kelvin element."""

import itertools
import math

import numpy as np
import pytest

from materials import creep


@pytest.mark.parametrize("k_def", [*creep.CREEP_BAND, 2.0])
def test_creep_reaches_k_def_after_50_years(k_def):
    assert creep.kelvin_chain(k_def=k_def).at(50.0) == pytest.approx(k_def, rel=1e-12)
    assert creep.kelvin_chain(k_def=k_def).at(0.0) == 0.0


def test_chain_follows_the_stated_curve():
    # Tolerance: the fit has one retardation time per half decade; 1 % of k_def is far below the band.
    times = np.logspace(-3, math.log10(50), 77)
    chain = np.array([creep.kelvin_chain().at(float(t)) for t in times])
    np.testing.assert_allclose(chain, creep.log_time_curve(times, k_def=0.6), atol=0.006)


def test_stated_curve_by_hand():
    # One day is where the argument of the logarithm is 2; written out apart from the code.
    day = 1 / 365.25
    assert creep.log_time_curve(day, k_def=0.6) == pytest.approx(
        0.6 * math.log(2) / math.log(1 + 50 * 365.25)
    )


def test_creep_after_seven_years_lies_in_the_published_range():
    # Ranta-Maunus 2000 (abstract): relative creep 0.3 to 1 in seven to eight years, over all k_def of the
    # band.
    assert 0.2 < creep.kelvin_chain(k_def=0.3).at(7.5) < creep.kelvin_chain(k_def=1.0).at(7.5) < 1.0
    assert 0.3 < creep.kelvin_chain().at(7.5) < 0.6


def test_creep_never_turns_back():
    chain = creep.kelvin_chain()
    assert all(weight >= 0 for weight in chain.weights)
    values = [creep.kelvin_chain().at(float(t)) for t in np.logspace(-4, math.log10(50), 60)]
    assert all(early < late for early, late in itertools.pairwise(values))


def test_single_kelvin_element():
    # Closed form: after one retardation time 1 - 1/e of the final creep.
    element = creep.KelvinChain((2.0,), (0.8,))
    assert element.at(2.0) == pytest.approx(0.8 * (1 - math.exp(-1)))
    assert element.at(1e4) == pytest.approx(0.8)

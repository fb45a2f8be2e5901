"""Metals and shim materials."""

import math

import pytest

from materials.metal import metal, metal_names
from materials.shim import shim_material
from materials.wood import wood


def test_metals_against_their_sources():
    # EN 1993-1-1 3.2.6: steel with nu 0.30 and alpha 12e-6 per kelvin. C36000 [asm1990]:
    # 97 GPa, 8490 kg/m3. Shigley Table 10-5: music wire below 0.8 mm 203.4, 82.7 GPa.
    steel, brass, wire = metal("steel"), metal("brass"), metal("music-wire")
    assert (steel.young, steel.shear, steel.density) == (210e9, 81e9, 7850)
    assert steel.expansion == pytest.approx(12e-6)
    assert (brass.young, brass.density) == (97e9, 8490)
    assert (wire.young, wire.shear) == (203.4e9, 82.7e9)


@pytest.mark.parametrize("name", [name for name in metal_names() if name != "carbon-bar"])
def test_metals_are_isotropic(name):
    # E = 2 G (1 + nu) with nu between 0.2 and 0.42 holds for every metal; a slip between the columns breaks
    # it.
    bar = metal(name)
    assert 0.2 <= bar.young / (2 * bar.shear) - 1 <= 0.42
    assert 2500 <= bar.density <= 9000
    assert 8e-6 <= bar.expansion <= 24e-6


def test_carbon_bar_is_stiff_along_and_soft_in_shear():
    bar = metal("carbon-bar")
    assert bar.young / bar.shear > 15
    assert bar.expansion == 0.0


def test_wooden_shims_come_from_the_wood_table():
    maple = shim_material("maple")
    timber = wood("maple-sugar")
    assert min(timber.e_r, timber.e_t) < maple.e_across < max(timber.e_r, timber.e_t)
    assert maple.e_across == pytest.approx(math.sqrt(timber.e_r * timber.e_t))
    assert min(timber.g_lr, timber.g_lt) < maple.g_across < max(timber.g_lr, timber.g_lt)


def test_paper_is_the_softest_and_friction_is_the_stated_assumption():
    assert shim_material("paper").e_across < shim_material("card").e_across < shim_material("maple").e_across
    assert shim_material("paper").friction == 0.3
    assert shim_material("paper").friction_band == (0.15, 0.5)

"""The wood table against Table 5-3a of the Wood Handbook of 2010, read in a transcription [fpl2010]."""

import pytest

from materials.wood import wood

TABLE_5_3A = """
alder-red            0.41  9500  3000 2900
ash-white            0.60 12000  8000 6500
basswood-american    0.37 10100  2600 2400
beech-american       0.64 11900  7000 7000
birch-paper          0.55 11000  4100 -
birch-yellow         0.62 13900  6700 6300
butternut            0.38  8100  3200 3000
cherry-black         0.50 10300  4800 3900
locust-black         0.69 14100 12600 4400
maple-bigleaf        0.48 10000  5200 3700
maple-black          0.57 11200  7000 4600
maple-red            0.54 11300  6900 -
maple-silver         0.47  7900  5100 3400
maple-sugar          0.63 12600 10100 -
oak-northern-red     0.63 12500  7000 5500
sycamore-american    0.49  9800  4800 5000
walnut-black         0.55 11600  7000 4800
yellow-poplar        0.42 10900  3400 3700
cedar-port-orford    0.43 11700  5000 2800
redcedar-western     0.32  7700  3200 1500
cedar-yellow         0.44  9800  4300 2500
douglas-fir          0.48 13400  5500 2300
redwood              0.40  9200  4800 1700
spruce-engelmann     0.35  8900  2800 2400
spruce-red           0.40 11400  3800 2400
spruce-sitka         0.40 10800  4000 2600
spruce-white         0.36  9600  3000 2500
"""
"""Specific gravity at 12 %, MOE [MPa], compression and tension across the grain [kPa]."""
OTHER_IN_INCHES = {"spruce-engelmann": 8.96e9, "spruce-white": 9.86e9}
"""MOE [Pa] of woods for which the handbook's two tables differ by more than rounding: Table 5-3b."""
PSI_TABLE_5_5B = {
    "mahogany-honduran": (1.34, 1.50),
    "mahogany-african": (1.15, 1.40),
    "spanish-cedar": (1.31, 1.44),
    "teak": (1.37, 1.55),
}
"""MOE green and at 12 % [million psi], quoted from Table 5-5b."""


@pytest.mark.parametrize("line", TABLE_5_3A.split("\n")[1:-1], ids=lambda line: line.split()[0])
def test_a_wood_is_as_the_handbook_prints_it(line: str) -> None:
    name, gravity, modulus, compression, tension = line.split()
    ours = wood(name)
    assert ours.density == pytest.approx(float(gravity) * 1120.0, abs=0.6)
    expected = OTHER_IN_INCHES.get(name, 1e6 * float(modulus))
    assert ours.moe == pytest.approx(expected, abs=0.06e9)
    assert ours.compression_across == pytest.approx(1e3 * float(compression), abs=0.06e6)
    if tension != "-":
        assert ours.tension_across == pytest.approx(1e3 * float(tension), abs=0.06e6)


@pytest.mark.parametrize(("name", "printed"), PSI_TABLE_5_5B.items())
def test_an_imported_wood_is_as_the_handbook_prints_it(name: str, printed: tuple[float, float]) -> None:
    ours = wood(name)
    assert (ours.moe_green, ours.moe) == pytest.approx([1e6 * 6894.757 * value for value in printed], abs=6e6)

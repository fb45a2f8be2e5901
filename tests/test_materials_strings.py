"""String tension against published totals, closed forms and unit weights."""

import math

import pytest

from materials import strings
from materials.table import read_table

SCALE = 0.6477
LBF = 4.4482216152605


def notes(made):
    return " ".join(one.note for one in made)


@pytest.mark.parametrize(
    ("note", "hertz"),
    # A4 = 440 Hz, ISO 16; the rest equal temperament, the same figures as two music libraries give (seen).
    [("A4", 440.0), ("E2", 82.406889), ("B0", 30.867706), ("F#3", 184.997211), ("Gb3", 184.997211)],
)
def test_note_frequencies(note, hertz):
    assert strings.note_frequency(note) == pytest.approx(hertz, abs=6e-7)
    assert strings.note_frequency(note, a4=442.0) == pytest.approx(hertz * 442 / 440)


def test_tension_law():
    # T = mu (2 L f)^2; plain steel of 0.254 mm and 7850 kg/m3 at 647.7 mm and 329.628 Hz: 72.524 N, worked
    # out apart from this code.
    mu = 7850 * math.pi / 4 * 0.000254**2
    assert strings.tension(mu, scale=SCALE, frequency=329.628) == pytest.approx(72.524, abs=0.001)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # Light acoustic set, bronze wound, 25.5 in: 159 lbf on the pack (quoted by a builder, seen) to 163
        # lbf by the remembered unit weights; phosphor bronze is 1 % heavier than 80/20.
        ("acoustic-light", 159 * LBF, 164 * LBF),
        ("acoustic-light-80-20", 157 * LBF, 163 * LBF),
        # Electric set, whole neck load 46.96 kgf on a university student's page (gauges not in the readable
        # part).
        ("electric-10-46", 46.0 * 9.80665, 47.5 * 9.80665),
        # Nylon instruments 75 to 100 lbf (same builder, seen).
        ("classical-normal", 75 * LBF, 100 * LBF),
        ("classical-hard", 75 * LBF, 100 * LBF),
        # Acoustic "150 to 180 lbf" in a magazine (seen); medium is above by the remembered table (189 lbf).
        ("acoustic-custom-light", 150 * LBF, 180 * LBF),
        ("acoustic-medium", 185 * LBF, 191 * LBF),
        # Electric sets span 40 to 50 kgf (seen) for the common gauges.
        ("electric-9-42", 37 * 9.80665, 50 * 9.80665),
        # Twelve-string light: 242 lbf on the pack (seen); ours is up to 7 % above, octave gauges differ.
        ("twelve-string-light", 242 * LBF, 259 * LBF),
    ],
)
def test_set_totals_against_published_ones(name, low, high):
    assert low <= strings.total_tension(strings.tensions(strings.string_set(name), scale=SCALE)) <= high


def test_per_string_tensions_of_the_light_set():
    # A maker's printed figures as remembered [lbf]: 23.4 23.3 30.2 30.5 29.9 26.1.
    made = strings.tensions(strings.string_set("light"), scale=SCALE)
    assert [one.tension_lbf for one in made] == pytest.approx([23.4, 23.3, 30.2, 30.5, 29.9, 26.1], abs=0.06)
    assert notes(made) == "E4 B3 G3 D3 A2 E2"
    assert [one.gauge for one in made] == ["0.012", "0.016", "0.024w", "0.032w", "0.042w", "0.053w"]


def test_bass_set():
    # Tensions remembered from a maker's chart at 864 mm; the unit weights were worked back from them, so
    # this guards the table, not the world.
    assert strings.string_set("Medium") == strings.string_set("acoustic-medium")
    made = strings.tensions(strings.string_set("bass"), scale=0.864)
    assert [one.tension_n for one in made] == pytest.approx([190, 228, 215, 179], abs=0.6)


def test_stress_in_a_plain_string_does_not_depend_on_its_gauge():
    # sigma = rho (2 L f)^2: 1423 MPa for E4 at 647.7 mm (worked out apart from this code).
    for gauge in (0.009, 0.012):
        one = strings.tensions(strings.own_set([f"{gauge}"], tuning="E4"), scale=SCALE)[0]
        assert one.tension_n / one.string.core_area == pytest.approx(1423e6, rel=2e-3)


def test_wound_law_is_that_of_touching_round_wire():
    # mu = pi/4 rho_c d_c^2 + pi^2/4 rho_w d_w (d_c + d_w), close winding of round wire, is the law with p =
    # pi/4.
    core, wire = 0.40e-3, 0.35e-3
    outer = core + 2 * wire
    expected = math.pi / 4 * 7807 * core**2 + math.pi**2 / 4 * 8880 * wire * (core + wire)
    got = strings.wound_linear_density(
        outer, core_ratio=core / outer, core_density=7807, wrap_density=8880, packing=math.pi / 4
    )
    assert got == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("alloy", "tolerance"),
    # The law with usual core ratios against the published unit weights (remembered). The core ratio of a
    # maker's string is not known to better than 0.05, which is 3 % of the weight; nylon thins as it
    # stretches, and its wound unit weights were worked back from totals known to 3 %.
    [
        ("plain-steel", 0.0006),
        ("phosphor-bronze", 0.03),
        ("nickel-plated-steel", 0.03),
        ("nylon", 0.06),
        ("silver-plated-copper-on-nylon", 0.07),
    ],
)
def test_law_agrees_with_the_published_unit_weights(alloy, tolerance):
    wound = alloy not in ("plain-steel", "nylon")
    rows = [row for row in read_table("unit_weights.csv").values() if row["alloy"] == alloy]
    assert len(rows) >= 6
    for row in rows:
        gauge = float(row["gauge_in"])
        listed = strings.own_string(gauge_in=gauge, wound=wound, alloy=alloy)
        beside = strings.own_string(gauge_in=gauge + 2e-4, wound=wound, alloy=alloy)
        assert (listed.basis, beside.basis) == ("table", "law")
        ratio = beside.unit_weight_kg_m / listed.unit_weight_kg_m * (gauge / (gauge + 2e-4)) ** 2
        assert ratio == pytest.approx(1.0, abs=tolerance)


def test_heavier_wrap_of_the_same_packing_pulls_more():
    weight = {
        alloy: strings.own_string(gauge_in=0.0335, wound=True, alloy=alloy).unit_weight_kg_m
        for alloy in ("phosphor-bronze", "bronze-80-20", "nickel", "nickel-plated-steel")
    }
    assert weight["phosphor-bronze"] > weight["bronze-80-20"]
    assert weight["nickel"] > weight["nickel-plated-steel"]
    # 80/20 is about 0.98 of phosphor bronze (derived from the densities and the share of the wrap).
    assert weight["bronze-80-20"] / weight["phosphor-bronze"] == pytest.approx(0.98, abs=0.004)


def test_given_unit_weight_wins():
    own = strings.own_string(gauge_in=0.012, wound=False, unit_weight_kg_m=0.0006)
    assert (own.unit_weight_kg_m, own.basis) == (0.0006, "given")
    own = strings.own_string(gauge_in=0.053, wound=True, core_ratio=0.40)
    assert (own.basis, own.core_ratio) == ("law", 0.40)


@pytest.mark.parametrize(
    ("text", "gauge", "wound"),
    [
        (".012", 0.012, False),
        ("0.024w", 0.024, True),
        ("1.35 mm w", 1.35 / 25.4, True),
        ("0.012 in", 0.012, False),
    ],
)
def test_gauges_are_read(text, gauge, wound):
    value, is_wound = strings.parse_gauge(text)
    assert (value, is_wound) == (pytest.approx(gauge), wound)


def test_own_set_with_a_weighed_string():
    weighed = strings.own_string(gauge_in=0.056, wound=True, unit_weight_kg_m=0.0115)
    own = strings.own_set(
        ["0.013", "0.017", "0.026w", "0.035w", "0.045w", weighed], tuning="C2 A2 D3 G3 B3 E4"
    )
    made = strings.tensions(own, scale=SCALE)
    assert made[-1].tension_n == pytest.approx(0.0115 * (2 * SCALE * strings.note_frequency("C2")) ** 2)
    assert own.gauges == "0.013 0.017 0.026w 0.035w 0.045w 0.056w"


@pytest.mark.parametrize(
    ("tuning", "sounding"),
    [
        (None, "E4 E4 B3 B3 G3 G4 D3 D4 A2 A3 E2 E3"),
        ("D2 G2 C3 F3 A3 D4", "D4 D4 A3 A3 F3 F4 C3 C4 G2 G3 D2 D3"),
        ("D2/D2 G2 C3 F3 A3 D4", "D4 D4 A3 A3 F3 F4 C3 C4 G2 G3 D2 D2"),
    ],
)
def test_partners_of_a_course_follow_the_main_notes(tuning, sounding):
    made = strings.tensions(strings.string_set("12-string"), scale=SCALE, tuning=tuning)
    assert notes(made) == sounding
    assert [one.course for one in made] == [1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6]


def test_every_set_can_be_strung():
    for name in strings.set_names():
        made = strings.string_set(name)
        assert made.title
        pulls = strings.tensions(made, scale=0.864 if name.startswith("bass") else SCALE)
        assert all(30 < one.tension_n < 250 for one in pulls)
        assert strings.overstressed(pulls) == ()


def test_a_string_tuned_too_high_is_warned_of():
    # sigma = rho (2 L f)^2 at 440 Hz and 647.7 mm: 2536 MPa, above the 2000 music wire carries at rest.
    made = strings.tensions(strings.own_set(["0.010"], tuning="A4"), scale=SCALE)
    (warning,) = strings.overstressed(made)
    assert "2536 N/mm2" in warning
    assert "it may break" in warning


def test_the_core_of_a_wound_string_carries_the_tension():
    # A 0.024 in string with a core of 0.012 in: a quarter of the area. A G3 on 0.024w carries about 1630
    # N/mm2 with the usual core ratio of 0.53 (below the limit), an octave higher four times that.
    assert strings.own_string(gauge_in=0.024, wound=True, core_ratio=0.5).core_area == pytest.approx(
        math.pi / 4 * (0.012 * 0.0254) ** 2
    )
    for tuning, warnings in (("G3", 0), ("G4", 1)):
        made = strings.tensions(strings.own_set(["0.024w"], tuning=tuning), scale=SCALE)
        assert len(strings.overstressed(made)) == warnings

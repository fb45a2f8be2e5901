"""A user's own strings, tuning and wood: what a case takes from them, and what it says of wrong ones."""

import pytest

from cases.casefile.changes import Changes, string_changes, tuning_of
from cases.casefile.errors import CaseError
from cases.casefile.files import load, loads
from cases.casefile.stringing import strings_of
from cases.offset.scatter import deviations
from cases.offset.woods import named_wood, wood_of, woods_of
from cases.studies.variants import axes_of, named_apart, variants
from materials.errors import InputError
from materials.own_wood import nearest_relative, own_wood
from materials.wood import wood
from tests.command import Command
from tests.test_case_schema import TWELVE

LIGHT = "12 16 24w 32w 42w 53w"
KOA = {"neck.wood": "koa", "woods.koa.density_kg_m3": 610.0, "woods.koa.e_l_gpa": 10.4}


def test_gauges_in_one_text_are_the_set_of_these_gauges() -> None:
    case = loads(TWELVE)
    own = Changes(strings=LIGHT).made(case, {})
    assert strings_of(own.strings).courses == strings_of(case.strings).courses
    assert (own.strings.set, own.strings.gauges_in) == (None, ("0.012", "0.016", *own.strings.gauges_in[2:]))
    assert Changes(strings="10-46").made(case, {}).strings.set == "10-46"


def test_gauges_keep_the_tuning_of_the_case_and_a_set_brings_its_own() -> None:
    baritone = load("long-baritone")
    assert tuning_of(baritone) == "B1 E2 A2 D3 F#3 B3"
    assert tuning_of(Changes(strings="14 18 28w 38w 52w 70w").made(baritone, {})) == tuning_of(baritone)
    assert tuning_of(Changes(strings="light").made(baritone, {})) == "E2 A2 D3 G3 B3 E4"
    assert string_changes(loads(TWELVE), LIGHT).keys() == {"strings.gauges_in"}


def test_gauges_for_another_number_of_strings_are_told_as_such() -> None:
    five = "12 16 24w 32w 42w"
    told = r'--strings = "12 16 24w 32w 42w": 5 gauges for 6 strings; .* or give --tuning with 5 notes'
    with pytest.raises(InputError, match=told):
        Changes(strings=five).made(loads(TWELVE), {})
    with pytest.raises(InputError, match="5 gauges for 4 strings"):
        Changes(strings=five).made(load("bass-34"), {})
    with pytest.raises(InputError, match="1 gauge for 6 courses"):
        Changes(strings="12").made(load("twelve-string"), {})
    notes = "A2 D3 G3 B3 E4"
    assert tuning_of(Changes(strings=five, tuning=notes).made(loads(TWELVE), {})) == notes
    assert tuning_of(Changes(strings=five).made(loads(TWELVE), {"strings.tuning": notes})) == notes


def test_strings_set_twice_are_refused() -> None:
    for changes in (Changes(strings="medium"), Changes(tuning="D A D G A D")):
        with pytest.raises(InputError, match="it is set twice"):
            changes.made(loads(TWELVE), {"strings.set": "acoustic-heavy", "strings.tuning": "E A D G B E"})


def test_nylon_wrap_means_nylon_trebles() -> None:
    own = loads(TWELVE).with_values(
        {"strings.gauges_in": ["28", "32", "40", "30w", "36w", "45w"], "strings.tuning": None}
        | {"strings.alloy": "silver-plated-copper-on-nylon"}
    )
    kinds = [course[0].kind for course in strings_of(own.strings).courses]
    assert kinds == ["nylon"] * 3 + ["nylon-wound"] * 3


def test_rows_of_a_comparison_show_their_tuning_and_have_names_of_their_own() -> None:
    case = load("fourteen-mahogany")
    axes = axes_of(neck_wood=(), board_wood=(), strings=[LIGHT, "baritone", "baritone"], scale_mm=(), vary={})
    names = [variant.name for variant in named_apart(variants([case, case], axes))]
    assert len(set(names)) == len(names) == 6
    assert names[:3] == [
        "fourteen-mahogany",
        f"fourteen-mahogany: strings {LIGHT}",
        "fourteen-mahogany: strings baritone (tuned B1 E2 A2 D3 F#3 B3)",
    ]


def test_an_own_wood_with_the_numbers_of_its_relative_is_its_relative() -> None:
    cherry = wood("cherry-black")
    own = own_wood("my-cherry", density=cherry.density, e_l=cherry.e_l, relative="cherry-black")
    for key in (
        "e_l",
        "e_r",
        "e_t",
        "g_lr",
        "g_lt",
        "g_rt",
        "nu_lr",
        "nu_lt",
        "nu_rt",
        "shrink_t",
        "density",
    ):
        assert getattr(own, key) == pytest.approx(getattr(cherry, key), rel=1e-12), key
    # twice as stiff along the grain: all moduli twice, ratios the same
    stiff = own_wood("my-cherry", density=cherry.density, e_l=2 * cherry.e_l, relative="cherry-black")
    assert (stiff.e_t, stiff.g_lr) == (pytest.approx(2 * cherry.e_t), pytest.approx(2 * cherry.g_lr))
    # 21.6 G^2.09 MPa with G = 580 / 1120, by hand 5.45 MPa
    assert own_wood("x", density=580, e_l=10e9).compression_across == pytest.approx(5.455e6, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "density", "kind", "relative"),
    [
        ("koa", 610, None, "maple-red"),  # 605, the hardwood nearest in density with ratios of its own
        ("maple-norway", 400, None, "maple-red"),  # the lighter of two maples, though other woods are nearer
        ("spruce-lutz", 420, None, "spruce-sitka"),
        ("kauri", 360, "softwood", "redcedar-western"),
        ("kauri", 480, None, "yellow-poplar"),
    ],
)
def test_nearest_relative_is_of_the_family_or_kind(
    name: str, density: float, kind: str | None, relative: str
) -> None:
    assert nearest_relative(name, density=density, kind=kind).name == relative


def test_a_case_with_an_own_wood_bears_its_name_and_says_whose_ratios_it_has() -> None:
    case = loads(TWELVE + '[[woods]]\nname = "koa"\ndensity_kg_m3 = 610\ne_l_gpa = 10.4\n')
    case = case.with_values({"neck.wood": "koa"})
    assert case == loads(TWELVE).with_values(KOA)
    cut = wood_of(case, case.neck)
    assert (cut.name, cut.e_l) == ("koa", pytest.approx(10.4e9))
    assert any("ratios and shrinkage of maple-red" in text for text in cut.standins)
    assert woods_of(case.with_values({"fretboard.wood": "koa"})).board.e_r == pytest.approx(cut.e_r)
    # a wood of one's own scatters from plank to plank as others do; a measured plank does not
    assert deviations(case).neck == 0.22
    assert deviations(case.with_values({"neck.e_l_gpa": 11.0})).neck == 0.0
    assert "koa" in case.to_toml()
    assert named_wood(case, "koa").ratio_stand_in == "maple-red"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"neck.wood": "koa"}, "this wood is not in the table"),
        ({"neck.wood": "mahagony"}, "nearest are mahogany-african, mahogany-honduran; write one of them"),
        (KOA | {"woods.koa.relative": "maple-suger"}, "nearest are maple-sugar"),
        (KOA | {"woods.koa.e_l_gpa": 1.0}, "3 to 35 GPa"),
        (KOA | {"woods.koa.stiffness": 1.0}, "there is no such key|has no wood of the name koa"),
        ({"woods.koa.density_kg_m3": 610}, "woods.koa.e_l_gpa: this key is missing"),
        (
            {"woods.maple-sugar.density_kg_m3": 610, "woods.maple-sugar.e_l_gpa": 10.4},
            "the table has a wood of this name",
        ),
    ],
)
def test_wrong_own_woods(values: dict[str, object], words: str) -> None:
    with pytest.raises(CaseError, match=words) as caught:
        loads(TWELVE).with_values(values)
    assert "oak" not in str(caught.value).replace("koa", "")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("offset fourteen-mahogany --neck-wood koa", "--neck-wood koa --density KG_M3 --e-l GPA"),
        ("offset fourteen-mahogany --neck-wood koa --density 610", "koa needs both numbers"),
        ("offset fourteen-mahogany --density 610 --e-l 10", "no wood of your own is named"),
        ("offset fourteen-mahogany --neck-wood maple-sugar --density 610 --e-l 10", "neck.e_l_gpa=GPA"),
        ("offset fourteen-mahogany --neck-wood koa --density 61 --e-l 10", "200 to 1400"),
        ("compare fourteen-mahogany --neck-wood koa,tzalam --density 610 --e-l 10", "2 woods are not in the"),
        ("compare fourteen-mahogany --board-wood koa", "this wood is not in the table"),
        ("woods koa", "this wood is not in the table"),
        ("offset fourteen-mahogany --strings 12,16", "is not a string gauge"),
        ("offset fourteen-mahogany --tuning DADGA", "names 5 courses, the strings have 6"),
        ("offset fourteen-mahogany --tuning H", "write notes like E2"),
        ("strings 12 16 24 32", "write 32w"),
    ],
)
def test_wrong_options(command: Command, line: str, words: str) -> None:
    run = command(*line.split())
    assert run.code == 2
    assert words in run.err
    assert "Traceback" not in run.err


def test_the_tension_table_takes_gauges(command: Command) -> None:
    own = command("strings", *LIGHT.split(), "--tuning", "DADGAD")
    named = command("strings", "light", "--tuning", "D2 A2 D3 G3 A3 D4")
    assert own.code == named.code == 0
    assert own.out.splitlines()[1:9] == named.out.splitlines()[1:9]
    assert "each to about 4 %" in own.out

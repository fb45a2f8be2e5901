"""Names that must stand in a table: woods, strings, shim materials, bars."""

from collections.abc import Iterator

from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.problems import unknown_name
from cases.casefile.schema import Strings
from cases.casefile.stringing import USUAL_TUNING, gauge_text, strings_of
from cases.casefile.wrong_value import shown
from materials.errors import MaterialError
from materials.metal import metal_names
from materials.shim import shim_names
from materials.strings import alloy_names, parse_gauge, set_names, string_set, tensions
from materials.wood import wood_names

GAUGES = '0.006 to 0.160 inch, as "0.012", "0.024w" (wound) or "0.30mm"'


def _woods(values: Values) -> Iterator[Problem]:
    names = wood_names()
    for path in ("neck.wood", "fretboard.wood", "block.wood"):
        if values.given(path) and values.text(path) not in names:
            yield unknown_name(path, values.text(path), names, listed_by="neckpreload woods")


def _string_choice(values: Values) -> Iterator[Problem]:
    named, own = values.given("strings.set"), values.given("strings.gauges_in")
    if not named and not own:
        yield Problem(
            "strings.set",
            "",
            "this key is missing",
            "a name of `neckpreload strings`",
            'add set = "acoustic-light" or the like under [strings], or gauges_in for strings of your own',
        )
    if named and own:
        yield Problem(
            "strings.gauges_in", "", "strings.set is there as well", "a set or own gauges", "take one away"
        )
    if values.given("strings.unit_weights_kg_m") and not own:
        yield Problem(
            "strings.unit_weights_kg_m",
            "",
            "weights go with own gauges",
            "only beside gauges_in",
            "add strings.gauges_in in place of strings.set",
        )


def _set_name(values: Values) -> Iterator[Problem]:
    name = values.text("strings.set")
    try:
        string_set(name)
    except MaterialError:
        yield unknown_name("strings.set", name, set_names(), listed_by="neckpreload strings")


def _alloy(values: Values) -> Iterator[Problem]:
    wound = tuple(name for name in alloy_names() if name not in ("plain-steel", "nylon"))
    if values.text("strings.alloy") not in wound:
        yield unknown_name("strings.alloy", values.text("strings.alloy"), wound)


def _gauges(values: Values) -> Iterator[Problem]:
    gauges = values.entries("strings.gauges_in")
    if not 4 <= len(gauges) <= 12:
        yield Problem(
            "strings.gauges_in",
            f"{len(gauges)} gauges",
            "this is not a number of strings a guitar has",
            "4 to 12, 1st string to last",
            "list each string, or each course as 0.010/0.010",
        )
    weights = values.entries("strings.unit_weights_kg_m") if values.given("strings.unit_weights_kg_m") else ()
    if weights and len(weights) != len(gauges):
        yield Problem(
            "strings.unit_weights_kg_m",
            f"{len(weights)} weights",
            f"there are {len(gauges)} gauges",
            "one weight for each gauge",
            "add or take away",
        )
    for gauge in gauges:
        for part in gauge_text(gauge).split("/") if isinstance(gauge, str | float | int) else ():
            try:
                parse_gauge(part)
            except MaterialError as error:
                remedy = str(error).rpartition("; ")[2]
                yield Problem("strings.gauges_in", shown(gauge), "this is no gauge", GAUGES, remedy)


def _tuning(values: Values) -> Iterator[Problem]:
    # Only strings that are right by themselves can be tuned; what is wrong with them has its own sentence.
    if any([*_string_choice(values), *_alloy(values)]):
        return
    named = values.given("strings.set")
    if any(_set_name(values) if named else _gauges(values)):
        return
    own = ("gauges_in", "unit_weights_kg_m")
    table = {key: values.entries(f"strings.{key}") for key in own if values.given(f"strings.{key}")}
    text = {
        key: values.text(f"strings.{key}")
        for key in ("set", "alloy", "tuning")
        if values.given(f"strings.{key}")
    }
    strings = Strings.model_validate({**table, **text})
    if strings.tuning is None and not named and len(table["gauges_in"]) != 6:
        yield Problem(
            "strings.tuning",
            "",
            "this key is missing",
            "one note for each string, low to high",
            "add it for own strings",
        )
        return
    try:
        tensions(
            strings_of(strings), scale=values.number("instrument.scale_mm") / 1000.0, tuning=strings.tuning
        )
    except MaterialError as error:
        wrong, _, remedy = str(error).partition("; ")
        path, given = "strings.tuning", shown(strings.tuning or USUAL_TUNING)
        allowed = "one note for each string, low to high"
        if wrong.startswith("unit weight"):
            path, given = "strings.unit_weights_kg_m", shown(strings.unit_weights_kg_m)
            allowed = "the mass of a metre of each string, 1st to last"
        yield Problem(path, given, wrong, allowed, remedy)


def _shim_material(values: Values, label: str) -> Iterator[Problem]:
    path = f"shims.{label}.material"
    if values.text(path) not in shim_names():
        yield unknown_name(path, values.text(path), shim_names())


def _bar_material(values: Values, label: str) -> Iterator[Problem]:
    path = f"bars.{label}.material"
    if values.text(path) not in metal_names():
        yield unknown_name(path, values.text(path), metal_names())


CHECKS = (
    _woods,
    _string_choice,
    _set_name,
    _alloy,
    _gauges,
    _tuning,
)
SHIM_CHECKS = (_shim_material,)
BAR_CHECKS = (_bar_material,)

"""Names that must be in a table: woods, strings, shim materials, bars."""

from collections.abc import Callable, Iterator, Sequence

from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.limits.alternatives import one_group
from cases.casefile.limits.bounds import Check
from cases.casefile.problems import unknown_name
from cases.casefile.schema.playing import Strings
from cases.casefile.stringing import NYLON_WRAP, gauge_text, strings_of
from cases.casefile.wrong_value import shown
from materials.counted import counted
from materials.errors import MaterialError
from materials.metal import metal_names
from materials.shim import shim_names
from materials.strings import (
    USUAL_TUNING,
    alloy_names,
    own_string,
    parse_gauge,
    set_names,
    string_set,
    tensions,
)
from materials.table import nearest_names
from materials.wood import wood_names

GAUGES = '0.006 to 0.160 inch, as "12" (thousandths) or "0.012", "24w" (wound), or "0.30mm"'
NOTES = "one note for each string, low to high"


def _listed(path: str, names: Callable[[], Sequence[str]], *, listed_by: str = "") -> Check:
    """Return the check that a name is in its table."""

    def check(values: Values) -> Iterator[Problem]:
        if values.given(path) and values.text(path) not in names():
            yield unknown_name(values.path(path), values.text(path), names(), listed_by=listed_by)

    return check


def _wood(path: str) -> Check:
    """Return the check that a wood is in the table, or among the case's own."""

    def check(values: Values) -> Iterator[Problem]:
        name = values.text(path) if values.given(path) else ""
        if name and name not in (*wood_names(), *values.items("woods")):
            yield unknown_wood(path, name)

    return check


def unknown_wood(path: str, name: str) -> Problem:
    """Say that a wood is not in the table, how to bring one's own, and the names that were perhaps meant."""
    meant = ", ".join(nearest_names(name, wood_names(), least=0.75))
    own = "write one of them; " * bool(meant) + (
        f"for another wood give its density and modulus along the grain: --neck-wood {name or 'NAME'} "
        "--density KG_M3 --e-l GPA, in a file [[woods]] with name, density_kg_m3 and e_l_gpa"
    )
    allowed = f"nearest are {meant}" if meant else "a wood of `neckpreload woods`, or your own"
    return Problem(path, shown(name), "this wood is not in the table", allowed, own)


def _own_name(values: Values) -> Iterator[Problem]:
    path = "woods.*.name"
    if values.text(path).lower() in wood_names():
        wrong, remedy = "the table has a wood of this name", "give yours another, as my-" + values.text(path)
        yield Problem(values.path(path), shown(values.text(path)), wrong, "a new name", remedy)


def _wraps() -> tuple[str, ...]:
    return tuple(name for name in alloy_names() if name not in ("plain-steel", "nylon"))


def _string_choice(values: Values) -> Iterator[Problem]:
    named, own = values.given("strings.set"), values.given("strings.gauges_in")
    if not named and not own:
        remedy = 'add set = "acoustic-light" or the like under [strings], or gauges_in for your own strings'
        yield Problem("strings.set", "", "this key is missing", "a name of `neckpreload strings`", remedy)
    yield from one_group("strings")(values)
    if values.given("strings.unit_weights_kg_m") and not own and not named:
        remedy, allowed = "add strings.gauges_in in place of strings.set", "only beside gauges_in"
        yield Problem("strings.unit_weights_kg_m", "", "weights go with own gauges", allowed, remedy)


def _set_name(values: Values) -> Iterator[Problem]:
    name = values.text("strings.set")
    try:
        string_set(name)
    except MaterialError:
        yield unknown_name("strings.set", name, set_names(), listed_by="neckpreload strings")


_alloy = _listed("strings.alloy", _wraps)


def _gauges(values: Values) -> Iterator[Problem]:
    gauges = values.entries("strings.gauges_in")
    if not 4 <= len(gauges) <= 12:
        wrong, remedy = "no guitar has this many strings", "list each string, or each course as 0.010/0.010"
        yield Problem(
            "strings.gauges_in", counted(len(gauges), "gauge"), wrong, "4 to 12, 1st string to last", remedy
        )
    path = "strings.unit_weights_kg_m"
    weighed = values.given(path)
    weights = values.entries(path) if weighed else gauges
    nylon = values.given("strings.alloy") and values.text("strings.alloy") == NYLON_WRAP
    if len(weights) != len(gauges):
        wrong, allowed = f"for {counted(len(gauges), 'gauge')}", "one weight for each gauge"
        yield Problem(path, counted(len(weights), "weight"), wrong, allowed, "add or remove some")
    for gauge in gauges:
        for part in gauge_text(gauge).split("/") if isinstance(gauge, str | float | int) else ():
            try:
                diameter, wound = parse_gauge(part)
                if not (wound or weighed or nylon):
                    own_string(gauge_in=diameter, wound=False)
            except MaterialError as error:
                wrong, _, remedy = str(error).partition("; ")
                yield Problem("strings.gauges_in", shown(gauge), wrong, GAUGES, remedy)


def _tuning(values: Values) -> Iterator[Problem]:
    # Only strings that are right by themselves can be tuned; other faults have their own sentence.
    named = values.given("strings.set")
    own = _set_name(values) if named else _gauges(values)
    if any([*_string_choice(values), *_alloy(values)]) or any(own):
        return
    lists = [key for key in ("gauges_in", "unit_weights_kg_m") if values.given(f"strings.{key}")]
    texts = [key for key in ("set", "alloy", "tuning") if values.given(f"strings.{key}")]
    table = {key: values.entries(f"strings.{key}") for key in lists}
    text = {key: values.text(f"strings.{key}") for key in texts}
    strings = Strings.model_validate({**table, **text})
    if strings.tuning is None and not named and len(table["gauges_in"]) != 6:
        count = len(table["gauges_in"])
        wrong = f"{count} gauges for the 6 strings of {USUAL_TUNING}"
        allowed = "6 gauges without a tuning"
        remedy = f"add or remove some, or add strings.tuning with {count} notes, low to high"
        yield Problem("strings.gauges_in", "", wrong, allowed, remedy)
        return
    try:
        tensions(
            strings_of(strings), scale=values.number("instrument.scale_mm") / 1000.0, tuning=strings.tuning
        )
    except MaterialError as error:
        wrong, _, remedy = str(error).partition("; ")
        path, given, allowed = "strings.tuning", shown(strings.tuning or USUAL_TUNING), NOTES
        if wrong.startswith("unit weight"):
            path, given = "strings.unit_weights_kg_m", shown(strings.unit_weights_kg_m)
            allowed = "the mass of a metre of each string, 1st to last"
        yield Problem(path, given, wrong, allowed, remedy)


CHECKS: tuple[Check, ...] = (
    *(_wood(f"{part}.wood") for part in ("neck", "fretboard", "block")),
    _string_choice,
    _set_name,
    _alloy,
    _gauges,
    _tuning,
)
SHIM_CHECKS: tuple[Check, ...] = (_listed("shims.*.material", shim_names),)
OWN_WOOD_CHECKS: tuple[Check, ...] = (
    _own_name,
    _listed("woods.*.relative", wood_names, listed_by="neckpreload woods"),
)
BAR_CHECKS: tuple[Check, ...] = (_listed("bars.*.material", metal_names),)

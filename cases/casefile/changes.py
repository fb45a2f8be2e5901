"""Changes to a case for one run: strings by name or gauges, a tuning, a neck wood, single keys."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.casefile.setting import same_twice
from cases.casefile.stringing import strings_of
from materials.counted import counted
from materials.errors import MaterialError
from materials.strings import USUAL_TUNING, parse_gauges, string_set
from materials.wood import wood_names


def string_changes(case: Case, text: str, *, tuned: bool = False) -> dict[str, object]:
    """Return the keys for strings by the name of a set, or by gauges such as `12 16 24w 32w 42w 53w`.

    Gauges keep the tuning of the case; a set brings its own unless the case gives one. Raises `InputError` if
    a gauge is wrong, or their number without another tuning; a wrong name is for `Case.with_values` to
    refuse.

    ``tuned`` : whether another tuning is given beside the strings.
    """
    if not are_gauges(text):
        return {"strings.set": text.strip()}
    gauges = own_gauges(text)
    found: dict[str, object] = {"strings.gauges_in": gauges}
    now = tuning_of(case)
    count = len(now.split())
    if tuned:
        return found
    if count != len(gauges):
        wrong = f"{counted(len(gauges), 'gauge')} for {count} {'courses' if '/' in now else 'strings'}"
        allowed = f"{count} gauges, thin to thick"
        remedy = (
            f"add or remove some, or give --tuning with {counted(len(gauges), 'note')} as well, low to high"
        )
        raise Problem("--strings", f'"{text}"', wrong, allowed, remedy).error(case.name)
    if case.strings.tuning is None and now != USUAL_TUNING:
        found["strings.tuning"] = now
    return found


def own_gauges(text: str) -> tuple[str, ...]:
    """Return the gauges of `--strings`, as `parse_gauges`; `InputError` if one is wrong."""
    try:
        return parse_gauges(text)
    except MaterialError as error:
        wrong, _, remedy = str(error).partition("; ")
        allowed = 'a set of `neckpreload strings`, or gauges thin to thick as "12 16 24w 32w 42w 53w"'
        raise Problem("--strings", f'"{text}"', wrong, allowed, remedy).error() from None


def are_gauges(text: str) -> bool:
    """Whether a text gives gauges rather than the name of a set, as `10-46` does."""
    try:
        string_set(text)
    except MaterialError:
        return text.strip()[:1] in set("0123456789.")
    return False


def tuning_of(case: Case) -> str:
    """Return the notes of a case's strings, low to high, as given or as usual for them."""
    return case.strings.tuning or " ".join("/".join(notes) for notes in strings_of(case.strings).notes[::-1])


def own_wood_keys(
    names: Sequence[str], *, density_kg_m3: float | None, e_l_gpa: float | None
) -> dict[str, object]:
    """Return the keys of a wood of one's own: of the names, the one that the table lacks.

    `InputError` if a number is missing, or not exactly one name is new.
    """
    new = [name for name in names if name.lower() not in wood_names()]
    where, allowed = "--density, --e-l", "one wood that is not in the table, with density and modulus"
    if len(new) != 1:
        wrong = "no wood of your own is named" if not new else f"{len(new)} woods are not in the table"
        remedy = "name one with --neck-wood; for a measured plank write --set neck.e_l_gpa=GPA"
        raise Problem(where, ", ".join(new), wrong, allowed, remedy).error()
    if density_kg_m3 is None or e_l_gpa is None:
        missing = "--density KG_M3" if density_kg_m3 is None else "--e-l GPA"
        raise Problem(where, "", f"{new[0]} needs both numbers", allowed, f"add {missing}").error()
    return {f"woods.{new[0]}.density_kg_m3": density_kg_m3, f"woods.{new[0]}.e_l_gpa": e_l_gpa}


@dataclass(frozen=True)
class Changes:
    """Changes of the command line to a case; None where it makes none."""

    strings: str | None = None
    tuning: str | None = None
    neck_wood: str | None = None
    density_kg_m3: float | None = None
    e_l_gpa: float | None = None

    def made(self, case: Case, settings: Mapping[str, object]) -> Case:
        """Return a case with these changes and settings; `InputError` if one is wrong, or made twice."""
        values = dict(settings)
        for key, value in self.keys(case, tuned="strings.tuning" in values).items():
            if values.setdefault(key, value) != value:
                raise same_twice(key, values[key], value).error()
        return case.with_values(values) if values else case

    def keys(self, case: Case, *, tuned: bool = False) -> dict[str, object]:
        """Keys that these changes set, with their values; ``tuned`` : whether a setting gives the tuning."""
        tuned = tuned or self.tuning is not None
        keys = string_changes(case, self.strings, tuned=tuned) if self.strings is not None else {}
        if self.tuning is not None:
            keys["strings.tuning"] = self.tuning
        if self.neck_wood is not None:
            keys["neck.wood"] = self.neck_wood
        if (self.density_kg_m3, self.e_l_gpa) != (None, None):
            named = [] if self.neck_wood is None else [self.neck_wood]
            keys |= own_wood_keys(named, density_kg_m3=self.density_kg_m3, e_l_gpa=self.e_l_gpa)
        return keys

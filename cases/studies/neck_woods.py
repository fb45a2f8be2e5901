"""Neck woods for one instrument: the offset each needs, its scatter from plank to plank, and a dry winter."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.casefile.files import opened
from cases.casefile.limits.names import unknown_wood
from cases.offset.difference import Solution, change_band, solution
from cases.offset.solve import one_thread
from cases.offset.woods import wood_of
from cases.result import Result
from cases.studies.season import check_range, humid_year
from cases.studies.variants import one_line
from materials.errors import NeckpreloadError
from materials.wood import wood_names

USUAL = ("mahogany-honduran", "mahogany-african", "sapele", "walnut-black", "cherry-black", "maple-sugar")
"""Neck woods that are compared if none is named: common practice, no source."""
Progress = Callable[[int, int], None]
Span = tuple[float, float]


@dataclass(frozen=True)
class WoodNumbers:
    """Results with a neck of one wood.

    ``scatter_deg`` is half the 90 % band of the offset. The three changes of a winter lead from the set-up in
    the middle of the year to its driest air, rod and saddle left alone, bolts kept tight; each has the value
    with neck and board moving alike along the grain, and its range over all assumptions about that.
    """

    e_l_gpa: float
    density_kg_m3: float
    preload_offset_deg: float
    scatter_deg: float
    relief_slack_mm: float
    winter_relief_mm: float
    winter_relief_range_mm: Span
    winter_kink_deg: float
    winter_kink_range_deg: Span
    winter_action_mm: float
    winter_action_range_mm: Span


@dataclass(frozen=True)
class NeckWood:
    """One wood: its numbers, or None and the reason in ``problem``; ``ratios_of`` lends elastic ratios."""

    name: str
    ratios_of: str | None
    numbers: WoodNumbers | None
    problem: str = ""


@dataclass(frozen=True)
class NeckWoods(Result):
    """Neck woods side by side; ``driest`` and ``set_up_at`` are relative humidities [%].

    ``findings`` answers which wood needs the least offset, scatters least and moves least in winter, and how
    far the others are from it.
    """

    case: str
    driest: float
    set_up_at: float
    rows: tuple[NeckWood, ...]
    findings: tuple[str, ...]

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary per wood; a range has two columns."""
        return [_flat(row) for row in self.rows]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {"schema": 1, **asdict(self)}


def _flat(row: NeckWood) -> dict[str, Any]:
    found: dict[str, Any] = {"wood": row.name, "ratios_of": row.ratios_of}
    for name in WoodNumbers.__dataclass_fields__:
        value = getattr(row.numbers, name, None)
        if "_range_" in name:
            low, high = value or (None, None)
            found |= {name.replace("_range", "_low"): low, name.replace("_range", "_high"): high}
        else:
            found[name] = value
    return found | {"problem": row.problem}


@one_thread
def neck_woods(
    case: Case | str | Path,
    woods: Sequence[str] = (),
    *,
    humidity: tuple[float, float] = (30.0, 70.0),
    progress: Progress | None = None,
) -> NeckWoods:
    """Compare neck woods in one instrument.

    A wood with which the instrument cannot be solved has a reason instead of numbers.

    Parameters
    ----------
    case : instrument with strings and set-up, its name or file; its own neck wood is the first row.
    woods : names of the table or of the case's own woods; `USUAL` if none.
    humidity : lowest and highest relative humidity of the year [%].
    progress : called with the number of woods done, and of all woods.

    Raises
    ------
    InputError
        If a name is unknown, or the humidity is no range.
    """
    case = opened(case)
    check_range(case, "--rh", humidity)
    names = tuple(dict.fromkeys((case.neck.wood, *(woods or USUAL))))
    for name in names:
        if name not in (*wood_names(), *(one.name for one in case.woods)):
            raise unknown_wood("--neck-wood", name).error()
    if case.neck.e_l_gpa is not None:
        wrong, allowed = "this plank's modulus is given", "the moduli of the woods"
        remedy = "leave neck.e_l_gpa out of the case"
        raise Problem("neck.e_l_gpa", f"{case.neck.e_l_gpa:g}", wrong, allowed, remedy).error(case.name)
    rows, solved = [], {}
    for done, name in enumerate(names, start=1):
        row, found = _row(case.with_values({"neck.wood": name}), humidity)
        rows.append(row)
        if found is not None:
            solved[name] = found
        if progress is not None:
            progress(done, len(names))
    return NeckWoods(case.name, humidity[0], 0.5 * sum(humidity), tuple(rows), tuple(_findings(rows, solved)))


def _row(case: Case, humidity: tuple[float, float]) -> tuple[NeckWood, Solution | None]:
    cut = wood_of(case, case.neck)
    try:
        found = solution(case)
        winters = humid_year(case, humidity=humidity).courses
    except NeckpreloadError as error:
        return NeckWood(case.neck.wood, cut.ratio_stand_in, None, one_line(error)), None
    low, high = found.answer.preload_offset_band_deg or (0.0, 0.0)
    changes: dict[str, Any] = {}
    for quantity, unit in (("relief", "mm"), ("kink", "deg"), ("action", "mm")):
        states = [getattr(winter, f"{quantity}_{unit}") for winter in winters]
        # the first weather is the driest, the middle one that of the set-up
        moved = [state[0] - state[len(state) // 2] for state in states]
        changes[f"winter_{quantity}_{unit}"] = moved[0]
        changes[f"winter_{quantity}_range_{unit}"] = (min(moved), max(moved))
    numbers = WoodNumbers(
        e_l_gpa=cut.e_l / 1e9,
        density_kg_m3=cut.density,
        preload_offset_deg=found.answer.offset_deg,
        scatter_deg=0.5 * (high - low),
        relief_slack_mm=found.answer.relief.rod_slack_mm,
        **changes,
    )
    return NeckWood(case.neck.wood, cut.ratio_stand_in, numbers), found


def _findings(rows: Sequence[NeckWood], solved: dict[str, Solution]) -> list[str]:
    """The three answers in words."""
    known = {row.name: row.numbers for row in rows if row.numbers is not None}
    if len(known) < 2:
        return []

    def ranked(read: Callable[[WoodNumbers], float]) -> list[str]:
        return sorted(known, key=lambda name: read(known[name]))

    best, next_best = ranked(lambda one: abs(one.preload_offset_deg))[:2]
    low, high = change_band(solved[best], solved[next_best], same_guitar=True)
    sure = "" if low > 0.0 or high < 0.0 else f"; one plank can reverse that against {next_best}"
    found = [f"least offset: {best}, {known[best].preload_offset_deg:+.3f} deg{sure}"]
    calm = ranked(lambda one: one.scatter_deg)
    others = _span([known[name].scatter_deg for name in calm[1:]], "{:.3f}")
    calmest = f"least scatter from plank to plank: {calm[0]}, +/- {known[calm[0]].scatter_deg:.3f} deg"
    still = ranked(lambda one: abs(one.winter_action_mm))
    moved = _span([known[name].winter_action_mm for name in still[1:]], "{:+.2f}")
    quiet = f"moves least in a dry winter: {still[0]}, action {known[still[0]].winter_action_mm:+.2f} mm"
    return [*found, f"{calmest} (the others {others})", f"{quiet} (the others {moved})"]


def _span(values: Sequence[float], form: str) -> str:
    ends = [form.format(end) for end in (min(values), max(values))]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)

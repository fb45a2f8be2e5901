"""Instruments side by side: rod and shims that each needs, and whether the current pair of shims can stay."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.casefile.files import opened
from cases.offset.answer import Answer
from cases.offset.build import MM, mean_radius, string_lines
from cases.offset.difference import Solution, change_band, solution
from cases.offset.solve import one_thread
from cases.result import Result
from cases.studies.load_cases import load_variants, read_load_cases
from cases.studies.variants import Axis, Variant, axes_of, check_axes, named_apart, one_line, variants
from materials.errors import NeckpreloadError

Progress = Callable[[int, int], None]
"""Called with the number of rows done, and of all rows."""


@dataclass(frozen=True)
class CurrentPair:
    """Pair of shims of the first case, and smallest step of its stock [deg]."""

    upper_deg: float
    lower_deg: float
    step_deg: float

    @property
    def offset_deg(self) -> float:
        """Lower minus upper angle [deg]."""
        return self.lower_deg - self.upper_deg


@dataclass(frozen=True)
class Numbers:
    """Results of an instrument.

    ``relief_slack_mm`` is with the rod slack. The action is over fret 12, mean of the strings weighted by
    tension. ``change_deg`` is the offset minus that of the first row, ``change_low_deg`` to
    ``change_high_deg`` its own 90 % band. ``steps`` leads from the current pair to the nearest in stock, in
    steps of the stock, negative = further back; it lies between ``steps_least`` and ``steps_most`` over that
    band. All five are None without a current pair. ``kink_if_kept_deg`` is the kink at pitch on the current
    pair, to first order.
    """

    total_tension_n: float
    relief_slack_mm: float
    relief_mm: float
    action_mm: float
    rod_tension_n: float | None
    rod_torque_n_m: float | None
    heel_stretch_deg: float
    shim_transfer: float
    preload_offset_deg: float
    change_deg: float
    change_low_deg: float | None
    change_high_deg: float | None
    steps: int | None
    steps_least: int | None
    steps_most: int | None
    preload_offset_on_stock_deg: float | None
    kink_if_kept_deg: float | None


@dataclass(frozen=True)
class ComparedInstrument:
    """One instrument: its numbers, or None and the reason in ``verdict``.

    ``keep_pair`` tells whether the current pair may stay, ``verdict`` the same in words; ``difference`` says
    in steps of the stock how sure that is, empty for the first row.
    """

    name: str
    case: str
    changed: Mapping[str, object]
    numbers: Numbers | None
    keep_pair: bool | None
    verdict: str
    difference: str = ""


@dataclass(frozen=True)
class Comparison(Result):
    """Instruments side by side; the first row is the reference."""

    rows: tuple[ComparedInstrument, ...]
    axes: tuple[Axis, ...]
    current_pair: CurrentPair | None
    saddle_fixed: bool

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary per instrument; changed keys by their path, missing numbers as None."""
        empty = dict.fromkeys(Numbers.__dataclass_fields__)
        changed = (key for row in self.rows for key in row.changed)
        keys = dict.fromkeys((*(axis.key for axis in self.axes), *changed))
        return [
            {
                "name": row.name,
                "case": row.case,
                **keys,
                **row.changed,
                **(asdict(row.numbers) if row.numbers else empty),
                "keep_pair": row.keep_pair,
                "verdict": row.verdict,
                "difference": row.difference,
            }
            for row in self.rows
        ]

    def without_result(self) -> dict[str, str]:
        """Requested rows that could not be computed: name and reason.

        A case, a name or a single number must have a result. Of several numbers of one key at least one must
        have a result; such a study shows which of them are possible.
        """
        studied = {axis.key for axis in self.axes if axis.numeric and len(axis.values) > 1}
        families: dict[tuple[object, ...], list[ComparedInstrument]] = {}
        for row in self.rows:
            fixed = tuple(item for item in row.changed.items() if item[0] not in studied)
            families.setdefault((row.case, bool(row.changed), fixed), []).append(row)
        lost = [rows[0] for rows in families.values() if all(row.numbers is None for row in rows)]
        return {row.name: row.verdict for row in lost}

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        pair = asdict(self.current_pair) if self.current_pair else None
        return {"schema": 1, "saddle_fixed": self.saddle_fixed, "pair_in_use": pair, "rows": self.to_rows()}


@one_thread
def compare(
    *cases: Case | str | Path,
    neck_wood: Sequence[str] = (),
    board_wood: Sequence[str] = (),
    strings: Sequence[str] = (),
    scale_mm: Sequence[float] = (),
    tuning: Sequence[str] = (),
    vary: Mapping[str, Sequence[float]] | None = None,
    load_cases: str | Path | None = None,
    saddle_fixed: bool = False,
    progress: Progress | None = None,
) -> Comparison:
    """Compare cases, each unchanged and with every combination of the given changes.

    An instrument that is impossible or cannot be solved has a reason instead of numbers.

    Parameters
    ----------
    cases : cases, their names or files; the first is the reference.
    neck_wood, board_wood : names of woods.
    strings : names of string sets, or gauges such as `12 16 24w 32w 42w 53w`.
    tuning : tunings low to high; without them a set brings its own, and gauges keep that of the case.
    scale_mm : scale lengths [mm].
    vary : one or two keys of the case with their numbers.
    load_cases : file of load cases, see `cases.studies.load_cases`; each is a row more for each case.
    saddle_fixed : whether all rows keep the saddle height of the first, so that the action changes; otherwise
        the saddle is cut to the action of each case.
    progress : called with the number of rows done, and of all rows.

    Raises
    ------
    InputError
        If an argument is wrong.
    NeckpreloadError
        If the first case cannot be solved, or has no preload offset.
    """
    if not cases:
        wrong, remedy = "no case is given", "name one, for example fourteen-mahogany"
        raise Problem("compare", "", wrong, "one case or more", remedy).error()
    loaded = list(map(opened, cases))
    axes = axes_of(
        neck_wood=neck_wood,
        board_wood=board_wood,
        strings=strings,
        scale_mm=scale_mm,
        vary=vary or {},
        tuning=tuning,
        own_woods=[one.name for one in loaded[0].woods],
    )
    check_axes(loaded[0], axes)
    loads = read_load_cases(load_cases) if load_cases is not None else {}
    wanted = tuple(named_apart((*variants(loaded, axes), *load_variants(loaded, loads))))
    first = solution(loaded[0])
    kept = _saddle(loaded[0], first.answer) if saddle_fixed else {}
    pair = current_pair(loaded[0], first.answer)
    solved: dict[str, Solution] = {loaded[0].sha256: first}
    rows = []
    for done, variant in enumerate(wanted, start=1):
        own_kept = kept if done > 1 else {}
        rows.append(_row(variant, solved=solved, kept=own_kept, first=first, pair=pair))
        if progress is not None:
            progress(done, len(wanted))
    return Comparison(tuple(rows), axes, pair, saddle_fixed)


def current_pair(case: Case, answer: Answer) -> CurrentPair | None:
    """The pair in stock that a case's answer shows; None if stock has none."""
    angles = case.stock.angles_deg()
    if answer.preload_offset_on_stock_deg is None or len(angles) < 2:
        return None
    upper, lower = (shim.angle_deg for shim in answer.shims)
    return CurrentPair(upper, lower, min(b - a for a, b in pairwise(angles)))


def judge(pair: CurrentPair | None, numbers: Numbers) -> tuple[bool | None, str]:
    """Whether the current pair may stay, and the verdict in words.

    It may stay within one step of the needed offset, where its kink is no larger than the change to the next
    pair. Beyond one step the verdict is the pair nearest the new offset, even if the offset itself changed by
    less: the current pair was up to half a step off before.
    """
    if pair is None:
        return None, "the first case has no pair in stock"
    missed = abs(numbers.preload_offset_deg - pair.offset_deg)
    change = _change(numbers.change_deg, step=pair.step_deg)
    small = abs(numbers.change_deg) < pair.step_deg
    if missed < pair.step_deg:
        reason = "less than one step" if small else "but the current pair is within one step of it"
        return True, f"{change}, {reason}: keep the pair"
    if small:
        off = _digits(missed, step=pair.step_deg)
        change += f", less than one step, but the current pair is then {off} deg off, one step or more"
    stock = numbers.preload_offset_on_stock_deg
    if stock is None:
        return False, f"{change}, and stock has no pair for {numbers.preload_offset_deg:+.2f} deg: add angles"
    lower = pair.upper_deg + stock
    return False, f"{change}: take lower {lower:+.2f} to upper {pair.upper_deg:+.2f} deg"


def _change(change_deg: float, *, step: float) -> str:
    sign = "-" if change_deg < 0.0 else "+"
    size = _digits(abs(change_deg), step=step)
    return f"change {sign if float(size) else ''}{size} deg"


def _digits(size_deg: float, *, step: float) -> str:
    """A size to two decimals; three near a step, to show on which side of it the size is."""
    return f"{size_deg:.{3 if abs(size_deg - step) < 0.005 else 2}f}"


def _saddle(case: Case, answer: Answer) -> dict[str, object]:
    """Keys that fix the saddle at the height of a solved case, under its strings."""
    underside = answer.saddle_height_mm - mean_radius(string_lines(case)) / MM
    return {"setup.mode": "saddle-fixed", "setup.saddle_height_mm": underside}


def _row(
    variant: Variant,
    *,
    solved: dict[str, Solution],
    kept: Mapping[str, object],
    first: Solution,
    pair: CurrentPair | None,
) -> ComparedInstrument:
    empty = ComparedInstrument(
        variant.name, variant.start.name, variant.changed, None, None, variant.problem or ""
    )
    if variant.case is None:
        return empty
    try:
        case = variant.case.with_values(kept) if kept else variant.case
        if case.sha256 not in solved:
            solved[case.sha256] = solution(case)
        numbers = _numbers(
            solved[case.sha256], first=first, pair=pair, same_guitar=variant.start == first.case
        )
    except NeckpreloadError as error:
        return replace(empty, verdict=one_line(error))
    keep, verdict = judge(pair, numbers)
    sure = difference(numbers, keep=keep)
    return replace(empty, numbers=numbers, keep_pair=keep, verdict=verdict, difference=sure)


def difference(numbers: Numbers, *, keep: bool | None) -> str:
    """The change of the offset with its own uncertainty, in steps of the stock; empty without one."""
    steps, least, most = numbers.steps, numbers.steps_least, numbers.steps_most
    low, high = numbers.change_low_deg, numbers.change_high_deg
    if steps is None or least is None or most is None or low is None or high is None:
        return ""
    band = f"the difference is {low:+.2f} to {high:+.2f} deg in 90 % of guitars"
    way = {-1: "further back", 0: "either way", 1: "further forward"}[(steps > 0) - (steps < 0)]
    if keep or steps == 0:
        return f"{band}: at most {_steps(most)} {way}" if most else f"{band}: surely no step"
    sure = f"surely at least {_count(least)}" if least else "though perhaps none"
    more = f", at most {_count(most)}" if most > abs(steps) else ""
    return f"{band}: {_steps(abs(steps))} {way}, {sure}{more}"


def _count(steps: int) -> str:
    return ("no", "one", "two", "three", "four", "five")[steps] if steps <= 5 else f"{steps}"


def _steps(steps: int) -> str:
    return f"{_count(steps)} step{'' if steps == 1 else 's'}"


def _in_steps(first: Solution, pair: CurrentPair, changes: Sequence[float]) -> list[int]:
    """Steps of stock from the current pair to the one nearest the first offset after each change."""
    start = first.answer.offset_deg - pair.offset_deg
    return [round((start + change) / pair.step_deg) for change in changes]


def _change_fields(
    one: Solution, *, first: Solution, pair: CurrentPair | None, same_guitar: bool
) -> dict[str, Any]:
    change = one.answer.offset_deg - first.answer.offset_deg
    names = ("change_low_deg", "change_high_deg", "steps", "steps_least", "steps_most")
    if pair is None or one is first:
        return {"change_deg": change, **dict.fromkeys(names)}
    band = change_band(first, one, same_guitar=same_guitar)
    steps, *ends = _in_steps(first, pair, (change, *band))
    same_way = ends[0] * ends[1] > 0
    least, most = min(map(abs, ends)) if same_way else 0, max(map(abs, ends))
    return {"change_deg": change, **dict(zip(names, (*band, steps, least, most), strict=True))}


def _numbers(one: Solution, *, first: Solution, pair: CurrentPair | None, same_guitar: bool) -> Numbers:
    answer = one.answer
    missed = None if pair is None else pair.offset_deg - answer.offset_deg
    return Numbers(
        **_change_fields(one, first=first, pair=pair, same_guitar=same_guitar),
        total_tension_n=answer.strings.total_tension_n,
        relief_slack_mm=answer.relief.rod_slack_mm,
        relief_mm=answer.relief.set_mm,
        action_mm=answer.action_mm,
        rod_tension_n=answer.rod.tension_n,
        rod_torque_n_m=answer.rod.torque_n_m,
        heel_stretch_deg=answer.heel_stretch_deg,
        shim_transfer=answer.shim_transfer or 0.0,
        preload_offset_deg=answer.offset_deg,
        preload_offset_on_stock_deg=answer.preload_offset_on_stock_deg,
        kink_if_kept_deg=None if missed is None else (answer.shim_transfer or 0.0) * missed,
    )

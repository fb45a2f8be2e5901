"""Years under the strings: creep of the woods, its effect on relief, kink, action and rod, and how far saddle
and shims can still compensate it (docs/drift.md).
"""

from dataclasses import asdict, dataclass, fields, replace
from math import degrees
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.casefile.files import opened
from cases.offset.build import MM
from cases.offset.scatter import stiffened
from cases.offset.solve import one_thread
from cases.result import Result
from cases.studies.aging import SetUp, mean_action_mm, question_with, readjusted, set_up, untouched
from cases.studies.season import Season, check_range, humid_year, warm_year
from fem.geometry.outline import Array
from fem.solve.offset import Question
from materials.creep import (
    ACROSS_GRAIN_BAND,
    ACROSS_GRAIN_FACTOR,
    CREEP_BAND,
    DESIGN_LIFE_YEARS,
    KelvinChain,
    kelvin_chain,
)
from materials.wood import Wood

SOLVED_CREEPS = (0.12, 0.3, 0.6, 1.0)
"""Creeps solved besides zero, over the largest of the study; a monotone cubic interpolates between them."""
FIRST_DAY = 1.0 / 365.25
POINTS = 33
NOT_OVER_TIME = ("k_def", "saddle_years", "stock_years")


@dataclass(frozen=True)
class Scenario:
    """One scenario of creep, which reaches ``k_def`` after 50 years; tuples run over the years of the study.

    Left alone: relief, kink, action, rod tension (couple for a two-way rod), and the weakest bolt's tension
    over that at set-up. Readjusted (``anew``): rod, kink, and how far the saddle is cut down.
    """

    k_def: float
    phi: tuple[float, ...]
    relief_mm: tuple[float, ...]
    kink_deg: tuple[float, ...]
    action_mm: tuple[float, ...]
    rod: tuple[float, ...]
    bolt_share: tuple[float, ...]
    rod_anew: tuple[float, ...]
    kink_anew_deg: tuple[float, ...]
    saddle_cut_mm: tuple[float, ...]
    saddle_years: float | None
    stock_years: float | None


@dataclass(frozen=True)
class Drift(Result):
    """Effect of years and seasons on an instrument.

    Attributes
    ----------
    courses : scenarios at the low, middle and high end of the creep band.
    rod_unit : unit of the rod's numbers.
    saddle_room_mm, stock_room_deg : how far the saddle can be cut down and the shims in stock lean the neck
      back.
    across_band_deg : kink after the last year, middle scenario, for both ends of the band of creep across the
      grain.
    """

    case: str
    years: tuple[float, ...]
    courses: tuple[Scenario, ...]
    rod_unit: str
    relief_set_mm: float
    action_set_mm: float
    saddle_room_mm: float
    stock_room_deg: float
    across_band_deg: tuple[float, float]
    humid: Season | None
    warm: Season | None

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {"schema": 1, **asdict(self)}

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary for each time of each scenario."""
        names = [one.name for one in fields(Scenario) if one.name not in NOT_OVER_TIME]
        return [
            {"k_def": course.k_def, "years": years, **{name: getattr(course, name)[at] for name in names}}
            for course in self.courses
            for at, years in enumerate(self.years)
        ]

    def _column_units(self) -> dict[str, str]:
        """Units of the rod's columns."""
        return {"rod": self.rod_unit, "rod_anew": self.rod_unit}


@one_thread
def drift(
    case: Case | str | Path,
    *,
    years: float = 20.0,
    humidity: tuple[float, float] | None = (30.0, 70.0),
    temperature: tuple[float, float] | None = (15.0, 30.0),
) -> Drift:
    """Follow an instrument through years and seasons.

    Parameters
    ----------
    case : instrument with strings and set-up, its name or file.
    years : time under the strings, 0.1 to 50 [years].
    humidity : lowest and highest relative humidity of the year [%]; None for no humid season.
    temperature : lowest and highest room temperature of the year [degC]; None for no warm season.

    Raises
    ------
    CaseError
        If years are outside 0.1 to 50, or a range is impossible.
    ModelError, ConvergenceError
        If the case cannot be solved.
    """
    case = opened(case)
    if not 0.1 <= years <= DESIGN_LIFE_YEARS:
        wrong, remedy = "outside the range of the creep data", "give fewer or more"
        raise Problem("--years", f"{years:g}", wrong, "0.1 to 50", remedy).error(case.name)
    if humidity is not None:
        check_range(case, "--rh", humidity)
    if temperature is not None:
        check_range(case, "--temperature", temperature)
    start = set_up(case)
    times = np.concatenate([[0.0], np.geomspace(FIRST_DAY, years, POINTS)])
    chains = {k_def: kelvin_chain(k_def=k_def) for k_def in CREEP_BAND}
    most = max(chain.at(years) for chain in chains.values())
    curve = creep_curve(start, most=most)
    room = (case.bridge.saddle_projection_mm - case.bridge.saddle_lowest_mm) * MM
    lever = start.question.strings.saddle - float(start.question.line.x[start.question.line.joint - 1])
    stock = stock_room(start)
    middle = chains[CREEP_BAND[1]].at(years)
    across = [
        degrees(untouched(start, crept(start, middle, across=factor), start.kept).kink)
        for factor in ACROSS_GRAIN_BAND
    ]
    return Drift(
        case=case.name,
        years=tuple(float(t) for t in times),
        courses=tuple(
            _scenario(start, chains[k_def], curve, times=times, rooms=(room, stock * lever), k_def=k_def)
            for k_def in CREEP_BAND
        ),
        rod_unit={"two-way": "N m", "one-way": "N"}.get(case.rod.kind, ""),
        relief_set_mm=start.question.line.relief(start.question.heights(start.offset.pair.strung))[0] / MM,
        action_set_mm=mean_action_mm(case),
        saddle_room_mm=room / MM,
        stock_room_deg=degrees(stock),
        across_band_deg=(min(across), max(across)),
        humid=None if humidity is None else humid_year(case, humidity=humidity),
        warm=None if temperature is None else warm_year(case, temperature=temperature),
    )


def stock_room(start: SetUp) -> float:
    """How far the shims in stock can still lean the neck back, all changed by the same angle [rad]."""
    lowest = np.radians(start.case.stock.angles_deg()[0])
    angles = [start.offset.pair.angles[k] for k in start.question.shims]
    return max(float(min(angles) - lowest), 0.0)


def crept(start: SetUp, phi: float, *, across: float = ACROSS_GRAIN_FACTOR) -> Question:
    """Question after creep: woods are softer by ``1 + phi`` along the grain, by ``1 + across phi`` across it
    and in shear; shims and bedding as across. Steel and strings do not creep.
    """
    side = 1.0 / (1.0 + across * phi)

    def older(wood: Wood) -> Wood:
        return wood.scaled(along=1.0 / (1.0 + phi), across=side, shear=side)

    question = question_with(start, start.woods.changed(older))
    return replace(question, pads=tuple(stiffened(pad, side) for pad in question.pads))


def creep_curve(start: SetUp, *, most: float) -> PchipInterpolator:
    """Readings as functions of the creep along the grain, 0 to ``most``.

    Left alone: relief, kink, change of action, rod, weakest bolt; readjusted: rod, kink, rise of the saddle.
    """
    creeps = most * np.array(SOLVED_CREEPS)
    rows = []
    for question in (start.question, *(crept(start, float(phi)) for phi in creeps)):
        left, again = untouched(start, question, start.kept), readjusted(question, start.kept)
        rows.append(
            [
                *(left.relief, left.kink, left.action_change, left.rod, left.bolt_shares.min()),
                *(again.rod, again.kink, again.saddle_rise),
            ]
        )
    return PchipInterpolator(np.append(0.0, creeps), np.array(rows))


def _scenario(
    start: SetUp,
    chain: KelvinChain,
    curve: PchipInterpolator,
    *,
    times: Array,
    rooms: tuple[float, float],
    k_def: float,
) -> Scenario:
    phi = np.array([chain.at(t) for t in times])
    relief, kink, action, rod, bolts, rod_anew, kink_anew, saddle = curve(phi).T
    cut = -saddle

    def row(values: Array, unit: float = 1.0) -> tuple[float, ...]:
        return tuple(float(value) for value in values / unit)

    return Scenario(
        k_def=k_def,
        phi=row(phi),
        relief_mm=row(relief, MM),
        kink_deg=row(np.degrees(kink)),
        action_mm=row(action / MM + mean_action_mm(start.case)),
        rod=row(rod),
        bolt_share=row(bolts),
        rod_anew=row(rod_anew),
        kink_anew_deg=row(np.degrees(kink_anew)),
        saddle_cut_mm=row(cut, MM),
        saddle_years=years_until(times, cut, room=rooms[0]),
        stock_years=years_until(times, cut, room=sum(rooms)),
    )


def years_until(times: Array, used: Array, *, room: float) -> float | None:
    """First time at which a growing demand exceeds the room for it; None if not within the study."""
    beyond = np.flatnonzero(used > room)
    if len(beyond) == 0:
        return None
    k = int(beyond[0])
    if k == 0:
        return 0.0
    part = (room - used[k - 1]) / (used[k] - used[k - 1])
    return float(times[k - 1] + part * (times[k] - times[k - 1]))

"""Charts of the page as SVG: budget, curvature, joint, profiles of two necks, trend."""

from collections.abc import Sequence
from html import escape

import numpy as np

from cases.bench.learning.trend import Chart
from cases.show.budget_bars import BudgetBar
from cases.studies.curvature import FlexLine
from fem.geometry.outline import Array

WIDE, TALL = 640.0, 230.0
LEFT, RIGHT, TOP, FOOT = 62.0, 14.0, 16.0, 40.0
SHADES = 10
"""Shades of the budget, `part-0` to `part-9` of the style sheet."""


def _svg(words: str, body: str, *, tall: float = TALL, wide: float = WIDE) -> str:
    return (
        f'<svg class="chart" role="img" aria-label="{escape(words)}" xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 0 {wide:.0f} {tall:.0f}">{body}</svg>'
    )


class _Frame:
    """Axes of a line chart: from values to places in the picture."""

    def __init__(
        self, x: tuple[float, float], y: tuple[float, float], *, tall: float = TALL, wide: float = WIDE
    ) -> None:
        room = 0.06 * (y[1] - y[0]) or 1.0
        self.x, self.y, self.tall, self.wide = x, (y[0] - room, y[1] + room), tall, wide

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Place of a point in the picture."""
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return LEFT + across * (self.wide - LEFT - RIGHT), self.tall - FOOT - up * (self.tall - TOP - FOOT)

    def line(self, x: Sequence[float] | Array, y: Sequence[float] | Array, look: str) -> str:
        """A line through points."""
        places = "L".join("{:.1f} {:.1f}".format(*self.at(*one)) for one in zip(x, y, strict=True))
        return f'<path class="{look}" d="M{places}"/>'

    def level(self, y: float, look: str) -> str:
        """A line at one height."""
        return self.line(self.x, (y, y), look)

    def upright(self, x: float, look: str) -> str:
        """A line at one position."""
        return self.line((x, x), self.y, look)

    def ticks(self, *, down: str, across: str, marks: Sequence[tuple[float, str]]) -> str:
        """Both scales: round values on the left, the given marks below."""
        texts = [f'<text class="tick" x="{LEFT}" y="12">{escape(down)}</text>']
        for value in nice_ticks(*self.y):
            x, y = self.at(self.x[0], value)
            texts.append(f'<path class="grid" d="M{LEFT:.1f} {y:.1f}H{self.wide - RIGHT:.1f}"/>')
            texts.append(f'<text class="tick end" x="{x - 6:.1f}" y="{y + 4:.1f}">{value:.6g}</text>')
        for value, word in marks:
            x, y = self.at(value, self.y[0])
            texts.append(f'<text class="tick middle" x="{x:.1f}" y="{y + 15:.1f}">{escape(word)}</text>')
        x, y = 0.5 * (LEFT + self.wide), self.tall - 6.0
        texts.append(f'<text class="tick middle" x="{x:.1f}" y="{y:.1f}">{escape(across)}</text>')
        return "".join(texts)


def nice_ticks(low: float, high: float) -> tuple[float, ...]:
    """About four round values between two limits.

    >>> nice_ticks(-0.13, 0.42)
    (0.0, 0.2, 0.4)
    """
    rough = (high - low) / 4.0
    size = float(10.0 ** np.floor(np.log10(rough)))
    step = size * min((one for one in (1.0, 2.0, 5.0, 10.0) if one * size >= rough), default=10.0)
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return tuple(round(number * step, 12) + 0.0 for number in range(first, last + 1))


def budget_svg(bar: BudgetBar) -> str:
    """One bar of the flex budget, negative parts left of zero."""
    percent = bar.percent
    low = min(0.0, sum(one for one in percent if one < 0.0))
    high = max(100.0, sum(one for one in percent if one > 0.0))
    scale = (WIDE - 20.0) / (high - low)
    right = left = 0.0
    parts = []
    for number, (name, one) in enumerate(zip(bar.parts, percent, strict=True)):
        start = right if one >= 0.0 else left + one
        x, width = 10.0 + (start - low) * scale, abs(one) * scale
        parts.append(
            f'<rect class="part-{number % SHADES}" x="{x:.1f}" y="6" width="{width:.1f}" height="40">'
            f"<title>{escape(name)} {one:.0f} %</title></rect>"
        )
        right, left = (right + one, left) if one >= 0.0 else (right, left + one)
    zero = 10.0 - low * scale
    parts.append(f'<path class="axis" d="M{zero:.1f} 0V52"/>')
    said = ", ".join(f"{name} {one:.0f} per cent" for name, one in zip(bar.parts, percent, strict=True))
    return _svg(f"{bar.title} by part: {said}", "".join(parts), tall=54.0)


def curvature_svg(line: FlexLine) -> str:
    """Curvature along the neck at pitch [1/km]: bending of the shaft, and the fretboard at the frets."""
    shaft, board = 1e3 * line.curvature_per_m, 1e3 * line.board_curvature_per_m
    frame = _Frame(
        (0.0, float(line.board_x_mm[-1])),
        (float(min(shaft.min(), board.min(), 0.0)), float(max(shaft.max(), board.max()))),
    )
    joint = float(line.fret_x_mm[line.joint - 1])
    marks = [(float(line.fret_x_mm[n - 1]), str(n)) for n in (1, 3, 5, 7, 9, 12) if n < line.joint - 1]
    marks.append((joint, f"{line.joint} joint"))
    body = [
        frame.ticks(down="curvature [1/km], positive bows forward", across="fret", marks=marks),
        frame.level(0.0, "axis"),
        frame.upright(joint, "joint"),
        frame.line(line.board_x_mm, board, "line-b"),
        frame.line(line.x_mm, shaft, "line-a"),
    ]
    peak = float(line.x_mm[int(np.argmax(shaft))])
    words = f"Curvature along the neck at pitch; largest in the shaft {peak:.0f} mm from the nut."
    return _svg(words, "".join(body))


LEAST_JOINT_MM = 0.1
"""Smallest range of the joint's picture to either side [mm], so that a straight neck looks straight."""


def joint_svg(x_mm: Array, over_mm: Array, tongue_mm: Array, *, joint: int) -> str:
    """The joint enlarged: crowns above the shaft line, bow removed, true size, and the tongue line."""
    first = max(0, joint - 7)
    high = max(LEAST_JOINT_MM, float(np.abs(over_mm[first:]).max()))
    frame = _Frame((float(x_mm[first]) - 6.0, float(x_mm[-1]) + 6.0), (-high, high), tall=200.0, wide=430.0)
    numbers = [n for n in range(first + 1, len(x_mm) + 1) if (n - joint) % 2 == 0]
    marks = [(float(x_mm[n - 1]), f"{n} joint" if n == joint else str(n)) for n in numbers]
    body = [
        frame.ticks(down="crowns above the shaft line [mm], true size", across="fret", marks=marks),
        frame.upright(float(x_mm[joint - 1]), "joint"),
        frame.level(0.0, "line-a"),
        frame.line(x_mm[[joint - 1, -1]], tongue_mm, "line-b"),
    ]
    for x, z in zip(x_mm[first:], over_mm[first:], strict=True):
        across, up = frame.at(float(x), float(z))
        body.append(f'<circle class="dot" cx="{across:.1f}" cy="{up:.1f}" r="3.4"/>')
    words = f"Joint: the last crown lies {float(over_mm[-1]):+z.2f} mm above the shaft line."
    return _svg(words, "".join(body), tall=200.0, wide=430.0)


def profiles_svg(
    x_mm: Sequence[Sequence[float]], heights_mm: Sequence[Sequence[float]], names: Sequence[str]
) -> str:
    """Crown heights of several necks at pitch [mm]."""
    frame = _Frame(
        (0.0, max(x[-1] for x in x_mm)),
        (min(min(z) for z in heights_mm), max(max(z) for z in heights_mm)),
    )
    body = [frame.ticks(down="crowns at pitch, rise from the unloaded state [mm]",
                        across="distance from the nut [mm]",
                        marks=[(value, f"{value:.0f}") for value in nice_ticks(*frame.x)])]  # fmt: skip
    for number, (x, z) in enumerate(zip(x_mm, heights_mm, strict=True)):
        body.append(frame.line(x, z, f"line-{'ab'[number % 2]}"))
    return _svg("Crown heights at pitch of " + " and ".join(names), "".join(body))


def trend_svg(chart: Chart) -> str:
    """A control chart: points, smoothed line, limits; alarms ringed."""
    values = chart.values
    limits = chart.limits
    low, high = limits.individuals
    frame = _Frame((0.5, len(values) + 0.5), (min(*values, low), max(*values, high)))
    numbers = [float(n) for n in range(1, len(values) + 1)]
    marks = [(value, f"{value:.0f}") for value in nice_ticks(0.5, len(values) + 0.5) if value >= 1]
    body = [frame.ticks(down=f"{chart.kind.replace('_', ' ')}, measured minus predicted [{chart.unit}]",
                        across="guitar, oldest first", marks=marks)]  # fmt: skip
    body += [frame.level(limits.centre, "axis"), frame.level(low, "limit"), frame.level(high, "limit")]
    body.append(frame.line(numbers, chart.smoothed, "line-a"))
    for number, value in zip(numbers, values, strict=True):
        x, y = frame.at(number, value)
        body.append(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="3"/>')
    for alarm in chart.alarms:
        x, y = frame.at(alarm.raised + 1.0, chart.smoothed[alarm.raised])
        body.append(f'<circle class="alarm" cx="{x:.1f}" cy="{y:.1f}" r="8"/>')
    words = f"{chart.kind}: {len(values)} guitars, mean difference {limits.centre:+z.3f} {chart.unit}"
    return _svg(words, "".join(body))

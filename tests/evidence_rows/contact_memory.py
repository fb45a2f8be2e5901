"""What friction and crushed wood leave behind: hysteresis loops and a dent, against closed forms."""

from dataclasses import replace

import numpy as np
from skfem import MeshQuad

from fem.geometry.outline import Array
from fem.joint.shim_layer import Layer, indentation, stick_points
from fem.solve.equilibrium import Bolting, State, Strings, Targets, bolt_up, string_up
from fem.solve.newton import Problem, solve
from tests.cantilever import EA, LENGTH, instrument
from tests.evidence_rows.mutation import kept_until_broken
from tests.two_bodies import rig

FRICTION, PUSH, TANGENTIAL, MOST = 0.3, 1000.0, 1e7, 6000.0
CAP = FRICTION * PUSH
"""A slider: largest friction force [N] behind a layer of stiffness `TANGENTIAL` [N/m]; largest pull."""


def pulled(tensions: list[float]) -> tuple[list[float], list[State]]:
    """A bar pulled along at its end, where one seat with friction holds it: end movement [m] and states."""
    flexibility, line = instrument()
    matrix = flexibility.matrix.copy()
    end, slip = flexibility.at["nut u"][0], flexibility.at["slip"][0]
    matrix[slip], matrix[:, slip] = matrix[end], matrix[:, end]
    matrix[slip, slip] = matrix[end, end]
    flexibility = replace(flexibility, matrix=matrix)
    law = Layer(np.array([PUSH / 1e7]), np.array([1e7]), np.array([TANGENTIAL]), np.array([FRICTION]))
    bolting = Bolting(np.array([PUSH]), np.array([1e7]))
    state = bolted = bolt_up(flexibility, law, bolting)
    ends, states = [], []
    for tension in tensions:
        state = string_up(
            flexibility,
            law,
            bolting,
            bolted=bolted,
            line=line,
            strings=Strings(tension, 0.0, 2 * LENGTH),
            wanted=Targets(relief=None, rod=0.0, height=None, saddle_height=0.0, height_x=0.1),
            after=state,
        )
        ends.append(float(state.displacements[end]))
        states.append(state)
    return ends, states


def area(along: Array, force: Array) -> float:
    """Work around a closed path."""
    return float(np.sum(0.5 * (force[1:] + force[:-1]) * np.diff(along)))


def slider_loss() -> float:
    """Work lost in a cycle of the pull between `MOST` and zero [J]."""
    up, down = np.linspace(0.0, MOST, 301), np.linspace(MOST, 0.0, 301)[1:]
    tensions = np.concatenate([up, down, up[1:]])
    ends, _ = pulled(tensions.tolist())
    return area(np.array(ends[300:]), tensions[300:])


def slider_loss_outside() -> float:
    """4 mu P (U - mu P / k); half the range of the pull is what the bar beside it takes, plus mu P."""
    half = (0.5 * MOST - CAP) / (EA / LENGTH)
    return 4.0 * CAP * (half - CAP / TANGENTIAL)


BAR, BAR_LENGTH, PER_LENGTH, BAR_PULL = 1e6, 0.1, 15e3, 1200.0
"""A bar on a bed: EA [N], length [m], greatest friction per length [N/m] and largest pull [N]."""


@kept_until_broken
def bar_on_a_bed(points: int = 100) -> tuple[Array, Array]:
    """End movement [m] and force [N] on an elastic bar on an evenly pressed bed with friction: pulled, then
    twice pushed and pulled.
    """
    up = np.linspace(0.0, BAR_PULL, 31)
    forces = np.concatenate([up, up[-2::-1], -up[1:], -up[-2::-1], up[1:]])
    each, spring = np.ones(points), BAR / (BAR_LENGTH / points)
    step = np.diff(np.eye(points), axis=0)
    ground = 1e6 * each
    c = np.zeros((2 * points, 2 * points))
    c[points:, points:] = np.linalg.inv(spring * step.T @ step + np.diag(ground))
    push = PER_LENGTH * BAR_LENGTH / points / FRICTION
    law = Layer(push / 1e9 * each, 1e9 * each, 1e11 * each, FRICTION * each)
    displacements, stuck, ends = np.zeros(2 * points), np.zeros(points), []
    for force in forces:
        problem = Problem(
            c=c,
            base=force * c[:, -1],
            columns=np.zeros((2 * points, 0)),
            conditions=(),
            opening=np.arange(points),
            slip=np.arange(points, 2 * points),
            bolt=np.zeros(0, dtype=int),
            reference=np.tile(ground, 2),
            law=law,
            stuck_at=stuck,
            locked=np.zeros(0),
            bolt_stiffness=np.zeros(0),
        )
        found = solve(problem, displacements=displacements, settings=np.zeros(0))
        displacements = found.displacements
        stuck = stick_points(law, displacements[points:], found.contact)
        ends.append(float(displacements[-1]))
    return np.array(ends), forces


def bar_loss() -> float:
    """Work lost in a cycle between pull and push [J]."""
    ends, forces = bar_on_a_bed()
    return area(ends[30:], forces[30:])


LEAST, LIMIT, EVEN, WIDTH, BED = 10.0, 40.0, 12.0, 60.0, 100.0
"""A foot: least pressure and strength [N/mm2], length at the strength and whole length [mm], bed [N/mm3]."""
RISING = WIDTH - EVEN


def dent() -> float:
    """Depth of the dent at the last point of a bed that yields under a foot off its middle [mm]."""
    lines = np.linspace(0, WIDTH, 61)
    upper = MeshQuad.init_tensor(lines, np.linspace(0, 20, 3))
    lower = MeshQuad.init_tensor(lines, np.array([-10.0, 0.0]))
    strip = rig(upper, lower, young=(1e8, 1e8), pad=(0.0, WIDTH), floor=-10.0)
    lost = 0.5 * (LIMIT - LEAST) * RISING
    load = (LIMIT * WIDTH - lost, 0.0, lost * (0.5 * WIDTH - RISING / 3.0))
    law = strip.layer(bed=BED)
    start = strip.press(law, load).displacements
    yielding = replace(law, limit=LIMIT * strip.points.area)
    found = strip.press(yielding, load, start=start)
    return float(indentation(yielding, found.displacements[: strip.count]).max())


OURS = {
    "contact-slider-loop": slider_loss,
    "contact-bar-slip": lambda: bar_on_a_bed()[0][30],
    "contact-bar-loop": bar_loss,
    "contact-foot-dent": dent,
}
OUTSIDE = {
    "contact-slider-loop": slider_loss_outside,
    "contact-bar-slip": BAR_PULL**2 / (2.0 * BAR * PER_LENGTH),
    "contact-bar-loop": 2.0 * BAR_PULL**3 / (3.0 * BAR * PER_LENGTH),
    # the last of two Gauss points in a cell of 1 mm
    "contact-foot-dent": (LIMIT - LEAST) / (BED * RISING) * (EVEN - 0.5 * (1.0 - 3.0**-0.5)),
}

"""What scatters from guitar to guitar: declared once, for the band of the offset, `spread`, bench and
`sensitivity` (docs/spread.md).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log, sqrt

import numpy as np

from cases.casefile.case import Case
from cases.offset.build import string_lines, string_weights
from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.many.moduli import NAMES
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question

NINETY = 1.6449
"""Half-width of a normal distribution's central 90 % band, in standard deviations."""
BODIES = ("neck", "block")
"""Bodies whose moduli across the grain and in shear scatter apart from the one along it."""


@dataclass(frozen=True)
class Source:
    """An independent cause of scatter: its relative standard deviation, and the standard deviation of the
    logarithm of each quantity that it multiplies, by name.

    Quantities are the moduli (`fem.many.moduli.NAMES`), ``layer``, ``bedding`` and ``bolt`` with the number
    of pad or bolt, and ``strings``; layers and bedding are stiffnesses.
    """

    name: str
    deviation: float
    acts: Mapping[str, float]

    def changed(self, question: Question, change: float) -> Question:
        """The question with the cause larger by a relative change, that of its most scattered quantity."""
        most = max(self.acts.values(), key=abs)
        return multiplied(question, {name: (1.0 + change) ** (act / most) for name, act in self.acts.items()})


def moduli_of(factors: Mapping[str, float]) -> dict[str, float]:
    """Factors of the moduli of a condensation (`fem.solve.assembly.MODULUS`); empty if none changes."""
    factor = {name: factors.get(name, 1.0) for name in NAMES}
    # the condensation has one part for across and shear; with a correlation of 1 they are one factor
    moduli = {name: factor[name] for name in NAMES if not name.endswith(("across", "shear"))}
    moduli |= {f"{body} across": sqrt(factor[f"{body} across"] * factor[f"{body} shear"]) for body in BODIES}
    return moduli if any(value != 1.0 for value in moduli.values()) else {}


def multiplied(
    question: Question, factors: Mapping[str, float], *, flexibility: Flexibility | None = None
) -> Question:
    """The question with some quantities of `Source` multiplied; its ``flexibility`` if already known."""
    if flexibility is None:
        moduli = moduli_of(factors)
        flexibility = question.flexibility.with_moduli(moduli) if moduli else question.flexibility
    pads = tuple(
        stiffened(pad, factors.get(f"layer {k}", 1.0), bedding=factors.get(f"bedding {k}", 1.0))
        for k, pad in enumerate(question.pads)
    )
    tension = question.bolting.bolt_tension
    tension = tension * [factors.get(f"bolt {k}", 1.0) for k in range(len(tension))]
    pull = question.strings.tension * factors.get("strings", 1.0)
    return replace(
        question,
        flexibility=flexibility,
        pads=pads,
        bolting=replace(question.bolting, bolt_tension=tension),
        strings=replace(question.strings, tension=pull),
    )


def stiffened(pad: Pad, factor: float, *, bedding: float = 1.0) -> Pad:
    """A shim with its two bedding surfaces, stiffer by a factor; the surfaces by ``bedding`` as well."""
    return replace(
        pad,
        young=pad.young * factor,
        shear=pad.shear * factor,
        compliance=pad.compliance / (factor * bedding),
    )


@dataclass(frozen=True)
class Deviations:
    """Relative standard deviations of a case; zero for measured values."""

    neck: float
    board: float
    block: float
    ratio: float
    layer: float
    bedding: float
    string: float
    density: float
    torque: float
    bolts: tuple[float, ...]


def deviations(case: Case) -> Deviations:
    """Scatter of a case.

    The stated scatter of a torque counts as two standard deviations (common practice, no source). A tension
    given directly, and a modulus measured on the piece itself, do not scatter.
    """
    scatter = case.scatter
    return Deviations(
        neck=scatter.neck_e_cov if case.neck.e_l_gpa is None else 0.0,
        board=scatter.board_e_cov if case.fretboard.e_l_gpa is None else 0.0,
        block=scatter.block_e_cov if case.block.e_l_gpa is None else 0.0,
        ratio=scatter.ratio_cov,
        layer=scatter.layer_cov,
        bedding=scatter.bedding_cov,
        string=scatter.string_tension_cov,
        density=scatter.density_cov,
        torque=scatter.torque_cov,
        bolts=tuple(0.0 if bolt.torque_n_m is None else bolt.torque_scatter / 2.0 for bolt in case.bolts),
    )


def log_deviation(cov: float) -> float:
    """Standard deviation of the logarithm of a log-normal with this coefficient of variation.

    >>> round(log_deviation(0.22), 4)
    0.2174
    """
    return sqrt(log(1.0 + cov * cov))


def sources(case: Case) -> tuple[Source, ...]:
    """Every cause of scatter of a case, one independent standard normal each; without those of size zero."""
    own, scatter = deviations(case), case.scatter
    pads = [one.name for one in case.shims] + ["end wall"] * (case.joint.kind == "flat-pocket")
    turned = [f"bolt {k}" for k, bolt in enumerate(case.bolts) if bolt.torque_n_m is not None]
    together = sqrt(float(np.sum(string_weights(string_lines(case)) ** 2)))
    ratio = scatter.ratio_correlation
    found = [
        _alike("neck wood", own.neck, NAMES[:3]),
        *_related(
            _names("neck wood, across and shear", ("", "shear")),
            (own.ratio, own.ratio),
            NAMES[1:3],
            correlation=ratio,
        ),
        _alike("fretboard wood", own.board, NAMES[3:5]),
        _alike("fretboard wood, across and shear", own.ratio, NAMES[4:5]),
        _alike("block wood", own.block, NAMES[5:]),
        *_related(
            _names("block wood, across and shear", ("", "shear")),
            (own.ratio, own.ratio),
            NAMES[6:],
            correlation=ratio,
        ),
        *_of_pads("shim layers", own.layer, "layer", pads=pads, correlation=scatter.layer_correlation),
        *_of_pads("bedding", own.bedding, "bedding", pads=pads, correlation=scatter.layer_correlation),
        _alike("string tension", own.string * together, ["strings"]),
        _alike("torque of all bolts", own.torque, turned),
        *_related(
            [f"bolt {bolt.name}" for bolt in case.bolts],
            own.bolts,
            [f"bolt {k}" for k in range(len(case.bolts))],
            correlation=scatter.bolt_correlation,
        ),
    ]
    return tuple(source for source in found if any(source.acts.values()))


def _names(name: str, members: Sequence[str]) -> list[str]:
    return [name, *(f"{name}: {one} alone" for one in members[1:])]


def _alike(name: str, cov: float, quantities: Sequence[str]) -> Source:
    """A cause that multiplies several quantities by the same factor."""
    return Source(name, cov, dict.fromkeys(quantities, log_deviation(cov)))


def _related(
    names: Sequence[str], covs: Sequence[float], quantities: Sequence[str], *, correlation: float
) -> list[Source]:
    """Causes of several quantities, the logarithm of each correlated with that of the first."""
    widths = [log_deviation(cov) for cov in covs]
    shared = {one: width * correlation for one, width in zip(quantities, widths, strict=True)}
    rest = sqrt(1.0 - correlation**2)
    first = Source(names[0], covs[0] or max(covs), {**shared, quantities[0]: widths[0]})
    others = [
        Source(names[k], rest * covs[k], {quantities[k]: rest * widths[k]}) for k in range(1, len(names))
    ]
    return [first, *others]


def _of_pads(
    name: str, cov: float, quantity: str, *, pads: Sequence[str], correlation: float
) -> list[Source]:
    numbered = [f"{quantity} {k}" for k in range(len(pads))]
    return _related(_names(name, pads), [cov] * len(pads), numbered, correlation=correlation)


def factors_at(found: Sequence[Source], normals: Array) -> dict[str, Array]:
    """Factor of every quantity that scatters, log-normal with mean 1, shape (...); ``normals`` (..., sources)
    are standard normals.
    """
    factors = {}
    for quantity in dict.fromkeys(name for one in found for name in one.acts):
        acts = np.array([one.acts.get(quantity, 0.0) for one in found])
        factors[quantity] = np.exp(normals @ acts - 0.5 * float(acts @ acts))
    return factors

"""What a shop has learned about its own guitars: corrections applied when a case is solved.

One format serves a known offset, a tested blank or neck, and a log: the parameters, their means and
covariance, and the case or wood for which they are valid (docs/bench-theory.md).
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from math import radians
from typing import Any, Literal

import numpy as np
import tomli_w
from numpy.typing import NDArray
from scipy.linalg import block_diag

from cases.casefile.case import Case
from cases.offset.build import structure_of
from cases.offset.woods import Woods, woods_of
from fem.geometry.structure import Structure
from fem.solve.offset import Question, pair
from materials.errors import InputError
from materials.wood import Wood

FORMAT = 1
KINK_BIAS = "model.kink_bias_deg"
STRETCH = "model.stretch_factor"
TRANSFER = "model.transfer_factor"
PITCH_BIAS = "model.pitch_bias_deg"
LEARNED = (KINK_BIAS, STRETCH, TRANSFER, PITCH_BIAS)
"""All parameters that a log can give; without one the factors are 1 and the biases 0."""
DEFAULTS = (0.0, 1.0, 1.0, 0.0)
"""Their values without a log."""
LEAST_FACTOR = 0.05
"""Smallest stretch and transfer factor of a file: a joint with less is no joint (our choice)."""
MODEL = "model."
SCATTER_OF = {"neck.e_l_gpa": "scatter.neck_e_cov", "fretboard.e_l_gpa": "scatter.board_e_cov"}
"""Scatter of a wood that its test replaces by the test's own uncertainty."""
LARGEST_COV = 0.6

Kind = Literal["known", "blank", "batch", "neck", "shop"]


@dataclass(frozen=True)
class Calibration:
    """Learned parameters: key paths of a case, or names of `LEARNED`.

    Attributes
    ----------
    id : hash of its content, after its kind.
    rows : its data, one text each.
    mean, covariance : in the units of the keys.
    valid_for : {"case": name, "case_sha256": ...} or {"wood": name}.
    scale : scatter of the guitars in saddle height and kink over the model's, at most 1.
    extra : additional scatter in saddle height [mm] and kink [deg], one standard deviation.
    notes : sentences for readers of the file.
    followed : action [mm] and kink [deg] by which the last guitars lie beside what was learned from all,
        included in ``mean``; None where they were not followed.
    """

    id: str
    kind: Kind
    created: datetime
    rows: tuple[str, ...]
    parameters: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    valid_for: Mapping[str, str]
    scale: tuple[float, float] = (1.0, 1.0)
    extra: tuple[float, float] = (0.0, 0.0)
    notes: tuple[str, ...] = ()
    followed: tuple[float, float] | None = None

    def value(self, parameter: str) -> float:
        """Mean of a parameter; 1 for an unknown factor, 0 for an unknown bias."""
        if parameter in self.parameters:
            return self.mean[self.parameters.index(parameter)]
        return 1.0 if parameter in (STRETCH, TRANSFER) else 0.0

    def learned_covariance(self, prior: NDArray[np.float64]) -> NDArray[np.float64]:
        """Covariance of `LEARNED`, (4, 4): learned where available, ``prior`` elsewhere."""
        whole = np.array(prior, dtype=float)
        mine = [LEARNED.index(name) for name in self.parameters if name in LEARNED]
        if mine:
            whole[mine, :] = 0.0
            whole[:, mine] = 0.0
            whole[np.ix_(mine, mine)] = self.covariance_of([LEARNED[index] for index in mine])
        return whole

    def covariance_of(self, parameters: Sequence[str]) -> NDArray[np.float64]:
        """Covariance of some of its parameters, (n, n)."""
        at = [self.parameters.index(name) for name in parameters]
        return np.asarray(self.covariance)[np.ix_(at, at)]

    def case_values(self) -> dict[str, float]:
        """Keys of a case that it sets: learned values, and scatter of tested woods. Moduli: see `woods`."""
        names = [name for name in self.parameters if not name.startswith(MODEL) and name not in SCATTER_OF]
        values = {name: self.value(name) for name in names}
        for name in self.tested_woods:
            spread = float(np.sqrt(self.covariance_of([name])[0, 0])) / self.value(name)
            values[SCATTER_OF[name]] = min(spread, LARGEST_COV)
        return values

    def woods(self, case: Case) -> Woods:
        """Woods of a case, with tested moduli.

        A test scales all moduli of a wood, since it is their ratios that scatter separately. (The key
        ``neck.e_l_gpa`` alone scales only the modulus along the grain.)
        """
        woods = woods_of(case)
        for name, piece in (("neck.e_l_gpa", "neck"), ("fretboard.e_l_gpa", "board")):
            if name in self.parameters:
                cut: Wood = getattr(woods, piece)
                woods = replace(woods, **{piece: stiffer(cut, self.value(name) * 1e9 / cut.e_l)})
        return woods

    @property
    def tested_woods(self) -> tuple[str, ...]:
        """Keys of woods tested on the piece itself; a batch test says nothing about one piece."""
        return tuple(
            name
            for name, scatter in SCATTER_OF.items()
            if name in self.parameters and scatter not in self.parameters
        )

    def applied(self, case: Case) -> Case:
        """A copy of the case with the keys it sets; `InputError` if made for another case or wood."""
        self.check_valid(case)
        values: Mapping[str, object] = self.case_values()
        return case.with_values(values) if values else case

    def check_valid(self, case: Case) -> None:
        """Refuse a case that the calibration was not made for. Raises `InputError` with what to do."""
        for kind, has in (("case", case.name), ("wood", case.neck.wood)):
            wanted = self.valid_for.get(kind)
            if wanted is not None and wanted != has:
                raise InputError(
                    f"The calibration {self.id} is valid for the {kind} {wanted}, not for {has}: "
                    "use one made for it, or leave out --calibration."
                )

    def warning(self, case: Case) -> str | None:
        """Warning if the case was changed after the calibration was made."""
        made_for = self.valid_for.get("case_sha256")
        if made_for is None or made_for == case.sha256:
            return None
        return (
            f"The calibration {self.id} was made before this case was changed. It still holds as far as "
            "joint, bolts and shims are unchanged; calibrate again when you can."
        )

    def to_toml(self) -> str:
        """Return the text of the file."""
        return tomli_w.dumps({"format": FORMAT, "id": self.id, **_content(self)})


def calibration_of(
    kind: Kind,
    *,
    created: datetime,
    rows: Sequence[str],
    parameters: Sequence[str],
    mean: Sequence[float],
    covariance: NDArray[np.float64],
    valid_for: Mapping[str, str],
    scale: tuple[float, float] = (1.0, 1.0),
    extra: tuple[float, float] = (0.0, 0.0),
    notes: Sequence[str] = (),
    followed: tuple[float, float] | None = None,
) -> Calibration:
    """Make a calibration and its id."""
    made = Calibration(
        id="",
        kind=kind,
        created=created,
        rows=tuple(rows),
        parameters=tuple(parameters),
        mean=tuple(float(value) for value in mean),
        covariance=tuple(map(tuple, np.atleast_2d(covariance).tolist())),
        valid_for=dict(valid_for),
        scale=scale,
        extra=extra,
        notes=tuple(notes),
        followed=None if followed is None else (float(followed[0]), float(followed[1])),
    )
    text = json.dumps(_content(made), sort_keys=True, default=str)
    return replace(made, id=f"{kind}-{hashlib.sha256(text.encode()).hexdigest()[:10]}")


def stiffer(cut: Wood, factor: float) -> Wood:
    """A wood with all its moduli multiplied."""
    return cut.scaled(along=factor, across=factor, shear=factor)


def structure_laid(case: Case, calibration: Calibration | None) -> Structure:
    """Structure of a case with the woods of a calibration."""
    return structure_of(case, woods=calibration.woods(case) if calibration else None)


def together(calibrations: Sequence[Calibration]) -> Calibration | None:
    """Independent calibrations as one, None for none; `InputError` if two of them set one parameter."""
    if len(calibrations) < 2:
        return calibrations[0] if calibrations else None
    names = [name for one in calibrations for name in one.parameters]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"Two of the calibrations given set {twice}; give one of them.")
    covariance = block_diag(*(one.covariance for one in calibrations))
    shop = next((one for one in calibrations if one.kind == "shop"), calibrations[0])
    return Calibration(
        id="+".join(one.id for one in calibrations),
        kind=shop.kind,
        created=max(one.created for one in calibrations),
        rows=tuple(row for one in calibrations for row in one.rows),
        parameters=tuple(names),
        mean=tuple(value for one in calibrations for value in one.mean),
        covariance=tuple(map(tuple, covariance.tolist())),
        valid_for={key: value for one in calibrations for key, value in one.valid_for.items()},
        scale=shop.scale,
        extra=shop.extra,
        notes=tuple(note for one in calibrations for note in one.notes),
        followed=shop.followed,
    )


def _content(calibration: Calibration) -> dict[str, Any]:
    content = {name: value for name, value in asdict(calibration).items() if name not in ("id", "valid_for")}
    if calibration.followed is None:
        del content["followed"]
    # a table must come last in TOML
    return {**content, "valid_for": dict(calibration.valid_for)}


@dataclass(frozen=True)
class Overlay:
    """Conversion of the model's misfit to the shop's: ``factor (misfit - shift)``, shift in [rad]."""

    shift: float = 0.0
    factor: float = 1.0


def overlay_of(question: Question, calibration: Calibration | None) -> Overlay:
    """Overlay from the kink's three parameters, for a question that is not corrected yet.

    The shop's kink is ``bias + k_b0 + t (k - k_0) + s (k_0 - k_b0)``: k is the model's kink, 0 means equal
    shims, b bolted up; t is the transfer factor and s the stretch factor.
    """
    if calibration is None or not set(calibration.parameters) & {KINK_BIAS, STRETCH, TRANSFER}:
        return Overlay()
    level = pair(question, (0.0, 0.0))
    stretch = question.kink(level.strung) - question.kink(level.bolted)
    factor = calibration.value(TRANSFER)
    added = radians(calibration.value(KINK_BIAS)) + (calibration.value(STRETCH) - 1.0) * stretch
    return Overlay(((factor - 1.0) * question.misfit(level.strung) - added) / factor, factor)


def laid_over(question: Question, overlay: Overlay) -> Question:
    """A question whose solution is the shop's."""
    if question.target_gap is None:
        return replace(question, target_kink=question.target_kink + overlay.shift)
    lever = float(question.line.x[-1] - question.line.x[question.line.joint - 1])
    return replace(question, target_gap=question.target_gap + overlay.shift * lever)

"""The compared numbers, read alike from either model's crowns."""

import numpy as np

from fem.geometry.fret_line import FretLine
from tests.reference.by_plate import Crowns
from tests.reference.instruments import inputs


def of_bonded(line: FretLine, state: Crowns) -> dict[str, float]:
    """Relief and nut rise [mm], slope of the shaft line and kinks [deg]."""
    return {
        "relief": 1e3 * line.relief(state.crowns)[0],
        "nut_rise": 1e3 * state.nut,
        "shaft_slope": float(np.degrees(line.shaft_slope(state.crowns))),
        "kink": float(np.degrees(line.kink(state.crowns))),
        "shaft_slope_straightedge": float(np.degrees(line.slope_row(line.shaft) @ state.crowns)),
        "kink_straightedge": float(np.degrees(line.straightedge_row() @ state.crowns)),
    }


def of_contact(line: FretLine, states: dict[float, tuple[Crowns, Crowns]]) -> dict[str, float]:
    """Relief at pitch [mm], heel stretch [deg], shim transfer, and the nut's rise from bolted to strung [mm]."""
    step = inputs()["shim_step_deg"]
    (bolted, strung), (_, tapered) = states[0.0], states[step]
    kink = {
        name: np.degrees(line.kink(state.crowns))
        for name, state in (("bolted", bolted), ("strung", strung), ("tapered", tapered))
    }
    return {
        "relief": 1e3 * line.relief(strung.crowns)[0],
        "heel_stretch": float(kink["strung"] - kink["bolted"]),
        "shim_transfer": float((kink["tapered"] - kink["strung"]) / step),
        "nut_rise": 1e3 * (strung.nut - bolted.nut),
    }

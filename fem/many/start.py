"""Where the search of each neck begins: the case's own pair, solved by the full equations."""

from dataclasses import dataclass

import numpy as np

from fem.geometry.fret_line import extremes
from fem.joint.shim_layer import layer
from fem.many.batch import Bench
from fem.many.bolted import BoltedGuess
from fem.many.strung import Guess
from fem.solve.offset import Pair


@dataclass(frozen=True)
class Start:
    """Where a search begins, of one neck or many."""

    bolted: BoltedGuess
    strung: Guess


def start_of(on: Bench, at: Pair) -> Start:
    """Turn a solved pair of the full equations into the batch's guess for every neck."""
    question = on.question
    flexibility = question.flexibility
    law = layer(question.pads, flexibility.points, angles=at.angles, friction=question.friction)
    bolted, strung = at.bolted.displacements, at.strung.displacements
    opening, slip = flexibility.at["opening"], flexibility.at["slip"]
    heights = question.line.heights(strung[flexibility.at["crown"]])
    return Start(
        BoltedGuess(law.normal * (law.interference - bolted[opening]), -at.bolted.contact.shear_force),
        Guess(
            carried=law.normal * (law.interference - strung[opening]),
            trial=law.tangential * (strung[slip] - bolted[slip]),
            frets=extremes(question.line.gap_rows() @ heights),
            slack=np.array(question.one_way and at.strung.rod <= 0.0),
        ),
    )

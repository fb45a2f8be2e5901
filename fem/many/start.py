"""Start of the search for every neck: the case's own pair, solved by the full equations."""

from dataclasses import dataclass

import numpy as np

from fem.geometry.fret_line import extremes
from fem.many.batch import Bench
from fem.many.bolted import BoltedGuess
from fem.many.strung import Guess
from fem.solve.offset import Pair


@dataclass(frozen=True)
class Start:
    """Start of a search, for one neck or many."""

    bolted: BoltedGuess
    strung: Guess


def start_of(on: Bench, at: Pair) -> Start:
    """Start for every neck from a solved pair."""
    question = on.question
    flexibility = question.flexibility
    _, law = question.joint(at.angles)
    bolted, strung = at.bolted.displacements, at.strung.displacements
    opening, slip = flexibility.at["opening"], flexibility.at["slip"]
    heights = question.line.heights(strung[flexibility.at["crown"]])
    return Start(
        BoltedGuess(law.normal * (law.interference - bolted[opening]), -at.bolted.contact.shear_force),
        Guess(
            carried=law.normal * (law.interference - strung[opening]),
            trial=law.tangential * (strung[slip] - bolted[slip]),
            frets=extremes(question.line.gap_rows @ heights),
            slack=np.array(question.one_way and at.strung.rod <= 0.0),
        ),
    )

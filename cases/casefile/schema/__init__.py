"""The keys of a case file: one class for each table, each key with unit, limits, default and source.

No calculation; defaults that follow from other keys are in `cases.casefile.defaults`.
"""

from cases.casefile.schema.instrument import Fretboard, Frets, Instrument, Neck
from cases.casefile.schema.joint import Block, Bolt, Heel, Hollow, Joint, Shim, Tongue
from cases.casefile.schema.playing import Body, Bridge, Setup, Strings, Targets
from cases.casefile.schema.rod import Bar, Rod
from cases.casefile.schema.shop import Scatter, Stock, Tolerance

__all__ = [
    "Bar",
    "Block",
    "Body",
    "Bolt",
    "Bridge",
    "Fretboard",
    "Frets",
    "Heel",
    "Hollow",
    "Instrument",
    "Joint",
    "Neck",
    "Rod",
    "Scatter",
    "Setup",
    "Shim",
    "Stock",
    "Strings",
    "Targets",
    "Tolerance",
    "Tongue",
]

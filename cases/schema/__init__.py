"""The keys of a case file: one class a table, each key with unit, limits, default and its source."""

from cases.schema.instrument import Fretboard, Frets, Instrument, Neck
from cases.schema.joint import Block, Bolt, Heel, Hollow, Joint, Shim, Tongue
from cases.schema.playing import Body, Bridge, Setup, Strings, Targets
from cases.schema.rod import Bar, Rod
from cases.schema.shop import Scatter, Stock, Tolerance

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

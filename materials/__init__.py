"""Material tables with a source for every number, and functions for moduli, densities and string tensions.

Nothing here depends on an instrument.
"""

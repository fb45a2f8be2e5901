"""The keys of a case file: one class for each table, each key with unit, limits, default and source.

No calculation; defaults that follow from other keys are in `cases.casefile.defaults`.
"""

"""The log of fits and measurements: tables, backups, exchange with spreadsheets.

It stores and returns rows; `cases.bench.shims` and `cases.bench.learning` interpret them.
"""

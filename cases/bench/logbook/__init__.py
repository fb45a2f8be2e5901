"""What was written down: the log of fits and measurements, its tables, backups and exchange.

Rows go in and come out; what they mean is found in `cases.bench.shims` and `cases.bench.learning`.
"""

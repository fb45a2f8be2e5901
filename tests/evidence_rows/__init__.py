"""The rows of evidence, one module a part; each offers `ROWS`. What a row is stands in `row.py`."""

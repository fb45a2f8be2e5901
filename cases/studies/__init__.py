"""Several answers side by side, over time, or looked into more closely: one study a file.

Studies return frozen results; how these are shown is the work of `cases.show`.
"""

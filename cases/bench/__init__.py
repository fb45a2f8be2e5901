"""The bench: from a reading to the pair, from measurements to the next pair, from a log to a calibration.

Rooms from the bottom up: `logbook`, `shims`, `learning`, `simulated`.
"""

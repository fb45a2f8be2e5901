"""The bench: pairs from readings, corrections from measurements, calibrations from a log.

Rooms from the bottom up: `logbook`, `shims`, `learning`, `simulated`.
"""

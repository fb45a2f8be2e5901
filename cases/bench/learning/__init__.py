"""Learning from the log and from tests of blanks and necks: calibrations, control charts, trends.

Everything here takes fits or measurements and returns values; nothing writes to the log.
"""

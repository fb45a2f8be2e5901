"""What the log and tests of blanks and necks teach: calibrations, control charts, trends.

Everything here takes fits or measurements and returns values; nothing writes to the log.
"""

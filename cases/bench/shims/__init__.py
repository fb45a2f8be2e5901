"""From a reading to a pair of shims, and from measurements after string-up to the next pair.

Nothing here learns from other guitars; a calibration comes in as a value.
"""

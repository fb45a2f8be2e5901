"""From a reading to a pair of shims, and from measurements after string-up to the next pair.

Nothing here learns from other guitars; a calibration is passed in as a value.
"""

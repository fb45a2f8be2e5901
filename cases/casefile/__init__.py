"""The case file: from its text to a checked `Case` and back, with every message about it.

Nothing here builds a model or solves one.
"""

"""Results of a solved state: readings on the frets, flex budget, fields, and the checks of the run.

Nothing here changes a state or starts a search.
"""

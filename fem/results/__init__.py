"""What a solved state says: readings on the frets, profile, flex budget, fields, and the proofs of the run.

Nothing here changes a state or starts a search.
"""

"""What weather and years do: free strain as a load, and the state of an instrument long after it was set up.

Laws of wood stand in `materials`; only their effect on the mechanics is here.
"""

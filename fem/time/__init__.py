"""Effects of weather and years: free strain as a load, and the state of an instrument long after set-up.

The laws of wood are in `materials`; only their effect on the mechanics is here.
"""

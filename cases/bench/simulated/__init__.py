"""An invented workshop with a hidden truth, to measure what the bench and its learning are good for.

Only simulations; a real bench uses nothing from here.
"""

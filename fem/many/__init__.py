"""Thousands of necks: the flexibility as a function of the moduli, and searches on stacked arrays.

The laws come from `fem.joint` and `fem.solve`; nothing here is needed for a single neck.
"""

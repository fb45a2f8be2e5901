"""Thousands of necks: the flexibility as a function of the moduli, and searches on stacked arrays.

The laws are those of `fem.joint` and `fem.solve`; nothing that one neck alone needs belongs here.
"""

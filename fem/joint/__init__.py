"""The joint between neck and block: shim layers with friction, bolts, rows of contact across the width.

Laws and rows of the joint only; `fem.solve` solves them.
"""

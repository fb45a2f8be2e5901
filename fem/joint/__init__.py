"""The joint between neck and block: shim layers with friction, bolts, the indentation of the block.

Laws and rows of the joint only; `fem.solve` solves them.
"""

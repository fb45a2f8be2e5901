"""Shapes, pads, bolts and rod of an instrument, its sections and its meshes, in SI.

No stiffness and no load: those are in `fem.members` and `fem.joint`.
"""

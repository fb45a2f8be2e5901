"""Shapes, pads, bolts and rod of an instrument, its sections and its meshes, in SI.

No stiffness and no load: a part is described here, how it gives way stands in `fem.members` and `fem.joint`.
"""

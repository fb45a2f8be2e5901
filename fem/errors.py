"""Errors of the mechanics; every message ends with the remedy."""

from materials.errors import NeckpreloadError


class ModelError(NeckpreloadError):
    """The model cannot be solved as described: a body is unsupported, a part or an edge is empty."""

    exit_code = 2


class MeshError(ModelError):
    """The mesh is unusable: inverted cells, an empty part."""


class ConvergenceError(NeckpreloadError):
    """A search (contact, rod, offset) did not converge."""


class BoltSlackError(ModelError):
    """A bolt has no tension left at pitch; a bolt cannot push."""


class ContactLostError(ModelError):
    """No point of an interface carries pressure any more."""


class OutsideBoxError(ModelError):
    """Moduli outside the trained box of a reduced model."""

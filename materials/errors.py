"""The named errors of the whole program: what went wrong, and what to do about it."""


class NeckpreloadError(Exception):
    """Base of every error raised on purpose; its message is one sentence that ends with the remedy."""


class InputError(NeckpreloadError):
    """A value that a person gave is wrong; only the command turns it into exit code 2."""


class MaterialError(InputError):
    """A material, string or moisture that the tables do not cover, or data that no real material can have."""

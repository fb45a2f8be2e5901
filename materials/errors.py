"""The named errors of the whole program: what went wrong, and what to do about it."""


class NeckpreloadError(Exception):
    """Base of every error raised on purpose; its message is one sentence that ends with the remedy."""

    exit_code = 1
    """Exit code of the command: 2 where the user can correct the input, else 1."""


class InputError(NeckpreloadError):
    """A value that a person gave is wrong."""

    exit_code = 2


class MaterialError(InputError):
    """A material, string or moisture that the tables do not cover, or data that no real material can have."""

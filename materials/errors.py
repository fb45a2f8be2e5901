"""Errors raised on purpose, for the whole program."""


class NeckpreloadError(Exception):
    """Base of all these errors; the message is one sentence that ends with the remedy."""

    exit_code = 1
    """Exit code of the command: 2 where the user can correct the input, else 1."""


class InputError(NeckpreloadError):
    """A value from the user is wrong."""

    exit_code = 2


class MaterialError(InputError):
    """A material, string or moisture outside the tables, or values that no real material has."""

"""A file that cannot be written, reported in one sentence."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from materials.errors import InputError


@contextmanager
def saving(path: Path) -> Iterator[None]:
    """Raise an `OSError` of writing a file or folder as `InputError`."""
    try:
        yield
    except OSError as error:
        reason = (error.strerror or str(error) or "it cannot be opened").lower()
        raise InputError(f"{path} cannot be written: {reason}; give a place that you may write to") from None

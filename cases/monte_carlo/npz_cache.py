"""Arrays that a run kept in a file for a later one."""

import zlib
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray


def kept_arrays(path: Path) -> dict[str, NDArray[Any]] | None:
    """What a file holds; None when there is none, or one that was cut short or damaged: it is made again."""
    try:
        with np.load(path) as kept:
            return dict(kept)
    except (OSError, ValueError, EOFError, BadZipFile, zlib.error):
        return None

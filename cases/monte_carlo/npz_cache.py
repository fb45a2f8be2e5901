"""Arrays stored in a file for a later run."""

import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray


def store_arrays(path: Path, arrays: Mapping[str, NDArray[Any]]) -> None:
    """Write a file; it gets its name when complete, so that no partial one is left. May raise `OSError`."""
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(path.stem + ".part.npz")
    np.savez(partial, **arrays)  # type: ignore[arg-type]
    partial.replace(path)


def stored_arrays(path: Path) -> dict[str, NDArray[Any]] | None:
    """Content of a file; None if it is missing, truncated or damaged."""
    try:
        with np.load(path) as stored:
            return dict(stored)
    except (OSError, ValueError, EOFError, BadZipFile, zlib.error):
        return None

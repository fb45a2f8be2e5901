"""Writing a new file whole or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from cases.bench.logbook.store import LogbookError


@contextmanager
def new_file(path: Path, *, make_folder: bool = False) -> Iterator[Path]:
    """Give a temporary path; the file written there appears at `path` only if no error occurred.

    Raises `LogbookError` if the file exists already or cannot be written.
    """
    if path.exists():
        raise LogbookError(f"{path} exists already; name another file, or move it away first.")
    try:
        if make_folder:
            path.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix=".neckpreload-", dir=path.parent) as folder:
            part = Path(folder) / "part"
            yield part
            os.replace(part, path)
    except OSError as error:
        raise LogbookError(f"{path} cannot be written ({error.strerror}); name another place.") from None

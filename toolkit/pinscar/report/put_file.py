"""Put one file in its place as a whole, and through no link."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from pathlib import Path


def put_file(path: Path, data: bytes) -> None:
    """Write beside the file and rename: a reader of the folder sees the old file or the new one.

    A link that lies in its place is replaced; what it leads to is not written to. Raises OSError.
    """
    handle, place = tempfile.mkstemp(prefix=f".pinscar-{path.name}-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        _like(path, Path(place))
        Path(place).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(place).unlink(missing_ok=True)
        raise


def _like(path: Path, new: Path) -> None:
    """Give the new file the permissions of the old one, or those of any new file."""
    if path.exists():
        shutil.copymode(path, new)
    else:
        mask = os.umask(0)
        os.umask(mask)
        new.chmod(0o666 & ~mask)

"""One writer at a time into a folder."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from pinscar.errors import RunError
from pinscar.report.scratch import cannot_write


@contextlib.contextmanager
def locked(out: Path, wait: float = 0.0) -> Iterator[None]:
    """Hold the lock of a report while the body runs.

    Parameters
    ----------
    out : pathlib.Path
        Where the report lies; the lock file stands beside it and is gone afterwards.
    wait : float
        How long to wait for another holder [s]; a report takes too long to be waited for.

    Raises
    ------
    RunError
        If another run still holds it then.

    References
    ----------
    POSIX, ``flock``, through filelock: the system lets go of it when the holder dies, however it dies.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as parent, locked(Path(parent, "report")):
    ...     with locked(Path(parent, "report")):
    ...         pass
    Traceback (most recent call last):
    ...
    pinscar.errors.RunError: another run is writing ...report; wait for it to end
    """
    import filelock

    path = out.parent / f".pinscar-{out.name}.lock"
    if path.is_symlink():
        raise RunError(f"{path} is a link, through which no lock is taken; remove it")
    lock = filelock.FileLock(path)
    try:
        lock.acquire(timeout=wait)
    except filelock.Timeout as error:
        raise RunError(f"another run is writing {out}; wait for it to end") from error
    except OSError as error:
        raise cannot_write(out.parent, error) from error
    try:
        yield
    finally:
        # While it is held: filelock sees a file without a name and tries again on the new one.
        path.unlink(missing_ok=True)
        lock.release()

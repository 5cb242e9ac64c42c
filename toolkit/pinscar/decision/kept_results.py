"""Results that take long to compute, kept by what they are computed from, as readings of evidence are.

A fit or a drawn chart is named by all that it is made from, and by the code and the libraries that make it.
So a report after one changed cell computes what hangs on that cell, and a second process may compute ahead.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

from pinscar.decision import reading_cache

FOLDER = "results"
"""Where these entries lie, beside the readings."""
HERE = "PINSCAR_KEEP_RESULTS"
"""Environment variable by which the process of a report knows that its working folder is the campaign's and
that results may be kept there; unset elsewhere."""
BESIDE = "PINSCAR_BESIDE_KERNEL"
"""Environment variable of the process beside a kernel, which keeps results for it alone; unset elsewhere."""
SHORTEST = 0.02
"""What is computed faster is not kept [s]."""
MOST = 200
"""Most entries that are kept; the ones not used for longest go."""

Found = TypeVar("Found")


def kept_result(
    name: str, made_from: object, compute: Callable[[], Found], shortest: float = SHORTEST
) -> Found:
    """Give what was computed of the same things by the same code; else compute, and keep what took long."""
    keepers = _keepers()
    told = fingerprint(made_from) if keepers else None
    if told is None:
        return compute()
    asked = json.dumps([name, told, reading_cache.version()])
    entry = hashlib.sha256(asked.encode()).hexdigest()
    for place, key in keepers:
        known = reading_cache.load(place / entry, key)
        if known is not None:
            _used(place / entry)
            _keep([one for one in keepers if not (one[0] / entry).is_file()], entry, known)
            return cast(Found, known[0])
    begun = time.process_time()
    result = compute()
    if time.process_time() - begun >= shortest:
        _keep(keepers, entry, [result])
    return result


def _used(place: Path) -> None:
    with contextlib.suppress(OSError):
        os.utime(place)


def _keep(keepers: list[tuple[Path, bytes]], entry: str, result: list[object]) -> None:
    # A process beside the kernel may be ended while it writes: it writes nothing that stays.
    beside = os.environ.get(BESIDE)
    for place, key in keepers:
        if not beside or key == reading_cache.OPEN:
            reading_cache.store(place / entry, key, result)
            _thin(place)


def _keepers() -> list[tuple[Path, bytes]]:
    ahead, found = os.environ.get(reading_cache.AHEAD), []
    if ahead is not None:
        found.append((Path(ahead) / FOLDER, reading_cache.OPEN))
    if os.environ.get(reading_cache.WANTED) and os.environ.get(HERE):
        key = reading_cache.own_key()
        place = reading_cache.place_of(Path())
        found += [] if key is None or place.is_symlink() else [(place / FOLDER, key)]
    return found


def fingerprint(value: object) -> str | None:
    """Return one digest of numbers, words, tables and records; None where anything else is among them.

    Examples
    --------
    >>> fingerprint((1.5, "a")) == fingerprint((1.5, "a")), fingerprint(1) == fingerprint(1.0)
    (True, False)
    >>> fingerprint([object()]) is None
    True
    """
    whole = hashlib.sha256()
    try:
        _tell(value, whole.update)
    except TypeError:
        return None
    return whole.hexdigest()


def _tell(value: Any, update: Callable[[bytes], None]) -> None:
    """Tell a value piece by piece, each with its kind and length, so that no two values are told alike."""
    import pandas as pd  # here: whether pandas has pyarrow is settled by the process that imports this module

    if value is None or type(value) in (bool, int, float, str):
        _piece(type(value).__name__, repr(value).encode(), update)
    elif isinstance(value, np.ndarray | np.generic) and value.dtype.kind in "biufM":
        array = np.ascontiguousarray(value)
        _piece(f"{type(value).__name__} {array.dtype.str} {np.shape(value)}", array.tobytes(), update)
    elif isinstance(value, pd.DataFrame):
        _all("frame", [str(name) for name in value.columns], update)
        _tell(value.index.to_numpy(), update)
        _all("columns", [value[name].to_numpy() for name in value.columns], update)
    elif isinstance(value, np.ndarray) and value.dtype.kind == "O":
        _all("objects", value.ravel().tolist(), update)
    elif type(value) in (list, tuple, dict):
        pairs = value.items() if type(value) is dict else value
        _all(type(value).__name__, [*pairs], update)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        parts = [getattr(value, one.name) for one in dataclasses.fields(value)]
        _all(f"{type(value).__module__}.{type(value).__qualname__}", parts, update)
    else:
        raise TypeError(f"no way to tell a {type(value).__name__}")


def _piece(kind: str, data: bytes, update: Callable[[bytes], None]) -> None:
    update(f"{kind} {len(data)}\n".encode())
    update(data)


def _all(kind: str, parts: list[Any], update: Callable[[bytes], None]) -> None:
    update(f"{kind} of {len(parts)}\n".encode())
    for part in parts:
        _tell(part, update)


def _thin(folder: Path) -> None:
    """Remove the entries that were not used for longest, beyond the most that are kept."""
    with contextlib.suppress(OSError):
        found = sorted(folder.glob("[0-9a-f]*"), key=lambda one: one.stat().st_mtime, reverse=True)
        for old in found[MOST:]:
            old.unlink()

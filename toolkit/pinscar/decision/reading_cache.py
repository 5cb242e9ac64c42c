"""Readings of evidence kept from one report to the next, by content, as plain JSON that runs nothing."""

from __future__ import annotations

import base64
import contextlib
import dataclasses
import functools
import hashlib
import hmac
import importlib
import io
import json
import os
import platform
import secrets
import tempfile
import time
import zlib
from collections.abc import Callable, Mapping
from importlib import metadata
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

import pinscar

ROOMS = ("pinscar.evidence.", "pinscar.stats.", "pinscar.decision.")
"""Where the records come from."""


def to_plain(value: Any) -> Any:
    """Write a record of numbers, words, arrays and records as JSON types.

    Examples
    --------
    >>> to_plain((1.5, None, "x"))
    {'tuple': [1.5, None, 'x']}
    """
    if value is None or type(value) in (bool, int, float, str):
        return value
    if isinstance(value, np.ndarray):
        stream = io.BytesIO()
        np.save(stream, value, allow_pickle=False)
        return {"array": base64.b64encode(zlib.compress(stream.getvalue(), 1)).decode()}
    if isinstance(value, np.generic):
        return {"number": to_plain(np.asarray(value))}
    if type(value) is list:
        return [to_plain(one) for one in value]
    if type(value) is tuple:
        return {"tuple": [to_plain(one) for one in value]}
    if type(value) is dict:
        return {"mapping": [[to_plain(key), to_plain(one)] for key, one in value.items()]}
    if dataclasses.is_dataclass(value) and type(value).__module__.startswith(ROOMS):
        parts = {one.name: to_plain(getattr(value, one.name)) for one in dataclasses.fields(value)}
        return {"record": f"{type(value).__module__}:{type(value).__qualname__}", "parts": parts}
    raise TypeError(f"no plain form of {type(value).__name__}")


def from_plain(value: Any) -> Any:
    """Read what `to_plain` wrote; raises ValueError for anything else.

    Examples
    --------
    >>> from_plain(to_plain((1.5, None, [np.float64(2.5)]))) == (1.5, None, [2.5])
    True
    """
    if isinstance(value, list):
        return [from_plain(one) for one in value]
    if not isinstance(value, dict):
        return value
    if "array" in value:
        return _array(value["array"])
    if "number" in value:
        return from_plain(value["number"])[()]
    if "tuple" in value:
        return tuple(from_plain(one) for one in value["tuple"])
    if "mapping" in value:
        return {from_plain(key): from_plain(one) for key, one in value["mapping"]}
    if "record" in value:
        return _record_type(value["record"])(**{k: from_plain(v) for k, v in value["parts"].items()})
    raise ValueError("no record of a reading")


def _array(text: str) -> Any:
    try:
        return np.load(io.BytesIO(zlib.decompress(base64.b64decode(text))), allow_pickle=False)
    except zlib.error as error:
        raise ValueError("no record of a reading") from error


def _record_type(name: str) -> Any:
    module, _, kind = name.partition(":")
    if not module.startswith(ROOMS):
        raise ValueError(f"no record of a reading: {name}")
    try:
        found = getattr(importlib.import_module(module), kind, None)
    except ImportError:
        found = None
    if not (isinstance(found, type) and dataclasses.is_dataclass(found)):
        raise ValueError(f"no record of a reading: {name}")
    return found


FOLDER = ".pinscar-cache"
"""Where entries lie in a campaign folder."""
PLACE = "PINSCAR_CACHE"
"""Environment variable that names another folder for them."""
WANTED = "PINSCAR_KEEP_READINGS"
"""Environment variable by which the process of a report knows that it may use entries; unset elsewhere."""
AHEAD = "PINSCAR_READ_AHEAD"
"""Environment variable that names a private folder of what was read for this one report; unset elsewhere."""
OPEN = b""
"""Key of the entries there: nobody else can write into that folder."""
HEAD = b"pinscar reading 1\n"
CODE_BYTES = 32
LARGEST = 64 * 1024 * 1024
"""Largest entry that is opened or written [bytes]."""
HALF, HALF_AGE = ".half", 600.0
"""Ending of an entry that is being written, and the age at which one of a killed process is removed [s]."""
LIBRARIES = ("numpy", "scipy", "pandas", "matplotlib", "scikit-image", "pillow", "soundfile", "av")
SHIPPED = (".py", ".csv", ".ttf")
"""Endings of the files of pinscar that a reading or another result depends on."""

MISSING = "PINSCAR_READ_MISSING"
"""Environment variable of a process that reads ahead, which opens nothing that is kept; unset elsewhere."""

Found = TypeVar("Found")


class ThereError(Exception):
    """What is to be read ahead is kept already; should it be damaged, the kernel reads it again."""


def kept(
    folder: Path, file: Path, reader: str, settings: Mapping[str, float | str], read: Callable[[], Found]
) -> Found:
    """Give what an earlier report read from the same bytes by the same code; else read, and keep that."""
    secret = own_key() if os.environ.get(WANTED) else None
    ahead = os.environ.get(AHEAD)
    keepers = [] if ahead is None else [(Path(ahead), OPEN)]
    keepers += [] if secret is None else [(place_of(folder), secret)]
    if not keepers:
        return read()
    before = _stamp(file)
    digest = _digest(file)
    asked = json.dumps([digest, reader, dict(settings), version()], sort_keys=True)
    name = hashlib.sha256(asked.encode()).hexdigest()
    if os.environ.get(MISSING) and any((place / name).is_file() for place, _ in keepers):
        raise ThereError
    for place, key in keepers:
        known = load(place / name, key)
        if known is not None:
            return cast(Found, known[0])
    result = read()
    # What was read must be the bytes that the entry is named after, even if a file was put back meanwhile.
    if before is not None and _stamp(file) == before and _digest(file) == digest:
        for place, key in keepers:
            store(place / name, key, [result])
    return result


def _stamp(file: Path) -> tuple[int, ...] | None:
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino, found.st_size, found.st_ctime_ns


def _digest(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


@functools.cache
def version() -> str:
    """Return one digest over pinscar's code, tables and faces, and the versions of what it computes with."""
    package = Path(pinscar.__file__).resolve().parent
    whole = hashlib.sha256()
    for path in sorted(one for one in package.rglob("*") if one.suffix in SHIPPED):
        whole.update(path.relative_to(package).as_posix().encode() + b"\0" + path.read_bytes())
    versions = {name: metadata.version(name) for name in LIBRARIES}
    whole.update(json.dumps({**versions, "python": platform.python_version()}).encode())
    return whole.hexdigest()


def place_of(folder: Path) -> Path:
    """Return where the entries of a campaign lie."""
    named = os.environ.get(PLACE)
    return Path(named) if named else folder / FOLDER


def load(place: Path, secret: bytes) -> list[object] | None:
    """Open an entry; None where there is none of ours, or it is damaged."""
    try:
        if place.parent.is_symlink() or place.is_symlink() or not place.is_file():
            return None
        if place.stat().st_size > LARGEST:
            return None
        data = place.read_bytes()
        start = len(HEAD) + CODE_BYTES
        code, packed = data[len(HEAD) : start], data[start:]
        if data[: len(HEAD)] != HEAD or not hmac.compare_digest(code, _code(place.name, packed, secret)):
            return None
        found = from_plain(json.loads(packed))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, list) else None


def _code(name: str, packed: bytes, secret: bytes) -> bytes:
    return hmac.new(secret, name.encode() + b"\0" + packed, hashlib.sha256).digest()


def store(place: Path, secret: bytes, value: list[object]) -> None:
    """Write an entry beside its place and rename it; a folder that cannot be written keeps none."""
    try:
        packed = json.dumps(to_plain(value)).encode()
    except TypeError:
        return  # a record without a plain form is read each time; a test sees that the present ones have one
    if len(packed) > LARGEST or place.parent.is_symlink():
        return
    with contextlib.suppress(OSError):
        _prepare(place.parent)
        handle, half = tempfile.mkstemp(suffix=HALF, dir=place.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(HEAD + _code(place.name, packed, secret) + packed)
            Path(half).replace(place)
        except BaseException:
            Path(half).unlink(missing_ok=True)
            raise


def _prepare(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / ".gitignore").exists():
        (folder / ".gitignore").write_text("*\n")  # nobody else can use the entries
    for half in folder.glob(f"*{HALF}"):
        if time.time() - half.stat().st_mtime > HALF_AGE:
            half.unlink()


@functools.cache
def own_key() -> bytes | None:
    """Return this person's key, made when it is first wanted; None where there is no place for one."""
    try:
        place = _key_place()
        place.parent.mkdir(parents=True, exist_ok=True)
        with contextlib.suppress(FileExistsError):
            handle, half = tempfile.mkstemp(dir=place.parent)  # readable by its owner only
            try:
                with os.fdopen(handle, "wb") as stream:
                    stream.write(secrets.token_bytes(CODE_BYTES))
                os.link(half, place)  # whoever comes first makes the key
            finally:
                Path(half).unlink()
        found = place.read_bytes()
    except (OSError, RuntimeError):
        return None
    return found if len(found) == CODE_BYTES else None


def _key_place() -> Path:
    named = os.environ.get("XDG_DATA_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(named) if named else Path.home() / ".local" / "share") / "pinscar" / "cache.key"

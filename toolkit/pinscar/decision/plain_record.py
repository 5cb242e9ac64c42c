"""Records of readings as plain JSON and back, type by type: nothing that is read can run anything."""

from __future__ import annotations

import base64
import dataclasses
import importlib
import io
import zlib
from typing import Any

import numpy as np

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

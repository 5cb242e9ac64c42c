"""JSON that came from elsewhere: read within bounds, and refused in one way whatever is wrong with it."""

from __future__ import annotations

import json
import math
import stat
from pathlib import Path
from typing import Any, NoReturn

LONGEST = 64 * 1024 * 1024
"""Largest file that is read [bytes]: a hundred times the results of a large campaign."""

DIGITS = 300
"""Most digits of a whole number: one with more is no number that a report has."""


def read_json(path: Path, longest: int = LONGEST) -> dict[str, Any]:
    """Read a JSON file that holds an object.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "a.json")
    ...     _ = path.write_text('{"n": 1e999}')
    ...     read_json(path)
    Traceback (most recent call last):
    ...
    ValueError: no number: 1e999
    """
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        raise ValueError("no plain file")  # a pipe would be waited for
    if found.st_size > longest:
        raise ValueError(f"larger than {longest} bytes")
    try:
        content = json.loads(
            path.read_bytes(), parse_constant=_no_number, parse_float=_finite, parse_int=_whole
        )
    except RecursionError as error:
        raise ValueError("nested too deep") from error
    if not isinstance(content, dict):
        raise ValueError("no object")
    return content


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"no number: {word}")


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        _no_number(text[:20])
    return number


def _whole(text: str) -> int:
    if len(text) > DIGITS:
        _no_number(f"{text[:20]}...")
    return int(text)

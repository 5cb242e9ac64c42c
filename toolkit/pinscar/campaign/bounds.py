"""How much of each kind of file is read: more is no record of a bench test, and would fill the memory."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from pinscar.campaign.codes import error
from pinscar.problems import Problem

MIB = 1024 * 1024

LARGEST: Mapping[str, int] = MappingProxyType(
    {
        ".toml": MIB // 4,
        ".md": MIB // 16,
        ".csv": 64 * MIB,
        ".xlsx": 32 * MIB,
        ".parquet": 64 * MIB,
        ".wav": 256 * MIB,
        ".png": 256 * MIB,
        ".jpg": 256 * MIB,
        ".jpeg": 256 * MIB,
        ".tif": 256 * MIB,
        ".tiff": 256 * MIB,
        **dict.fromkeys((".mp4", ".mov", ".m4a", ".3gp", ".webm", ".flac", ".ogg", ".mp3"), 512 * MIB),
    }
)
"""Largest file by its ending [bytes]."""

CELLS = 1_000_000
"""Most cells of a table as text: 250,000 readings of a trace in four columns."""

SHEET_CELLS = 300_000
"""Most cells of a sheet of a workbook: 10,000 runs of 30 columns."""

COLUMNS = 2_000
"""Most columns of a table."""

TAGS = 1_500_000
"""Most marks of a workbook's parts: a cell with a number has four."""


SECTIONS = 400
"""Most lubricants, criteria or claims of campaign.toml."""

PROBLEMS = 500
"""Most problems that are told of one column."""

UNPACKED = 48 * MIB
"""Most that a workbook may hold when unpacked [bytes]."""


def too_large(path: Path, name: str) -> list[Problem]:
    """Tell whether a file is larger than pinscar reads of its kind.

    Examples
    --------
    >>> too_large(Path("nowhere.csv"), "nowhere.csv")
    []
    """
    most = LARGEST.get(path.suffix.lower())
    try:
        size = path.stat().st_size
    except OSError:
        return []
    if most is None or size <= most:
        return []
    message = f"the file has {size / MIB:.3g} MiB, and of its kind at most {most / MIB:g} MiB are read"
    return [error("file-too-large", name, message, "put the right file in its place, or take rows out")]


def too_many(what: str, most: int, name: str, mend: str) -> Problem:
    """Say that a file holds more than is read.

    Examples
    --------
    >>> print(too_many("cells", 1000, "runs.csv", "take some out"))
    runs.csv: the file holds more than 1,000 cells, the most that is read; take some out
    """
    return error(
        "file-too-large", name, f"the file holds more than {most:,} {what}, the most that is read", mend
    )

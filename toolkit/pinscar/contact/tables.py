"""Reading of the data files that ship in the package: csv with a head of comment lines."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def read_table(name: str) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Read one data file of ``contact/data``.

    Parameters
    ----------
    name : str
        File name, such as ``roller_chain_iso606.csv``.

    Returns
    -------
    tuple of rows
        Each row a tuple of (column, text) pairs; immutable, because the result is cached.

    References
    ----------
    Each file's head names its source and the meaning of its columns.

    Examples
    --------
    >>> dict(read_table("roller_chain_iso606.csv")[1])["pitch"]
    '12.70'
    """
    text = (files("pinscar.contact") / "data" / name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return tuple(tuple(row.items()) for row in csv.DictReader(lines))

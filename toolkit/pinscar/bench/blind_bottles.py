"""Codes on the bottles in place of the oils' names, and the key to them in a file of its own."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pinscar.errors import InputError, UsageError
from pinscar.press.files import cannot_write, put_file

KEY = "blind_key.csv"
HEADER = ("bottle", "lubricant")
LETTERS = "ACEFHJKLMNPRTUVWXY"
"""Letters that are not taken for a digit or for each other when written by hand."""
DIGITS = "234679"


def bottle_codes(oils: Sequence[str], seed: int, known: dict[str, str] | None = None) -> dict[str, str]:
    """Draw a code for each oil.

    Examples
    --------
    >>> codes = bottle_codes(["R-10", "C-21"], 7)
    >>> sorted(codes), len(set(codes.values()))
    (['C-21', 'R-10'], 2)
    """
    found = dict(known or {})
    draw = np.random.default_rng(seed)
    for oil in dict.fromkeys(oils):
        while oil not in found:
            code = "".join(draw.choice(list(signs)) for signs in (LETTERS, DIGITS, DIGITS))
            if code not in found.values():
                found[oil] = code
    return found


def codes_of(folder: Path, oils: Sequence[str], seed: int) -> dict[str, str]:
    """Give the codes of a campaign's oils: those of its key, and new ones for oils that it lacks."""
    known = _read(folder / KEY)
    codes = bottle_codes(oils, seed, known)
    if codes != known:
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerows([HEADER, *sorted((code, oil) for oil, code in codes.items())])
        try:
            put_file(folder / KEY, text.getvalue().encode())
        except OSError as error:
            raise cannot_write(folder, error) from error
    return codes


def _read(path: Path) -> dict[str, str]:
    from pinscar.campaign.folder import reach_problems
    from pinscar.campaign.tables import read_csv

    strange = list(reach_problems(path.parent, (path.name,), ()))
    if strange:
        raise InputError(strange)
    if not path.exists():
        return {}
    table, problems = read_csv(path, path.name)
    if table is None or problems or table.header != HEADER:
        raise UsageError(f"{path} cannot be read as the key of the bottles; move it away, or mend it")
    found = {oil: code for _, (code, oil) in table.rows if code and oil}
    if len(set(found.values())) != len(table.rows):
        raise UsageError(f"{path} has a bottle or an oil twice; mend it")
    return found

"""graticule.csv: what each reader read on a certified length, for the bias of the reading.

The file is optional and lies in the campaign folder. Its columns: ``reader``; ``certified`` with a unit, the
certified length; ``read`` with a unit, what the reader read; and optionally ``reading`` (a number) and
``uncertainty`` with a unit, the standard uncertainty of the certified length.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from pinscar.campaign.columns import Column
from pinscar.campaign.frames import read_frame
from pinscar.campaign.tables import read_csv
from pinscar.errors import InputError
from pinscar.problems import Problem, Severity
from pinscar.stats.reading_bias import ReadingBias, reading_bias

NAME = "graticule.csv"
COLUMNS = (
    Column("reader", "who read the graticule", required=True, filled=True),
    Column("reading", "number of the reading"),
    Column("certified", "certified length", "number", "length", "mm",
           required=True, filled=True, usual=(1e-5, 0.1)),
    Column("read", "what was read", "number", "length", "mm",
           required=True, filled=True, usual=(1e-5, 0.1)),
    Column("uncertainty", "standard uncertainty of the certified length", "number", "length", "um",
           low_allowed=True),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bias:
    """Bias of one reader, or of all readers together, on one certified length.

    Parameters
    ----------
    reader : str or None
        The reader; None for all: then each reader's mean counts as one value.
    result : ReadingBias
        Bias and interval [m].
    """

    reader: str | None
    result: ReadingBias


@dataclass(frozen=True, slots=True)
class Graticule:
    """Readings of certified lengths.

    Parameters
    ----------
    readings : DataFrame
        ``reader``, ``certified`` [m], ``read`` [m], ``uncertainty`` [m] or NaN.
    digest : str
        SHA-256 of the file.
    """

    readings: pd.DataFrame
    digest: str


def read_graticule(folder: Path) -> Graticule | None:
    """Read the readings of certified lengths.

    Parameters
    ----------
    folder : Path
        The campaign folder.

    Returns
    -------
    Graticule or None
        None where the folder has no such file.

    Raises
    ------
    InputError
        The file has errors.
    """
    path = folder / NAME
    if not path.exists():
        return None
    table, problems = read_csv(path, NAME)
    read = None if table is None else read_frame(table, COLUMNS)
    problems += [] if read is None else read.problems
    grave = [problem for problem in problems if problem.severity is Severity.ERROR]
    if read is None or grave:
        raise InputError(grave or [_unread()])
    return Graticule(read.frame, hashlib.sha256(path.read_bytes()).hexdigest())


def biases(graticule: Graticule, confidence: float) -> Iterator[Bias]:
    """Estimate the bias of every reader, and of all together, on every certified length.

    Parameters
    ----------
    graticule : Graticule
        The readings.
    confidence : float
        Confidence of the intervals [1].

    Yields
    ------
    Bias
        By certified length, each reader in the order of the file, then all where there are two or more.
    """
    for certified, at in graticule.readings.groupby("certified"):
        length = float(str(certified))
        uncertainty = float(np.nan_to_num(at["uncertainty"].max()))
        means = []
        for reader, own in at.groupby("reader", sort=False):
            values = own["read"].to_numpy(dtype=float)
            means.append(float(np.mean(values)))
            yield Bias(str(reader), reading_bias(values, length, confidence, uncertainty))
        if len(means) > 1:
            yield Bias(None, reading_bias(means, length, confidence, uncertainty))


def _unread() -> Problem:
    return Problem("file-unreadable", Severity.ERROR, NAME, "the file cannot be read", "save it as CSV text")

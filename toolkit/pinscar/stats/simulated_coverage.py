"""Look up how often intervals of censored runs held the truth in simulation."""

from __future__ import annotations

import csv
from functools import lru_cache
from importlib.resources import files
from typing import Literal

Kind = Literal["median", "ratio"]


@lru_cache(maxsize=1)
def _table() -> tuple[dict[str, str], ...]:
    text = files("pinscar.stats").joinpath("data/censored_coverage.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def simulated_coverage(
    kind: Kind, n: int, censored_share: float, confidence: float, column: str = "coverage"
) -> tuple[float, float] | None:
    """Look up the simulated coverage of the intervals of campaigns with censored runs.

    Parameters
    ----------
    kind : {"median", "ratio"}
        The median of one group, or the ratio of the medians of two of n runs each.
    n : int
        Runs in the group [-].
    censored_share : float
        Expected share of censored runs [-]; the nearest share simulated is taken.
    confidence : float
        Nominal confidence [-].
    column : str
        Which column of the table; see the head of ``data/censored_coverage.csv``.

    Returns
    -------
    lowest, highest : float, or None
        Share [-] over the ways of censoring simulated; None where n, share or confidence were not.

    References
    ----------
    Own derivation: Monte Carlo, kept in ``data/censored_coverage.csv``.

    Examples
    --------
    >>> low, high = simulated_coverage("median", 5, 0.4, 0.95)
    >>> 0.93 < low <= high < 0.98
    True
    >>> simulated_coverage("median", 50, 0.4, 0.95) is None
    True
    """
    rows = [
        row
        for row in _table()
        if row["kind"] == kind and int(row["n"]) == n and abs(float(row["nominal"]) - confidence) < 1e-4
    ]
    shares = {float(row["censored_share"]) for row in rows}
    if not shares or censored_share > max(shares) + 0.05 or censored_share < 0:
        return None
    nearest = min(sorted(shares), key=lambda share: abs(share - censored_share))
    found = [float(row[column]) for row in rows if float(row["censored_share"]) == nearest]
    return min(found), max(found)

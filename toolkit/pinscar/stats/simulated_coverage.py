"""Look up how often profile-likelihood limits held the truth in simulation, and say it in a sentence."""

from __future__ import annotations

import csv
from functools import lru_cache
from importlib.resources import files
from typing import Literal

from pinscar.stats.deviance_cut import Cut

Kind = Literal["median", "ratio"]
SHORT = 0.02  # a shortfall of coverage that is worth a correction


@lru_cache(maxsize=1)
def _table() -> tuple[dict[str, str], ...]:
    text = files("pinscar.stats").joinpath("data/censored_coverage.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def simulated_coverage(
    kind: Kind, n: int, censored_share: float, confidence: float, cut: Cut = "chi-square"
) -> tuple[float, float] | None:
    """Look up the simulated coverage of profile-likelihood limits with censored runs.

    Parameters
    ----------
    kind : {"median", "ratio"}
        The median of one group, or the ratio of the medians of two.
    n : int
        Runs in the group; of a ratio in the smaller group [-].
    censored_share : float
        Share of censored runs [-]; the nearest share simulated is taken.
    confidence : float
        Nominal confidence [-].
    cut : {"chi-square", "student"}
        How the deviance was cut.

    Returns
    -------
    lowest, highest : float, or None
        Coverage [-] over the ways of censoring simulated; None where n, share or confidence were not.

    References
    ----------
    Own derivation: Monte Carlo, kept in ``data/censored_coverage.csv``.

    Examples
    --------
    >>> low, high = simulated_coverage("median", 5, 0.4, 0.95)
    >>> 0.85 < low <= high < 1
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
    if not shares or censored_share > max(shares) + 0.05 or censored_share <= 0:
        return None
    nearest = min(sorted(shares), key=lambda share: abs(share - censored_share))
    column = "student" if cut == "student" else "chi_square"
    found = [float(row[column]) for row in rows if float(row["censored_share"]) == nearest]
    return min(found), max(found)


def coverage_sentence(
    kind: Kind, n: int, censored_share: float, confidence: float, cut: Cut = "chi-square"
) -> str:
    """Say how often limits of this kind held the truth in simulation.

    Parameters
    ----------
    kind : {"median", "ratio"}
        The median of one group, or the ratio of the medians of two.
    n : int
        Runs in the group; of a ratio in the smaller group [-].
    censored_share : float
        Share of censored runs [-].
    confidence : float
        Nominal confidence [-].
    cut : {"chi-square", "student"}
        How the deviance was cut.

    Returns
    -------
    str
        A clause without a full stop.

    References
    ----------
    Own derivation: wording of :func:`simulated_coverage`.

    Examples
    --------
    >>> coverage_sentence("median", 50, 0.4, 0.95)
    'the interval rests on large-sample theory; its coverage was not simulated for so many runs or censored
    ones'
    """
    found = simulated_coverage(kind, n, censored_share, confidence, cut)
    if found is None:
        return (
            "the interval rests on large-sample theory; its coverage was not simulated for so many "
            "runs or censored ones"
        )
    low, high = (f"{100 * share:.0f}" for share in found)
    span = low if low == high else f"{low} to {high}"
    return (
        f"in simulation such intervals held the truth in {span} % of campaigns, where "
        f"{100 * confidence:.4g} % is asked for"
    )


def falls_short(kind: Kind, n: int, censored_share: float, confidence: float) -> bool:
    """Whether the chi-square cut covers less than its confidence by more than two points.

    Parameters
    ----------
    kind : {"median", "ratio"}
        The median of one group, or the ratio of the medians of two.
    n : int
        Runs in the group; of a ratio in the smaller group [-].
    censored_share : float
        Share of censored runs [-].
    confidence : float
        Nominal confidence [-].

    Returns
    -------
    bool
        True where the lowest simulated coverage does, and where there is no simulation for so few runs.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> falls_short("ratio", 3, 0.4, 0.95)
    True
    """
    found = simulated_coverage(kind, n, censored_share, confidence)
    return n < 9 if found is None else found[0] < confidence - SHORT

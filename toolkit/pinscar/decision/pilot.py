"""What an earlier campaign tells a new one: the spread of repeats, the share still wearing, the duration."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pinscar.campaign.campaign import Campaign
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.summaries import cells
from pinscar.decision.together import unbounded_response
from pinscar.decision.wording import load_text
from pinscar.errors import InputError, UsageError
from pinscar.problems import Problem, Severity


@dataclass(frozen=True, slots=True)
class PilotCell:
    """One oil at one load of the pilot.

    Parameters
    ----------
    name : str
        Oil and load in words.
    n : int
        Runs.
    log_sd : float
        Standard deviation of the logarithms.
    """

    name: str
    n: int
    log_sd: float


@dataclass(frozen=True, slots=True)
class Pilot:
    """What a pilot tells.

    Parameters
    ----------
    id : str
        The campaign.
    cells : tuple of PilotCell
        Oils and loads with repeats.
    log_sd : float
        Standard deviation of the logarithms, pooled over the cells.
    df : int
        Its degrees of freedom.
    censored : float
        Share of the reference's runs that had not stopped wearing, or were not judged.
    duration : float
        Usual duration of its runs [s].
    """

    id: str
    cells: tuple[PilotCell, ...]
    log_sd: float
    df: int
    censored: float
    duration: float


def read_pilot(campaign: Campaign, response: str) -> Pilot:
    r"""Take spread, share still wearing and duration from a campaign.

    .. math:: s = \sqrt{\sum_i (n_i - 1) s_i^2 / \sum_i (n_i - 1)}

    over all oils and loads, on logarithms: one spread for all is assumed, as in the comparisons. Days and
    rings of the pilot are in it.

    Parameters
    ----------
    campaign : Campaign
        A checked campaign.
    response : str
        What will be compared: a positive response that is never a bound.

    Returns
    -------
    Pilot
        What it tells.

    Raises
    ------
    UsageError
        For a response that can't be used.
    InputError
        Where no oil has two runs at a load, or repeats do not differ.
    """
    chosen = unbounded_response([campaign], response)
    if chosen.scale != "log":
        raise UsageError(f"{response} has no ratios, since the zero of its unit is arbitrary")
    runs = evaluate_runs(campaign)
    included = runs[runs["excluded"] == ""]
    found = []
    # A pilot whose folder was made for another response simply lacks the column.
    for cell in cells(runs, chosen) if chosen.name in runs else ():
        values = cell.values[cell.values > 0.0]
        if values.size > 1:
            sd = float(np.std(np.log(values), ddof=1))
            found.append(PilotCell(f"{cell.lubricant} at {load_text(cell.load_level)}", int(values.size), sd))
    df = sum(cell.n - 1 for cell in found)
    total = math.fsum((cell.n - 1) * cell.log_sd**2 for cell in found)
    if df == 0 or total == 0.0:
        message = "no oil has two runs at a load that differ, so the pilot gives no spread"
        mend = "name another pilot, or give the spread: --log-sd 0.12"
        raise InputError([Problem("pilot-no-spread", Severity.ERROR, "runs.csv", message, mend)])
    own = included[included["lubricant"] == campaign.file.campaign.reference]
    return Pilot(
        campaign.file.campaign.id,
        tuple(found),
        math.sqrt(total / df),
        df,
        float(own["left_censored"].mean()),
        float(included["duration"].median()),
    )

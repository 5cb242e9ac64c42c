"""A product range over several campaigns, joined through the reference oil that they share."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.stats.random_effects import (
    Combination,
    Group,
    JointFit,
    OilInCampaigns,
    fit_shared_reference,
    random_effects,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CampaignRatio:
    """Ratio of one lubricant to the reference in one campaign, on the log scale.

    Parameters
    ----------
    campaign, lubricant : str
        Where and what.
    log_ratio, standard_error : float
        Difference of the mean logarithms and its standard error.
    df : int
        Degrees of freedom of the campaign's pooled spread.
    n, n_reference : int
        Runs of the lubricant and of the reference.
    """

    campaign: str
    lubricant: str
    log_ratio: float
    standard_error: float
    df: int
    n: int
    n_reference: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What could not be joined.

    Parameters
    ----------
    campaign : str
        The campaign.
    reason : str
        Why, in a plain sentence.
    """

    campaign: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedLubricant:
    """One line of a ranked product range.

    Parameters
    ----------
    rank : int
        Place by estimate, 1 for the best.
    best_rank, worst_rank : int
        Ranks compatible with the intervals.
    lubricant : str
        The lubricant.
    ratio : float
        Ratio to the reference; 1 for the reference itself.
    low, high : float or None
        Confidence limits of the ratio; None for the reference.
    prediction_low, prediction_high : float or None
        Limits for the ratio in one more campaign.
    campaigns : tuple of str
        Campaigns that it rests on.
    combination : Combination or None
        The combination on the log scale; None for the reference.
    """

    rank: int
    best_rank: int
    worst_rank: int
    lubricant: str
    ratio: float
    low: float | None
    high: float | None
    prediction_low: float | None
    prediction_high: float | None
    campaigns: tuple[str, ...]
    combination: Combination | None


def campaign_ratios(
    campaigns: Mapping[str, Mapping[str, ArrayLike]], reference: str
) -> tuple[tuple[CampaignRatio, ...], tuple[LeftOut, ...]]:
    r"""Compute every lubricant's ratio to the reference within each campaign.

    .. math:: \ln r = \overline{\ln x} - \overline{\ln x_0}, \quad
              s_{\ln r} = s_p \sqrt{1/n + 1/n_0}

    with the spread s_p pooled over all lubricants of the campaign, on N - k degrees of freedom. Log-normal
    values of one spread within a campaign are assumed. Ratios of one campaign share its reference runs and
    so part of their error, which `joint_fit` allows for.

    Parameters
    ----------
    campaigns : mapping of str to (mapping of str to array_like)
        For each campaign the values of each lubricant [any one unit], positive, none censored.
    reference : str
        The reference oil.

    Returns
    -------
    tuple
        The ratios, and the campaigns that were left out with the reason.

    Raises
    ------
    ValueError
        Where a value is not positive.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.6 (pooled spread of a one-way layout).

    Examples
    --------
    >>> ratios, left_out = campaign_ratios(
    ...     {"01": {"R": [100, 110, 105], "C": [140, 150, 145]}, "02": {"C": [150, 160]}}, "R")
    >>> [(r.campaign, round(math.exp(r.log_ratio), 3)) for r in ratios], left_out[0].reason
    ([('01', 1.381)], 'The reference R was not run.')
    """
    ratios: list[CampaignRatio] = []
    left_out: list[LeftOut] = []
    for campaign, cells in campaigns.items():
        reason = _reason_to_leave_out(cells, reference)
        if reason is None:
            ratios += _ratios_of(campaign, cells, reference)
        else:
            left_out.append(LeftOut(campaign, reason))
    return tuple(ratios), tuple(left_out)


def rank_lubricants(
    ratios: Sequence[CampaignRatio],
    reference: str,
    confidence: float = 0.95,
    *,
    higher_is_better: bool = True,
    shared_spread: bool = True,
) -> tuple[RankedLubricant, ...]:
    """Combine the ratios of each lubricant over the campaigns and rank the range, the reference in its place.

    With `shared_spread` one standard deviation between campaigns serves all lubricants, and one of runs all
    campaigns (`joint_fit`): what changes from campaign to campaign (rig, rings, readers) is taken to act on
    all alike, which leaves useful intervals where each lubricant was run in two or three campaigns only. Else
    each has its own. A place is left open where the interval of another lubricant is not wholly on one side.

    Parameters
    ----------
    ratios : sequence of CampaignRatio
        Ratios of all campaigns.
    reference : str
        The reference oil.
    confidence : float
        Two-sided confidence of each interval [-].
    higher_is_better : bool
        Whether a larger response is the better one.
    shared_spread : bool
        Whether all lubricants share the spread between campaigns.

    Returns
    -------
    tuple of RankedLubricant
        The range, the best first.

    Raises
    ------
    ValueError
        Where there is no ratio.

    References
    ----------
    See `fit_shared_reference`; with a spread of its own `random_effects`. The places left open are own
    derivation: non-overlap of intervals.

    Examples
    --------
    >>> ratios = [
    ...     CampaignRatio(campaign=c, lubricant=o, log_ratio=y, standard_error=0.05, df=8, n=5, n_reference=5)
    ...     for c, o, y in [("01", "A", 0.3), ("02", "A", 0.34), ("01", "B", -0.2), ("02", "B", -0.21)]
    ... ]
    >>> [(line.rank, line.lubricant, round(line.ratio, 2)) for line in rank_lubricants(ratios, "R")]
    [(1, 'A', 1.38), (2, 'R', 1.0), (3, 'B', 0.81)]
    """
    if not ratios:
        raise ValueError("ratios holds none: no campaign ran the reference and another lubricant")
    by_lubricant: dict[str, list[CampaignRatio]] = {}
    for ratio in ratios:
        by_lubricant.setdefault(ratio.lubricant, []).append(ratio)
    fit = joint_fit(ratios, confidence) if shared_spread else None
    combined: dict[str, Combination | None] = {reference: None}
    for name, own in by_lubricant.items():
        combined[name] = (
            random_effects(*_group(own), confidence, within_df=min(ratio.df for ratio in own))
            if fit is None
            else fit.combinations[name]
        )
    order = sorted(combined, key=lambda name: _centre(combined[name]), reverse=higher_is_better)
    used = {name: tuple(ratio.campaign for ratio in own) for name, own in by_lubricant.items()}
    used[reference] = tuple(dict.fromkeys(ratio.campaign for ratio in ratios))
    return tuple(
        _line(place, name, combined, used[name], higher_is_better) for place, name in enumerate(order, 1)
    )


def joint_fit(ratios: Sequence[CampaignRatio], confidence: float = 0.95) -> JointFit | None:
    """Fit all ratios together, with the spread of runs pooled over the campaigns.

    Parameters
    ----------
    ratios : sequence of CampaignRatio
        Ratios of all campaigns.
    confidence : float
        Two-sided confidence of each interval [1].

    Returns
    -------
    JointFit or None
        None where no lubricant was run in two campaigns.

    References
    ----------
    See `fit_shared_reference`.

    Examples
    --------
    >>> ratios = [
    ...     CampaignRatio(
    ...         campaign=c, lubricant="A", log_ratio=y, standard_error=0.05, df=8, n=5, n_reference=5
    ...     )
    ...     for c, y in [("01", 0.3), ("02", 0.34)]
    ... ]
    >>> fit = joint_fit(ratios)
    >>> round(fit.combinations["A"].estimate, 2), fit.df
    (0.32, 1.0)
    """
    by_lubricant: dict[str, list[CampaignRatio]] = {}
    for ratio in ratios:
        by_lubricant.setdefault(ratio.lubricant, []).append(ratio)
    if not any(len(own) > 1 for own in by_lubricant.values()):
        return None
    of_campaign = {ratio.campaign: ratio for ratio in ratios}
    df = sum(ratio.df for ratio in of_campaign.values())
    squares = math.fsum(
        ratio.df * ratio.standard_error**2 / _runs_factor(ratio) for ratio in of_campaign.values()
    )
    oils = {
        name: OilInCampaigns(
            tuple(ratio.campaign for ratio in own),
            tuple(ratio.log_ratio for ratio in own),
            tuple(_runs_factor(ratio) for ratio in own),
        )
        for name, own in by_lubricant.items()
    }
    return fit_shared_reference(oils, squares / df, df, confidence)


def _runs_factor(ratio: CampaignRatio) -> float:
    return 1.0 / ratio.n + 1.0 / ratio.n_reference


def _reason_to_leave_out(cells: Mapping[str, ArrayLike], reference: str) -> str | None:
    sizes = {name: np.asarray(values).size for name, values in cells.items()}
    if not sizes.get(reference):
        return f"The reference {reference} was not run."
    if not any(size for name, size in sizes.items() if name != reference):
        return f"Only the reference {reference} was run."
    if not any(size > 1 for size in sizes.values()):
        return "No lubricant was run twice, so the spread is unknown."
    logs = [_logs(values) for values in cells.values()]
    if all(np.ptp(x) == 0.0 for x in logs if x.size):
        return "Repeats do not differ at all, so the spread is unknown."
    return None


def _ratios_of(campaign: str, cells: Mapping[str, ArrayLike], reference: str) -> list[CampaignRatio]:
    logs = {name: _logs(values) for name, values in cells.items() if np.asarray(values).size}
    df = sum(x.size - 1 for x in logs.values())
    pooled = math.sqrt(math.fsum(float(np.sum((x - x.mean()) ** 2)) for x in logs.values()) / df)
    base = logs[reference]
    return [
        CampaignRatio(
            campaign=campaign,
            lubricant=name,
            log_ratio=float(x.mean() - base.mean()),
            standard_error=pooled * math.sqrt(1.0 / x.size + 1.0 / base.size),
            df=df,
            n=x.size,
            n_reference=base.size,
        )
        for name, x in logs.items()
        if name != reference
    ]


def _logs(values: ArrayLike) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    x = np.asarray(values, dtype=np.float64)
    if not bool(np.all(x > 0.0)):
        raise ValueError("values must be positive to be compared as ratios")
    return np.asarray(np.log(x), dtype=np.float64)


def _group(ratios: Sequence[CampaignRatio]) -> Group:
    return [ratio.log_ratio for ratio in ratios], [ratio.standard_error for ratio in ratios]


def _centre(combination: Combination | None) -> float:
    return 0.0 if combination is None else combination.estimate


def _limits(combination: Combination | None) -> tuple[float, float]:
    return (0.0, 0.0) if combination is None else (combination.low, combination.high)


def _line(
    place: int,
    name: str,
    combined: Mapping[str, Combination | None],
    campaigns: tuple[str, ...],
    higher_is_better: bool,
) -> RankedLubricant:
    own = combined[name]
    low, high = _limits(own)
    others = [_limits(c) for other, c in combined.items() if other != name]
    above, below = sum(other[0] > high for other in others), sum(other[1] < low for other in others)
    better, worse = (above, below) if higher_is_better else (below, above)
    return RankedLubricant(
        rank=place,
        best_rank=1 + better,
        worst_rank=len(combined) - worse,
        lubricant=name,
        ratio=math.exp(_centre(own)),
        low=None if own is None else math.exp(own.low),
        high=None if own is None else math.exp(own.high),
        prediction_low=_exp(None if own is None else own.prediction_low),
        prediction_high=_exp(None if own is None else own.prediction_high),
        campaigns=campaigns,
        combination=own,
    )


def _exp(value: float | None) -> float | None:
    return None if value is None else math.exp(value)

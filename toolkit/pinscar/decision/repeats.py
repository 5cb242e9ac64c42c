"""Further repeats likely to settle an undecided limit."""

from __future__ import annotations

from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.summaries import Summary
from pinscar.stats.further import further_repeats_to_settle, spread_from_interval


def further_repeats(evidence: Summary | LoadComparison, limit: float, confidence: float) -> int | None:
    """Estimate the further repeats a lubricant that would probably settle a limit.

    By the noncentral t distribution, if estimate and spread stay as they are, with a chance of 80 %. Censored
    runs count as full runs, so with censoring the number is a lower bound.

    Parameters
    ----------
    evidence : Summary or LoadComparison
        What was judged.
    limit : float
        The limit, in SI units or as a ratio.
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    int or None
        Further runs; None where the spread is unknown, there is no estimate, or more than 50 would be needed.
    """
    if isinstance(evidence, Summary):
        return _for_value(evidence, limit, confidence)
    return _for_ratio(evidence, limit, confidence)


def _for_value(summary: Summary, limit: float, confidence: float) -> int | None:
    estimate = summary.estimate
    if estimate.estimate is None or not estimate.sd:
        return None
    return further_repeats_to_settle(
        estimate.n, estimate.sd, estimate.estimate, limit, confidence, scale=summary.response.scale
    )


def _for_ratio(comparison: LoadComparison, limit: float, confidence: float) -> int | None:
    result = comparison.result
    if result.ratio is None or result.low is None or result.high is None or result.low >= result.high:
        return None
    spread = spread_from_interval(
        result.low, result.high, confidence, result.n, result.n_reference, comparison.family
    )
    return further_repeats_to_settle(
        result.n,
        spread,
        result.ratio,
        limit,
        confidence,
        n_reference=result.n_reference,
        comparisons=comparison.family,
    )

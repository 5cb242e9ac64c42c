"""Further repeats likely to settle an undecided limit."""

from __future__ import annotations

from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.summaries import Summary


def further_repeats(evidence: Summary | LoadComparison, limit: float, confidence: float) -> int | None:
    """Estimate the further repeats a lubricant that would probably settle a limit.

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
        Further runs; None where the spread is unknown, censoring leaves no estimate, or the number would be
        out of any reason.
    """
    raise NotImplementedError

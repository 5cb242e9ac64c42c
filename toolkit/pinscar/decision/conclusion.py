"""What a comparison with the reference shows, in words."""

from __future__ import annotations

from pinscar.decision.comparisons import LoadComparison
from pinscar.wording import change_range, compared, significant


def conclusion(comparison: LoadComparison) -> str:
    """Say in words what a comparison shows.

    Parameters
    ----------
    comparison : LoadComparison
        A lubricant against the reference.

    Returns
    -------
    str
        One plain clause.
    """
    if comparison.unlike is not None:
        return f"not compared: {comparison.unlike}"
    if comparison.blocked is not None:
        return f"not like for like ({comparison.blocked}): {_shown(comparison)}"
    return _shown(comparison)


def _shown(comparison: LoadComparison) -> str:
    result, response = comparison.result, comparison.response
    if result.low is None and result.high is None:
        return f"no interval: {result.note or result.method}"
    if response.scale == "linear":
        way = response.smaller if (result.difference or 0.0) < 0 else response.larger
        apart = result.low is not None and result.high is not None and not result.low <= 0.0 <= result.high
        return f"{way} than {result.reference}" if apart else f"not separated from {result.reference}"
    if result.low is None or result.high is None or result.ratio is None:
        end = (
            f"at most {significant(result.high)}"
            if result.low is None
            else f"at least {significant(result.low)}"
        )
        return f"ratio to {result.reference} {end}"
    change_interval = change_range(result.ratio, result.low, result.high)
    if not result.low <= 1.0 <= result.high:
        words = compared(result.ratio, response.smaller, response.larger, result.reference)
        return f"{words} ({change_interval})"
    return f"not separated from {result.reference} ({change_interval})"

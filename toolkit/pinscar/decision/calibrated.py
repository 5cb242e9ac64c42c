"""Limits for a verdict on censored runs, calibrated to Student's t: plain ones are short for few runs."""

from __future__ import annotations

from pinscar.decision.responses import Response
from pinscar.decision.summaries import Cell, Summary
from pinscar.stats.censored import left_censored_median, right_censored_median
from pinscar.stats.censored_groups import censored_ratio, fit_censored_groups

Limits = tuple[float | None, float | None]


def value_limits(summary: Summary, confidence: float) -> Limits | None:
    """Give the calibrated limits of a cell with censored runs.

    Parameters
    ----------
    summary : Summary
        The cell and its estimate.
    confidence : float
        Confidence of the limits [1].

    Returns
    -------
    tuple of float or None, or None
        Low and high end, SI units; None where no run is censored or the data give a bound only.
    """
    estimate, cell = summary.estimate, summary.cell
    if estimate.n_censored == 0 or estimate.estimate is None:
        return None
    median = left_censored_median if summary.response.censored_side == "left" else right_censored_median
    guarded = median(cell.values, cell.censored, confidence, cut="student")
    return guarded.low, guarded.high


def ratio_limits(response: Response, subject: Cell, reference: Cell, confidence: float) -> Limits | None:
    """Give the calibrated limits of the ratio of two cells of which one has censored runs.

    Parameters
    ----------
    response : Response
        Tells the side of censoring.
    subject, reference : Cell
        The two cells.
    confidence : float
        Confidence of this one ratio [1].

    Returns
    -------
    tuple of float or None, or None
        Low and high end; None where no run is censored, or a cell has only censored runs.
    """
    cells = {"subject": subject, "reference": reference}
    if not any(cell.censored.any() for cell in cells.values()):
        return None
    if any(cell.censored.all() for cell in cells.values()):
        return None
    right = response.censored_side == "right"
    # A right-censored time is a left-censored rate: one method serves both, and the ends change places.
    values = {name: 1.0 / cell.values if right else cell.values for name, cell in cells.items()}
    groups = fit_censored_groups(values, {name: cell.censored for name, cell in cells.items()})
    ratio = censored_ratio(groups, "subject", "reference", confidence, cut="student")
    if right:
        return (1.0 / ratio.high if ratio.high else None), (1.0 / ratio.low if ratio.low else None)
    return ratio.low, ratio.high

"""Where the next run and most runs of a cell will lie: intervals of the film pressure for single runs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pinscar.decision.judgements import Summary
from pinscar.stats.checks import Estimate, Scale
from pinscar.stats.intervals import prediction_interval, tolerance_interval
from pinscar.wording import counted

CONTENT = 0.9
"""Share of all runs that the tolerance interval is to hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRuns:
    """Intervals for single runs of one cell.

    Attributes
    ----------
    summary : Summary
        The cell and its estimate.
    prediction, tolerance : Estimate or None
        Interval of the next run, and of the share `CONTENT` of all runs, SI units; None where not computed.
    reason : str or None
        Why they are not computed.
    """

    summary: Summary
    prediction: Estimate | None
    tolerance: Estimate | None
    reason: str | None


def next_runs(summaries: Sequence[Summary], confidence: float) -> Iterator[NextRuns]:
    """Compute both intervals of the film pressure for each cell whose runs all have a value, not a bound."""
    for summary in summaries:
        if summary.response.name == "film_pressure":
            yield _of_cell(summary, confidence)


def _of_cell(summary: Summary, confidence: float) -> NextRuns:
    values, bounds = summary.cell.values, int(summary.cell.censored.sum())
    reason = None
    if bounds:
        reason = f"not computed: {counted(bounds, 'run')} of {values.size} gave only a bound"
    elif values.size < 2:
        reason = "single run, no interval"
    elif values.min() == values.max():
        reason = "not computed: all runs gave the same value"
    if reason is not None:
        return NextRuns(summary=summary, prediction=None, tolerance=None, reason=reason)
    scale: Scale = "linear" if summary.response.scale == "linear" else "log"
    return NextRuns(
        summary=summary,
        prediction=prediction_interval(values, confidence, scale),
        tolerance=tolerance_interval(values, CONTENT, confidence, scale),
        reason=None,
    )

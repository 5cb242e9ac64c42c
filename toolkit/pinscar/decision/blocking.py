"""What a blocking finding does: the comparison is shown, but neither tested nor used for a verdict."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

import pandas as pd

from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.finding import Finding, Weight

SAME_LOAD = "load-not-shared"
"""The one blocking finding that says nothing against oils that ran at the same load."""


def blocking_reason(run_ids: Collection[str], findings: Iterable[Finding]) -> str | None:
    """Say what in the audit stands against comparing some runs with others at their load.

    Parameters
    ----------
    run_ids : collection of str
        The runs.
    findings : iterable of Finding
        The fairness audit.

    Returns
    -------
    str or None
        The first blocking finding that concerns one of them, as a clause; None where there is none.

    Examples
    --------
    >>> finding = Finding("dose", Weight.BLOCKS, "C-21 had a dose of its own.", "It may explain it.", ("r1",))
    >>> blocking_reason({"r1", "r2"}, [finding]), blocking_reason({"r3"}, [finding])
    ('the audit blocks it: C-21 had a dose of its own', None)
    """
    for finding in findings:
        blocks = finding.severity is Weight.BLOCKS and finding.id != SAME_LOAD
        if blocks and set(run_ids) & set(finding.runs):
            return f"the audit blocks it: {finding.message.rstrip('.')}"
    return None


def withhold(
    comparisons: Sequence[LoadComparison], runs: pd.DataFrame, findings: Sequence[Finding]
) -> tuple[LoadComparison, ...]:
    """Take test and interval from the comparisons that the audit blocks; the estimate stays to be shown.

    Parameters
    ----------
    comparisons : sequence of LoadComparison
        Every comparison with the reference.
    runs : DataFrame
        Evaluated, included runs.
    findings : sequence of Finding
        The fairness audit.

    Returns
    -------
    tuple of LoadComparison
        In the same order; those run unlike anyway are as they were.
    """
    return tuple(_withheld(comparison, runs, findings) for comparison in comparisons)


def _withheld(comparison: LoadComparison, runs: pd.DataFrame, findings: Sequence[Finding]) -> LoadComparison:
    if comparison.unlike is not None:
        return comparison
    own = runs[
        (runs["lubricant"] == comparison.result.subject) & (runs["load_level"] == comparison.load_level)
    ]
    reason = blocking_reason(set(own["run_id"]), findings)
    if reason is None:
        return comparison
    result = replace(
        comparison.result,
        low=None,
        high=None,
        p_adjusted=None,
        method="not tested: the fairness audit blocks the comparison",
        note=reason,
    )
    return replace(comparison, result=result, unlike=reason)

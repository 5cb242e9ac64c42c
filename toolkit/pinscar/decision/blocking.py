"""What a blocking finding does: the comparison is shown, but decides nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

import pandas as pd

from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.finding import Finding, Weight

SAME_LOAD = "load-not-shared"
"""The one blocking finding that says nothing against oils that ran at the same load."""


def blocking_reason(
    run_ids: Collection[str], findings: Iterable[Finding], response: str | None = None
) -> str | None:
    """Say what in the audit stands against comparing some runs with others at their load.

    Parameters
    ----------
    run_ids : collection of str
        The runs.
    findings : iterable of Finding
        The fairness audit.
    response : str, optional
        Name of the response that is compared; a finding that spares it does not count.

    Returns
    -------
    str or None
        The first blocking finding that concerns one of them, as a clause; None where there is none.

    Examples
    --------
    >>> finding = Finding("dose", Weight.BLOCKS, "C-21 had a dose of its own.", "It may explain it.", ("r1",))
    >>> blocking_reason({"r1", "r2"}, [finding]), blocking_reason({"r3"}, [finding])
    ('C-21 had a dose of its own', None)
    """
    for finding in findings:
        blocks = finding.severity is Weight.BLOCKS and finding.id != SAME_LOAD
        if blocks and response not in finding.spares and set(run_ids) & set(finding.runs):
            return finding.message.rstrip(".")
    return None


def mark_blocked(
    comparisons: Sequence[LoadComparison], runs: pd.DataFrame, findings: Sequence[Finding]
) -> tuple[LoadComparison, ...]:
    """Mark the comparisons that the audit blocks: their numbers stay to be seen, but they decide nothing.

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
        In the same order; those that were run unlike, and so not tested, are as they were.
    """
    return tuple(_marked(comparison, runs, findings) for comparison in comparisons)


def _marked(comparison: LoadComparison, runs: pd.DataFrame, findings: Sequence[Finding]) -> LoadComparison:
    if comparison.unlike is not None:
        return comparison
    own = runs[
        (runs["lubricant"] == comparison.result.subject) & (runs["load_level"] == comparison.load_level)
    ]
    return replace(
        comparison, blocked=blocking_reason(set(own["run_id"]), findings, comparison.response.name)
    )

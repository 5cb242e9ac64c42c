"""Comparisons: every lubricant against the reference at each load, like with like only."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.judgements import Cell, Compared, LoadComparison, no_ratio_reason
from pinscar.decision.kept_results import kept_result
from pinscar.decision.responses import Response
from pinscar.decision.runs import unlike_reason
from pinscar.decision.summaries import Method, cells, resolution, useful_comparison
from pinscar.stats.block_layout import BLANK
from pinscar.stats.choose import compare_with_reference
from pinscar.stats.family import Comparison
from pinscar.stats.intervals import MeanRatio, mean_ratio, mean_ratio_in_blocks
from pinscar.stats.two_groups import bonferroni_confidence


def ratio_of_cells(
    response: Response,
    cell: Cell,
    base: Cell,
    blocks: tuple[Sequence[str], Sequence[str]] | None,
    confidence: float,
    step: float,
) -> MeanRatio:
    """Give the ratio of the means of two cells on the linear scale."""
    reason = no_ratio_reason(response)
    if reason is not None:
        return MeanRatio(ratio=None, low=None, high=None, p=None, df=None, reason=reason, method="no ratio")
    known = blocks is not None and not any(
        label.strip().lower() in BLANK for labels in blocks for label in labels
    )
    if blocks is None or not known:
        return mean_ratio(cell.values, base.values, confidence, step)
    return mean_ratio_in_blocks(cell.values, base.values, *blocks, confidence, step)


def as_comparison(means: MeanRatio, cell: Cell, base: Cell, confidence: float) -> Comparison:
    """Write a ratio of means as a comparison, so that it is weighed like every other ratio."""
    return Comparison(
        subject=cell.lubricant,
        reference=base.lubricant,
        n=cell.values.size,
        n_censored=0,
        n_reference=base.values.size,
        n_censored_reference=0,
        ratio=means.ratio,
        difference=None,
        low=means.low,
        high=means.high,
        p_adjusted=means.p,
        confidence=confidence,
        method=means.method,
        note=means.reason,
    )


def compare_all(
    runs: pd.DataFrame, responses: Sequence[Response], reference: str, method: Method
) -> tuple[LoadComparison, ...]:
    """Compare every lubricant with the reference, for each response and load level; counts are left out."""
    included = runs[runs["excluded"] == ""]
    found: list[LoadComparison] = []
    for response in (response for response in responses if not response.is_count):
        by_level: dict[float, list[Cell]] = {}
        step = resolution(response, included, method.units, method.typed_steps)
        for cell in cells(runs, response):
            by_level.setdefault(cell.load_level, []).append(cell)
        for level, group in by_level.items():
            if any(cell.lubricant == reference for cell in group):
                at_level = included[included["load_level"] == level]
                found.extend(_compare_level(at_level, response, level, group, reference, method, step))
    return tuple(found)


def compare_cells(
    at_level: pd.DataFrame,
    response: Response,
    group: Sequence[Cell],
    reference: str,
    method: Method,
    step: float = 0.0,
) -> list[Comparison]:
    """Test cells of one load level against one of them, whatever else may stand against the comparison."""
    right = response.censored_side == "right"
    # A right-censored time is a left-censored rate: one method serves both, and the ratio is turned back.
    values = {cell.lubricant: 1.0 / cell.values if right else cell.values for cell in group}
    bounds = {cell.lubricant: cell.censored for cell in group}
    asked: dict[str, Any] = {
        "scale": response.scale,
        "blocks": cell_blocks(at_level, group, method.block),
        "left_censored": bounds if any(bound.any() for bound in bounds.values()) else None,
        "pooled": method.pooled,
        "step": step,
        "prior": method.priors.get(response.name),
    }
    results = kept_result(
        "compare_with_reference",
        (values, reference, method.confidence, asked),
        lambda: compare_with_reference(values, reference, method.confidence, **asked),
    )
    return [useful_comparison(_turned_back(result) if right else result) for result in results]


def _compare_level(
    at_level: pd.DataFrame,
    response: Response,
    level: float,
    group: Sequence[Cell],
    reference: str,
    method: Method,
    step: float,
) -> Iterator[LoadComparison]:
    by_lubricant = dict(list(at_level.groupby("lubricant")))
    unlike = {
        cell.lubricant: unlike_reason(
            by_lubricant[cell.lubricant], by_lubricant[reference], response=response.name
        )
        for cell in group
        if cell.lubricant != reference
    }
    alike = [cell for cell in group if unlike.get(cell.lubricant) is None]
    tested = {}
    if len(alike) > 1:
        tested = {c.subject: c for c in compare_cells(at_level, response, alike, reference, method, step)}
    base = next(cell for cell in group if cell.lubricant == reference)
    placed = {cell.lubricant: cell for cell in with_blocks(at_level, group, method.block)}
    for cell in group:
        if cell.lubricant == reference:
            continue
        reason = unlike[cell.lubricant]
        result = (
            tested[cell.lubricant]
            if reason is None
            else _untested(response, cell, base, method.confidence, reason)
        )
        family = max(len(tested), 1)
        means = None
        if response.scale == "linear" and reason is None:
            each = bonferroni_confidence(method.confidence, family)
            labels = cell_blocks(at_level, [cell, base], method.block)
            own = None if labels is None else (labels[cell.lubricant], labels[base.lubricant])
            means = ratio_of_cells(response, cell, base, own, each, step)
        compared = None
        if reason is None:
            compared = Compared(
                subject=placed[cell.lubricant],
                reference=placed[reference],
                others=tuple(placed[name] for name in tested if name != cell.lubricant),
                pooled=method.pooled,
                right_censored=response.censored_side == "right",
                step=step,
                prior=method.priors.get(response.name),
            )
        yield LoadComparison(
            response=response,
            load_level=level,
            result=result,
            unlike=reason,
            family=family,
            of_means=means,
            compared=compared,
        )


def with_blocks(at_level: pd.DataFrame, group: Sequence[Cell], block: str | None) -> list[Cell]:
    """Give cells with the block of each of their runs."""
    labels = cell_blocks(at_level, group, block)
    if labels is None:
        return list(group)
    return [replace(cell, blocks=tuple(labels[cell.lubricant])) for cell in group]


def cell_blocks(
    at_level: pd.DataFrame, group: Sequence[Cell], block: str | None
) -> dict[str, list[str]] | None:
    """Look up the block of each run of some cells."""
    if block is None:
        return None
    of_run = dict(zip(at_level["run_id"], at_level[block].astype(str), strict=True))
    return {cell.lubricant: [of_run[run] for run in cell.run_ids] for cell in group}


def _turned_back(result: Comparison) -> Comparison:
    def inverse(value: float | None) -> float | None:
        return None if value is None or value == 0.0 else 1.0 / value

    return replace(
        result,
        ratio=inverse(result.ratio),
        low=inverse(result.high),
        high=inverse(result.low),
        profile_low=inverse(result.profile_high),
        profile_high=inverse(result.profile_low),
        method=result.method.replace("left censoring", "right censoring"),
    )


def _untested(response: Response, cell: Cell, base: Cell, confidence: float, reason: str) -> Comparison:
    ratio = difference = None
    if response.scale == "linear":
        difference = float(np.mean(cell.values) - np.mean(base.values))
    elif not (cell.censored.any() or base.censored.any()):
        ratio = float(np.exp(np.mean(np.log(cell.values)) - np.mean(np.log(base.values))))
    return Comparison(
        subject=cell.lubricant,
        reference=base.lubricant,
        n=cell.values.size,
        n_censored=int(cell.censored.sum()),
        n_reference=base.values.size,
        n_censored_reference=int(base.censored.sum()),
        ratio=ratio,
        difference=difference,
        low=None,
        high=None,
        p_adjusted=None,
        confidence=confidence,
        method="not tested: unlike conditions",
        note=reason,
    )


SAME_LOAD = "load-not-shared"
"""The one blocking finding that says nothing against oils that ran at the same load."""


def audit_objection(
    run_ids: Collection[str], findings: Iterable[Finding], response: str | None = None
) -> str | None:
    """Say what in the audit stands against comparing some runs with others at their load.

    Examples
    --------
    >>> finding = Finding(
    ...     id="note-on-timer",
    ...     severity=Weight.BLOCKS,
    ...     values={"n": 1, "notes": ["r1: by hand"]},
    ...     runs=("r1",),
    ... )
    >>> audit_objection({"r1", "r2"}, [finding]), audit_objection({"r3"}, [finding])
    ('The note of 1 run speaks of the timing (r1: by hand)', None)
    """
    for finding in findings:
        blocks = finding.severity is Weight.BLOCKS and finding.id != SAME_LOAD
        if blocks and response not in finding.spares and set(run_ids) & set(finding.runs):
            return finding.message.rstrip(".")
    return None


def mark_blocked(
    comparisons: Sequence[LoadComparison], runs: pd.DataFrame, findings: Sequence[Finding]
) -> tuple[LoadComparison, ...]:
    """Mark the comparisons that the audit blocks: their numbers stay to be seen, but they decide nothing."""
    return tuple(_marked(comparison, runs, findings) for comparison in comparisons)


def _marked(comparison: LoadComparison, runs: pd.DataFrame, findings: Sequence[Finding]) -> LoadComparison:
    if comparison.unlike is not None:
        return comparison
    own = runs[
        (runs["lubricant"] == comparison.result.subject) & (runs["load_level"] == comparison.load_level)
    ]
    return replace(
        comparison, blocked=audit_objection(set(own["run_id"]), findings, comparison.response.name)
    )

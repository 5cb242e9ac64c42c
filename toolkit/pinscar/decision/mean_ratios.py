"""Ratios of responses that hold zeros or negative values: of their means, within blocks where declared."""

from __future__ import annotations

from collections.abc import Sequence

from pinscar.decision.judgements import Cell, no_ratio_reason
from pinscar.decision.responses import Response
from pinscar.stats.block_layout import BLANK
from pinscar.stats.family import Comparison
from pinscar.stats.intervals import MeanRatio, mean_ratio, mean_ratio_in_blocks


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

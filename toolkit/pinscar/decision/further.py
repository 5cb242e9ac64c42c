"""Runs to come: repeats that would probably settle an undecided limit, and where single runs will lie."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from pinscar.decision.judgements import Cell, Compared, LoadComparison, Summary
from pinscar.decision.summaries import in_blocks
from pinscar.stats.block_layout import BLANK
from pinscar.stats.block_power import pooled_power_within_blocks
from pinscar.stats.censored import fit_one_group
from pinscar.stats.choose_blocks import fixed_blocks, why_no_blocks
from pinscar.stats.estimates import Estimate, Scale, VariancePrior, least_variance, moderated, rounding_shift
from pinscar.stats.further import (
    MOST,
    Seen,
    fewest,
    further_in_blocks,
    further_own_spreads,
    further_with_bounds,
    more_blocks,
    runs_per_block,
)
from pinscar.stats.intervals import MeanRatio, prediction_interval, tolerance_interval
from pinscar.stats.power import family_alpha, further_repeats_to_settle, noncentral_t_tail, unlike_welch_power
from pinscar.stats.simultaneous import control_correlation, joint_critical_value
from pinscar.stats.two_groups import bonferroni_confidence, pooled_variance
from pinscar.stats.within_blocks import within_blocks
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


FloatArray = NDArray[np.float64]


def further_repeats(evidence: Summary | LoadComparison, limit: float, confidence: float) -> int | None:
    """Estimate the further repeats per lubricant that would probably settle a limit.

    If estimate and spread stay as they are, with a chance of 80 %, by the interval that judges the limit.
    """
    if isinstance(evidence, Summary):
        return further_for_value(evidence, limit, confidence)
    compared, family = evidence.compared, evidence.family
    if compared is None:
        return None
    if evidence.of_means is not None:
        return further_for_means(compared, evidence.of_means, limit, confidence, family)
    if evidence.result.ratio is None:
        return None
    return further_for_ratio(compared, evidence.result.ratio, limit, confidence, family)


def further_for_value(summary: Summary, limit: float, confidence: float) -> int | None:
    """Estimate the further runs of an oil that probably settle a limit on its value."""
    estimate, cell = summary.estimate, summary.cell
    if estimate.estimate is None or not estimate.sd:
        return None
    log = summary.response.scale == "log"
    on = math.log if log else float
    distance = on(estimate.estimate) - on(limit)
    blocked = in_blocks(cell) if estimate.n_censored else _has_blocks(cell)
    if estimate.n_censored and not blocked:
        sign = -1.0 if summary.response.censored_side == "right" else 1.0
        return further_with_bounds(_seen_of(cell, estimate.sd), None, sign * distance, confidence)
    if estimate.low is None or estimate.high is None:
        return (
            None
            if blocked
            else further_repeats_to_settle(
                estimate.n, estimate.sd, abs(distance), 0.0, confidence, scale="linear"
            )
        )
    if not estimate.low < estimate.high:
        return None
    reach = (on(estimate.high) - on(estimate.low)) / 2.0
    if blocked:
        blocks = len(set(cell.blocks))
        sd = reach / _student(blocks - 1.0, confidence) * math.sqrt(blocks)
        more = further_repeats_to_settle(blocks, sd, abs(distance), 0.0, confidence, scale="linear")
        return None if more is None else _within_most(more * runs_per_block([cell.blocks]))
    df = estimate.df if estimate.df is not None else estimate.n - 1.0
    sd = reach / _student(df, confidence) * math.sqrt(estimate.n)
    return further_repeats_to_settle(
        estimate.n, sd, abs(distance), 0.0, confidence, scale="linear", more_df=df - (estimate.n - 1.0)
    )


def further_for_ratio(
    compared: Compared, ratio: float, limit: float, confidence: float, family: int
) -> int | None:
    """Estimate the further runs of both oils that probably settle a limit on their ratio.

    The limits are those of own spreads, of one spread where campaign.toml says so, within blocks where they
    are declared, or calibrated ones where runs are bounds. In blocks a bound counts as no run.
    """
    cells = (compared.subject, compared.reference)
    distance = math.log(ratio) - math.log(limit)
    blocked = _known_blocks(compared)
    if any(cell.censored.any() for cell in cells):
        return _with_bounds(compared, distance, confidence, family, blocked)
    logs = (np.log(cells[0].values), np.log(cells[1].values))
    if compared.pooled:
        return _one_spread(compared, logs, distance, confidence, family, blocked)
    if blocked:
        return _in_blocks(compared, logs, distance, confidence, family)
    sides = [_seen(one, compared.step, compared.prior) for one in logs]
    left = abs(distance) - _shifts(logs, compared.step)
    if left <= 0.0 or min(one.sd for one in sides) <= 0.0:
        return None
    return further_own_spreads(sides[0], sides[1], left, confidence, family)


def further_for_means(
    compared: Compared, means: MeanRatio, limit: float, confidence: float, family: int
) -> int | None:
    r"""Estimate the further runs of both oils that probably settle a limit on the ratio of their means.

    At the limit :math:`\theta` Fieller's limits are the t test of :math:`\bar x - \theta \bar y`, with one
    less than the fewer runs for degrees of freedom.
    """
    x, y = compared.subject.values, compared.reference.values
    if means.ratio is None or means.df is None:
        return None
    each = bonferroni_confidence(confidence, family)
    if _known_blocks(compared):
        sides = (compared.subject.blocks, compared.reference.blocks)
        shared = [one for one in dict.fromkeys(sides[0]) if one in sides[1]]
        if means.df != len(shared) - 1.0 or len(shared) < 2:
            return None
        z = np.array([x[_at(sides[0], one)].mean() - limit * y[_at(sides[1], one)].mean() for one in shared])
        if np.ptp(z) == 0.0:
            return None
        more = further_repeats_to_settle(
            z.size, float(z.std(ddof=1)), abs(float(z.mean())), 0.0, each, scale="linear"
        )
        return None if more is None else _within_most(more * runs_per_block(sides))
    spreads = (float(x.var(ddof=1)), limit**2 * float(y.var(ddof=1)))
    distance = abs(float(x.mean()) - limit * float(y.mean()))
    if min(spreads) <= 0.0:
        return None

    def reached(more: int) -> float:
        sizes = (x.size + more, y.size + more)
        critical = _student(min(sizes) - 1.0, each)
        dfs = (sizes[0] - 1.0, sizes[1] - 1.0)
        variances = (spreads[0] / sizes[0], spreads[1] / sizes[1])
        return unlike_welch_power(variances, dfs, distance, 1.0 - each, critical)

    return fewest(reached)


def _student(df: float, confidence: float) -> float:
    return float(stdtrit(df, 0.5 + confidence / 2.0))


def _within_most(more: int) -> int | None:
    return more if more <= MOST else None


def _has_blocks(cell: Cell) -> bool:
    blank = any(block.strip().lower() in BLANK for block in cell.blocks)
    return 1 < len(set(cell.blocks)) < len(cell.blocks) and not blank


def _at(blocks: Sequence[str], one: str) -> NDArray[np.bool_]:
    return np.array([block == one for block in blocks], dtype=np.bool_)


def _known_blocks(compared: Compared) -> bool:
    """Whether the comparison was made in blocks, as far as the layout tells."""
    cells = (compared.subject, compared.reference)
    if not all(cell.blocks for cell in cells):
        return False
    if any(block.strip().lower() in BLANK for cell in cells for block in cell.blocks):
        return False
    group = {cell.lubricant: np.arange(cell.values.size, dtype=float) for cell in cells}
    return why_no_blocks(group, {cell.lubricant: list(cell.blocks) for cell in cells}) is None


def _seen(logs: FloatArray, step: float, prior: VariancePrior | None) -> Seen:
    if logs.size < 2:
        return Seen(int(logs.size), 0.0)
    variance = least_variance(float(logs.var(ddof=1)), step)
    held, df = moderated(variance, logs.size - 1.0, prior)
    return Seen(int(logs.size), math.sqrt(held), df - (logs.size - 1.0))


def _seen_of(cell: Cell, sd: float) -> Seen:
    # The likelihood's spread is too small by what the median costs it.
    n = cell.values.size
    return Seen(n, sd * math.sqrt(n / (n - 1.0)), hidden=float(cell.censored.mean()))


def _shifts(logs: tuple[FloatArray, FloatArray], step: float) -> float:
    return sum(rounding_shift(float(one.std(ddof=1)), step) for one in logs if one.size > 1)


def _with_bounds(
    compared: Compared, distance: float, confidence: float, family: int, blocked: bool
) -> int | None:
    cells = (compared.subject, compared.reference)
    sign = -1.0 if compared.right_censored else 1.0
    if blocked:
        seen = [_without_bounds(cell) for cell in cells]
        if min(cell.values.size for cell in seen) < 2:
            return None
        held = replace(compared, subject=seen[0], reference=seen[1])
        logs = (np.log(seen[0].values), np.log(seen[1].values))
        return _in_blocks(held, logs, distance, confidence, family) if _known_blocks(held) else None
    sides = []
    for cell in cells:
        logs_of = sign * np.log(cell.values)
        if np.unique(logs_of[~cell.censored]).size < 2:
            return None
        sides.append(_seen_of(cell, fit_one_group(logs_of, cell.censored).sigma))
    return further_with_bounds(sides[0], sides[1], sign * distance, confidence, family)


def _without_bounds(cell: Cell) -> Cell:
    seen = ~cell.censored
    return replace(
        cell,
        run_ids=tuple(run for run, one in zip(cell.run_ids, seen, strict=True) if one),
        values=cell.values[seen],
        censored=cell.censored[seen],
        blocks=tuple(block for block, one in zip(cell.blocks, seen, strict=True) if one),
    )


def _in_blocks(
    compared: Compared, logs: tuple[FloatArray, FloatArray], distance: float, confidence: float, family: int
) -> int | None:
    sides = (compared.subject.blocks, compared.reference.blocks)
    left = abs(distance) - _shifts(logs, compared.step)
    layout = within_blocks(*sides)
    if left <= 0.0:
        return None
    if layout is None:  # judged by the means of the blocks
        means = [
            np.array([one[_at(side, block)].mean() for block in dict.fromkeys(side)])
            for one, side in zip(logs, sides, strict=True)
        ]
        spreads = [_seen(one, compared.step, None) for one in means]
        if min(one.sd for one in spreads) <= 0.0:
            return None
        more = further_own_spreads(spreads[0], spreads[1], left, confidence, family)
        return None if more is None else _within_most(more * runs_per_block(sides))
    rest = layout.left_over(np.concatenate(logs))
    squares = np.array([np.sum(part**2) for part in (rest[: layout.n_subject], rest[layout.n_subject :])])
    found = np.linalg.pinv(layout.expected, rcond=1e-9) @ squares
    if found.min() <= 0.0:  # the runs don't tell both apart
        found = np.full(2, float(squares.sum()) / float(layout.expected.sum()))
    variances = [least_variance(float(one), compared.step) for one in found]
    if min(variances) <= 0.0:
        return None
    return further_in_blocks(
        sides, (math.sqrt(variances[0]), math.sqrt(variances[1])), left, confidence, family
    )


def _one_spread(
    compared: Compared,
    logs: tuple[FloatArray, FloatArray],
    distance: float,
    confidence: float,
    family: int,
    blocked: bool,
) -> int | None:
    cells = (compared.subject, compared.reference, *compared.others)
    groups = {cell.lubricant: np.log(cell.values) for cell in cells if np.ptp(cell.values) > 0.0}
    left = abs(distance) - _shifts(logs, compared.step)
    if left <= 0.0 or any(cell.lubricant not in groups for cell in cells[:2]):
        return None
    if blocked:
        sides = (compared.subject.blocks, compared.reference.blocks)
        labels = {cell.lubricant: list(cell.blocks) for cell in cells if cell.lubricant in groups}
        fit = fixed_blocks(groups, labels)
        if fit is None or within_blocks(*sides) is None:
            return None
        sd, now, per = math.sqrt(least_variance(fit[2], compared.step)), fit[3], runs_per_block(sides)
        alpha = family_alpha(1.0 - confidence, family)

        def within(more: int) -> float:
            df = now + 2.0 * more - math.ceil(more / per)
            longer = [more_blocks(side, per, more) for side in sides]
            return pooled_power_within_blocks(longer[0], longer[1], left / sd, df, alpha)

        return fewest(within)
    variance, runs_df = pooled_variance(list(groups.values()))
    held, df_now = moderated(least_variance(variance, compared.step), runs_df, compared.prior)
    sizes = [groups[cell.lubricant].size for cell in compared.others if cell.lubricant in groups]

    def reached(more: int) -> float:
        subject, reference = (one.size + more for one in logs)
        df = df_now + 2.0 * more
        rho = control_correlation(np.array([subject, *sizes], dtype=float), float(reference))
        critical = joint_critical_value(rho, df, confidence)
        error = math.sqrt(held * (1.0 / subject + 1.0 / reference))
        return float(noncentral_t_tail(critical, df, left / error))

    return fewest(reached)

"""Medians and ratios of medians of left-censored runs in random blocks, with calibrated limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.block_contrasts import separable
from pinscar.stats.blocks import indicator_columns
from pinscar.stats.censored_blocks import BlockedFit, BlockedRuns, fit_in_blocks, numbered
from pinscar.stats.censored_groups import CensoredGroups, CensoredRatio
from pinscar.stats.censored_likelihood import profile_limit
from pinscar.stats.checks import censored_mask, check_confidence, from_log, on_scale
from pinscar.stats.choose_blocked import BLANK
from pinscar.stats.deviance_cut import censoring_shift, deviance_cut, deviance_p
from pinscar.stats.estimate import Estimate

FloatArray = NDArray[np.float64]
METHOD = (
    "median by log-normal maximum likelihood with {side} censoring and a random effect of {blocks} blocks, "
    "likelihood interval calibrated to Student's t and by simulation"
)
LEAST_WITHIN = 2  # uncensored runs beyond those that blocks and medians fit exactly
TOLERANCE = 1e-7  # of a limit's logarithm: the inner maximum is not known better


def median_in_blocks(
    values: ArrayLike,
    censored: ArrayLike,
    blocks: Sequence[object],
    confidence: float = 0.95,
    side: str = "left",
) -> Estimate:
    r"""Median of censored runs that fall into random blocks (days, rings).

    The deviance of a median is cut by :func:`blocked_cut`; the end that rests on censored runs is shifted as
    in :func:`pinscar.stats.deviance_cut.censoring_shift`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one a run, in any unit; the limit where censored. Two uncensored ones differ.
    censored : array_like of bool, shape (n,)
        True where the true value is at most (left) or at least (right) the one recorded.
    blocks : sequence, length n
        Block of each run; more than one, and fewer than there are runs.
    confidence : float
        Confidence of the interval [-].
    side : {"left", "right"}
        Side of censoring.

    Returns
    -------
    Estimate
        Median and interval in the unit of the values; ``sd`` is the standard deviation of the natural
        logarithms within and between blocks together.

    Raises
    ------
    ValueError
        If the blocks don't fit the values, are one or as many as the runs, or fewer than two distinct values
        were observed.

    References
    ----------
    Likelihood as :func:`pinscar.stats.censored_blocks.blocked_log_likelihood`; the cut is an own derivation,
    checked by simulation for 3 days of two runs.

    Examples
    --------
    >>> days = ["Mon", "Mon", "Tue", "Tue", "Wed", "Wed"]
    >>> result = median_in_blocks([118, 121, 96, 103, 131, 127], [False] * 3 + [True] + [False] * 2, days)
    >>> result.low < 100 < result.estimate < 130 < result.high
    True
    """
    sign = 1.0 if side == "left" else -1.0
    logs = sign * on_scale(values, "log")
    mask = censored_mask(censored, logs.size)
    n, n_blocks = logs.size, len(set(map(str, blocks)))
    if len(blocks) != n or not 1 < n_blocks < n:
        raise ValueError(
            f"blocks must be {n} labels of 2 to {n - 1} blocks, found {len(blocks)} of {n_blocks}"
        )
    if np.unique(logs[~mask]).size < 2:
        raise ValueError("two distinct uncensored values are needed, found fewer")
    check_confidence(confidence)
    numbers = numbered(blocks)
    fit = fit_in_blocks(BlockedRuns(logs, mask, np.ones((n, 1)), numbers))
    centre = float(fit.coefficients[0])

    def excess(location: float, shift: float | None) -> float:
        held = fit_in_blocks(BlockedRuns(logs - location, mask, np.zeros((n, 0)), numbers))
        deviance = 2 * (fit.log_likelihood - held.log_likelihood)
        if shift is None:
            return deviance - deviance_cut(confidence, n, 1)
        return deviance - blocked_cut(confidence, n, n_blocks, held, shift)

    step = float(np.hypot(fit.sigma / np.sqrt(n), fit.block_sigma / np.sqrt(n_blocks)))
    shifts = (censoring_shift(n, int(mask.sum())), 0.0)
    low, high = _ends(lambda x, i: excess(x, shifts[i]), centre, step, sign)
    plain_low, plain_high = _ends(lambda x, _: excess(x, None), centre, step, sign)
    return Estimate(
        n=n,
        n_censored=int(mask.sum()),
        estimate=from_log(sign * centre),
        low=low,
        high=high,
        confidence=confidence,
        scale="log",
        sd=float(np.hypot(fit.sigma, fit.block_sigma)),
        df=None,
        method=METHOD.format(side=side, blocks=n_blocks),
        note=None if low is not None and high is not None else "the interval is open on one side",
        profile_low=plain_low,
        profile_high=plain_high,
    )


def blocked_cut(confidence: float, n: int, n_blocks: int, held: BlockedFit, shift: float) -> float:
    r"""Give the value at which the deviance of a median of runs in random blocks is cut.

    .. math:: \left[ (1 - w) \sqrt{c_n} + w \sqrt{c_b} + d \right]^2, \quad
              w = \tau / \sqrt{\tau^2 + \sigma^2}

    with :math:`c_n` Student's cut for n runs, :math:`c_b` that for as many runs as there are blocks, and d
    the shift for censored runs: where all spread is between blocks, each block counts as one run.

    Parameters
    ----------
    confidence : float
        Confidence of the interval [-].
    n, n_blocks : int
        Runs and blocks [-].
    held : BlockedFit
        The fit with the median held at the value tested; it gives tau and sigma.
    shift : float
        Shift of the cut's root [-].

    Returns
    -------
    float
        The cut [-].

    References
    ----------
    Own derivation; ``tests/benchmarks/block_coverage_table.py`` simulates its coverage.

    Examples
    --------
    >>> between = BlockedFit(np.zeros(0), 0.0, 1.0, 0.0)
    >>> blocked_cut(0.95, 6, 3, between, 0.0) == deviance_cut(0.95, 3, 1, "student")
    True
    """
    of_runs, of_blocks = (np.sqrt(deviance_cut(confidence, size, 1, "student")) for size in (n, n_blocks))
    weight = held.block_sigma / np.hypot(held.block_sigma, held.sigma)
    return float(((1 - weight) * of_runs + weight * of_blocks + shift) ** 2)


def _ends(
    excess: Callable[[float, int], float], centre: float, step: float, sign: float
) -> tuple[float | None, float | None]:
    """Where an excess of the deviance over its cut crosses zero below and above, turned back to values."""
    below = profile_limit(lambda x: excess(x, 0), centre, -step, 0.0, TOLERANCE)
    above = profile_limit(lambda x: excess(x, 1), centre, step, 0.0, TOLERANCE)
    ends = [from_log(None if x is None else sign * x) for x in (below, above)]
    return (ends[0], ends[1]) if sign > 0 else (ends[1], ends[0])


def _over(deviance: Callable[[float], float], cuts: Sequence[float]) -> Callable[[float, int], float]:
    return lambda location, end: deviance(location) - cuts[end]


def why_not_in_blocks(groups: CensoredGroups, blocks: Mapping[str, Sequence[object]]) -> str | None:
    """Say why the blocks of censored groups cannot be modelled, if they cannot.

    Parameters
    ----------
    groups : CensoredGroups
        From :func:`pinscar.stats.censored_groups.fit_censored_groups`.
    blocks : mapping of str to sequence
        Block of each value of each group.

    Returns
    -------
    str or None
        The reason; None where they can.

    References
    ----------
    Own derivation: with fewer than two uncensored runs beyond those that medians and blocks fit exactly, the
    likelihood has no proper maximum, or one that tells nothing of the spread within blocks.

    Examples
    --------
    >>> from pinscar.stats.censored_groups import fit_censored_groups
    >>> groups = fit_censored_groups({"R": [1.0, 2.0], "C": [1.5, 2.5]}, {"C": [True, False]})
    >>> why_not_in_blocks(groups, {"R": ["a", "b"], "C": ["a", "b"]})
    'blocks left out: too few uncensored runs to tell the spread within blocks'
    """
    labels = _labels(groups, blocks)
    by_group = {
        name: [x for x, g in zip(labels, _names(groups), strict=True) if g == name] for name in groups.names
    }
    logs = {name: groups.logs[groups.design[:, i] > 0] for i, name in enumerate(groups.names)}
    blank = sum(label.strip().lower() in BLANK for label in labels)
    if blank:
        return f"blocks left out: {blank} of {len(labels)} runs have no block recorded"
    if len(set(labels)) == 1:
        return "blocks left out: all runs are in one block"
    if len(set(labels)) == len(labels):
        return "blocks left out: each block holds a single run"
    if not separable(logs, by_group):
        return (
            "blocks left out: blocks and lubricants are confounded, so the difference shown holds "
            "that between blocks too"
        )
    seen = ~groups.left_censored
    columns = np.column_stack([groups.design, indicator_columns(labels)])[seen]
    if int(seen.sum()) - int(np.linalg.matrix_rank(columns)) < LEAST_WITHIN:
        return "blocks left out: too few uncensored runs to tell the spread within blocks"
    return None


def ratios_in_blocks(
    groups: CensoredGroups,
    blocks: Mapping[str, Sequence[object]],
    reference: str,
    confidence: float = 0.95,
) -> dict[str, CensoredRatio]:
    r"""Ratios of the medians of censored groups to a reference, in random blocks.

    The deviance of a ratio is cut at :math:`n \ln(1 + t^2/\nu)` with the degrees of freedom within blocks,
    :math:`\nu` = runs - blocks - groups + 1, and shifted at the ends that rest on censored runs.

    Parameters
    ----------
    groups : CensoredGroups
        The groups, which `why_not_in_blocks` lets pass.
    blocks : mapping of str to sequence
        Block of each value of each group.
    reference : str
        The group that the others are compared with.
    confidence : float
        Confidence of each interval [-].

    Returns
    -------
    dict of str to CensoredRatio
        One a group other than the reference.

    References
    ----------
    Likelihood as :func:`pinscar.stats.censored_blocks.blocked_log_likelihood`; the cut is an own derivation,
    checked by simulation for 3 days of two runs of each of two groups.

    Examples
    --------
    >>> from pinscar.stats.censored_groups import fit_censored_groups
    >>> values = {"R": [100, 104, 81, 79, 121, 126.0], "C": [119, 126, 97, 96, 147, 150.0]}
    >>> groups = fit_censored_groups(values, {"R": [False] * 3 + [True] + [False] * 2})
    >>> result = ratios_in_blocks(groups, dict.fromkeys("RC", list("aabbcc")), "R")["C"]
    >>> 1.1 < result.low < result.ratio < result.high < 1.4, result.p < 0.001
    (True, True)
    """
    numbers = numbered(_labels(groups, blocks))
    n, k = groups.logs.size, len(groups.names)
    n_blocks = int(numbers.max()) + 1
    locations = n_blocks + k - 1
    fit = fit_in_blocks(BlockedRuns(groups.logs, groups.left_censored, groups.design, numbers))
    counts = groups.design.sum(axis=0)
    hidden = groups.design[groups.left_censored].sum(axis=0)
    r = groups.names.index(reference)
    found = {}
    for s, name in enumerate(groups.names):
        if s == r:
            continue
        merged = groups.design.copy()
        merged[:, r] += merged[:, s]
        merged = np.delete(merged, s, axis=1)
        column = groups.design[:, s]

        def deviance(log_ratio: float, column: FloatArray = column, merged: FloatArray = merged) -> float:
            held = BlockedRuns(groups.logs - log_ratio * column, groups.left_censored, merged, numbers)
            return 2 * (fit.log_likelihood - fit_in_blocks(held).log_likelihood)

        centre = float(fit.coefficients[s] - fit.coefficients[r])
        step = fit.sigma * float(np.sqrt(1 / counts[s] + 1 / counts[r]))
        shifts = [censoring_shift(int(counts[i]), int(hidden[i])) for i in (s, r)]
        cuts = [deviance_cut(confidence, n, locations, "student", shift) for shift in shifts]
        plain = [deviance_cut(confidence, n, k)] * 2
        low, high = _ends(_over(deviance, cuts), centre, step, 1.0)
        plain_ends = _ends(_over(deviance, plain), centre, step, 1.0)
        p = deviance_p(deviance(0.0), n, locations, shifts[0] if centre > 0 else shifts[1])
        found[name] = CensoredRatio(float(np.exp(centre)), low, high, p, *plain_ends)
    return found


def _names(groups: CensoredGroups) -> list[str]:
    return [groups.names[i] for i in groups.design.argmax(axis=1)]


def _labels(groups: CensoredGroups, blocks: Mapping[str, Sequence[object]]) -> list[str]:
    labels = [str(label) for name in groups.names for label in blocks[name]]
    if len(labels) != groups.logs.size:
        raise ValueError(f"blocks must have one label a value ({groups.logs.size}), found {len(labels)}")
    return labels

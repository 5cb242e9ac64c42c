"""Left-censored runs in random blocks (days, rings): medians and their ratios with calibrated limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache, partial

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from pinscar.stats.block_layout import BLANK, separable
from pinscar.stats.censored import (
    censoring_shift,
    deviance_cut,
    profile_limit,
)
from pinscar.stats.censored_groups import CensoredGroups, CensoredRatio
from pinscar.stats.estimates import Estimate, censored_mask, check_confidence, from_log, on_scale, pulled_in
from pinscar.stats.random_blocks import BlockedFit, BlockedRuns, block_sums, fit_in_blocks, numbered
from pinscar.stats.within_blocks import one_spread_student

FloatArray = NDArray[np.float64]
Deviance = Callable[[float], float]
Sides = tuple[Sequence[object], Sequence[object]]
BoolArray = NDArray[np.bool_]
METHOD = (
    "median by log-normal maximum likelihood with {side} censoring and a random effect of {blocks} blocks, "
    "likelihood interval calibrated to Student's t and by simulation"
)
TOO_FEW = "blocks left out: too few uncensored runs to tell the spread within blocks"
LEAST_WITHIN = 2  # uncensored runs beyond those that blocks and medians fit exactly
LEAST_LOG_P = -30.0  # logarithm of the smallest p that is worked out
TOLERANCE = 1e-7  # of a limit's logarithm: the inner maximum is not known better


def median_in_blocks(
    values: ArrayLike,
    censored: ArrayLike,
    blocks: Sequence[object],
    confidence: float = 0.95,
    side: str = "left",
    rounded: float = 0.0,
) -> Estimate:
    r"""Median of censored runs that fall into random blocks (days, rings).

    The deviance of a median is cut by :func:`blocked_cut`; the end that rests on censored runs is shifted as
    in :func:`pinscar.stats.censored.censoring_shift`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one per run, in any unit; the limit where censored. Two uncensored ones differ.
    censored : array_like of bool, shape (n,)
        True where the true value is at most (left) or at least (right) the one recorded.
    blocks : sequence, length n
        Block of each run; more than one, and fewer than there are runs.
    confidence : float
        Confidence of the interval [-].
    side : {"left", "right"}
        Side of censoring.
    rounded : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.estimates`.

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
    Likelihood as :func:`pinscar.stats.censored_blocks.likelihood_of_means`; the cut is an own derivation,
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

    @cache  # both intervals try some of the same locations
    def fit_at(location: float) -> BlockedFit:
        return fit_in_blocks(BlockedRuns(logs - location, mask, np.zeros((n, 0)), numbers))

    def excess(location: float, shift: float | None) -> float:
        # The spread that decides about rounding is that within blocks, the smaller of both.
        held = fit_at(location if shift is None else pulled_in(location, centre, fit.sigma, rounded))
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
    # The rank of medians and blocks together: blocks, and what of the medians is not a block.
    places = numbered([label for label, kept in zip(labels, seen, strict=True) if kept])
    design = groups.design[seen]
    sizes = np.bincount(places)
    within = design - (block_sums(design, places, sizes.size) / sizes[:, None])[places]
    if int(seen.sum()) - sizes.size - _rank(within) < LEAST_WITHIN:
        return TOO_FEW
    return None


def _rank(columns: FloatArray) -> int:
    return int(np.linalg.matrix_rank(columns, tol=1e-9)) if columns.size else 0


def without_blocks_safe(subject_blocks: Sequence[object], reference_blocks: Sequence[object]) -> bool:
    r"""Whether two groups may be compared as if there were no blocks, without raising the error.

    With the share :math:`p_{gj}` of group g's runs in block j, the blocks put
    :math:`\tau^2 \sum_j (p_{1j} - p_{2j})^2` into the variance of the difference, and the groups' own spreads
    already hold :math:`\tau^2 \sum_g (1 - \sum_j p_{gj}^2)/(n_g - 1)` of it. It is safe where that is no
    less.

    Parameters
    ----------
    subject_blocks, reference_blocks : sequence
        Block of each run; two or more of each.

    Returns
    -------
    bool
        True where the spread between blocks is in the intervals already.

    References
    ----------
    Own derivation: variance of a mean of clustered runs, and the expected sample variance.

    Examples
    --------
    >>> without_blocks_safe("aabbcc", "aabbcc"), without_blocks_safe("aaab", "bbbc")
    (True, False)
    """
    labels = sorted({str(label) for label in (*subject_blocks, *reference_blocks)})
    sides = [[str(label) for label in side] for side in (subject_blocks, reference_blocks)]
    shares = np.array([[side.count(label) / len(side) for label in labels] for side in sides])
    apart = float(np.sum((shares[0] - shares[1]) ** 2))
    held = sum((1.0 - float(np.sum(p**2))) / (len(side) - 1) for p, side in zip(shares, sides, strict=True))
    return apart <= held + 1e-12


def ratios_in_blocks(
    groups: CensoredGroups,
    blocks: Mapping[str, Sequence[object]],
    reference: str,
    confidence: float = 0.95,
    rounded: float = 0.0,
    pooled: bool = False,
) -> dict[str, CensoredRatio]:
    r"""Ratios of the medians of censored groups to a reference, in random blocks.

    The deviance of a ratio is cut at :math:`n \ln(1 + t^2/\nu)` with the degrees of freedom within blocks,
    :math:`\nu` = runs - blocks - groups + 1, and shifted at the ends that rest on censored runs. Unless the
    groups share one spread by design, t is that of :func:`pinscar.stats.within_blocks.one_spread_student`,
    which holds for spreads up to three times each other; then there are two groups.

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
    rounded : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.estimates`.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.

    Returns
    -------
    dict of str to CensoredRatio
        One a group other than the reference.

    References
    ----------
    Likelihood as :func:`pinscar.stats.censored_blocks.likelihood_of_means`; the cut is an own derivation,
    simulated in ``tests/benchmarks/met_error_table.py``.

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

        @cache  # both intervals try some of the same ratios
        def deviance(log_ratio: float, s: int = s) -> float:
            column, merged = groups.design[:, s], _merged(groups.design, s, r)
            held = BlockedRuns(groups.logs - log_ratio * column, groups.left_censored, merged, numbers)
            return 2 * (fit.log_likelihood - fit_in_blocks(held).log_likelihood)

        centre = float(fit.coefficients[s] - fit.coefficients[r])

        def pulled(log_ratio: float, deviance: Deviance = deviance, centre: float = centre) -> float:
            return deviance(pulled_in(log_ratio, centre, fit.sigma, rounded, means=2))

        step = fit.sigma * float(np.sqrt(1 / counts[s] + 1 / counts[r]))
        shifts = [censoring_shift(int(counts[i]), int(hidden[i])) for i in (s, r)]
        sides = (blocks[name], blocks[reference])

        def cut(level: float, shift: float, sides: Sides = sides) -> float:
            if pooled:
                return deviance_cut(level, n, locations, "student", shift)
            return guarded_cut(sides, level, n, shift)

        cuts = [cut(confidence, shift) for shift in shifts]
        plain = [deviance_cut(confidence, n, k)] * 2
        low, high = _ends(_over(pulled, cuts), centre, step, 1.0)
        profile_low, profile_high = _ends(_over(deviance, plain), centre, step, 1.0)
        p = _p_of(pulled(0.0), partial(cut, shift=shifts[0] if centre > 0 else shifts[1]))
        found[name] = CensoredRatio(
            ratio=float(np.exp(centre)),
            low=low,
            high=high,
            p=p,
            profile_low=profile_low,
            profile_high=profile_high,
        )
    return found


def guarded_cut(sides: Sides, confidence: float, n: int, shift: float = 0.0) -> float:
    r"""Give the value at which the deviance of a ratio within blocks is cut, each group with its own spread.

    .. math:: \left[ \sqrt{n \ln(1 + c^2/\nu)} + d \right]^2

    with c and :math:`\nu` of :func:`pinscar.stats.within_blocks.one_spread_student` and d the shift for
    censored runs.

    Parameters
    ----------
    sides : tuple of sequence
        Block of each run of the one group, and of the other.
    confidence : float
        Confidence of the interval [-].
    n : int
        Runs of both groups [-].
    shift : float
        Shift of the cut's root [-].

    Returns
    -------
    float
        The cut [-].

    Raises
    ------
    ValueError
        If the groups share no block, or the runs leave no spread within blocks.

    References
    ----------
    Own derivation; ``tests/benchmarks/block_coverage_table.py`` simulates its coverage.

    Examples
    --------
    It is wider than the cut for two groups that scatter alike by design.

    >>> guarded_cut(("aabbcc", "aabbcc"), 0.95, 12) > deviance_cut(0.95, 12, 4, "student")
    True
    """
    found = one_spread_student(*sides, confidence)
    if found is None:
        raise ValueError("the groups must share a block and leave a spread within, found that they do not")
    critical, df = found
    return float((np.sqrt(n * np.log1p(critical**2 / df)) + shift) ** 2)


def _p_of(deviance: float, cut: Callable[[float], float]) -> float:
    """Solve for the error at which a deviance is just cut."""

    def excess(log_p: float) -> float:
        return cut(1.0 - float(np.exp(log_p))) - deviance

    if excess(-1e-9) >= 0.0:
        return 1.0
    if excess(LEAST_LOG_P) <= 0.0:
        return float(np.exp(LEAST_LOG_P))
    return float(np.exp(brentq(excess, LEAST_LOG_P, -1e-9, xtol=1e-10)))


def _merged(design: FloatArray, subject: int, reference: int) -> FloatArray:
    """Give the design in which the subject has the median of the reference."""
    merged = design.copy()
    merged[:, reference] += merged[:, subject]
    return np.delete(merged, subject, axis=1)


def _names(groups: CensoredGroups) -> list[str]:
    return [groups.names[i] for i in groups.design.argmax(axis=1)]


def _labels(groups: CensoredGroups, blocks: Mapping[str, Sequence[object]]) -> list[str]:
    labels = [str(label) for name in groups.names for label in blocks[name]]
    if len(labels) != groups.logs.size:
        raise ValueError(f"blocks must have one label per value ({groups.logs.size}), found {len(labels)}")
    return labels

"""Comparisons where some runs are censored: log-normal regression, or one-sided bounds."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.censored_groups import (
    CensoredGroups,
    CensoredRatio,
    all_censored_ratio_bound,
    censored_ratio,
    fit_censored_groups,
)
from pinscar.stats.family import Found
from pinscar.stats.multiplicity import bonferroni_confidence, holm
from pinscar.stats.simulated_coverage import coverage_sentence, falls_short

FloatArray = NDArray[np.float64]
Masks = Mapping[str, NDArray[np.bool_]]
FITTED = (
    "ratio of medians, log-normal regression with left censoring and one spread, "
    "profile-likelihood limits{level}, likelihood-ratio p{holm}"
)
BOUNDED = (
    "one-sided bound on the ratio of medians: sign test and the other side's limit, joined by Bonferroni"
)


def fitted(
    values: Mapping[str, ArrayLike], masks: Masks, reference: str, family: int, confidence: float
) -> dict[str, Found]:
    """Compare groups fitted together by log-normal regression with left censoring.

    Parameters
    ----------
    values : mapping of str to array_like
        Positive values of the reference and of the groups planned "fit", in one unit.
    masks : mapping of str to ndarray of bool
        True where the true value is at most the one recorded.
    reference : str
        The group that the others are compared with.
    family : int
        Number of comparisons in the family, bounds included.
    confidence : float
        Joint confidence of the family [-].

    Returns
    -------
    dict of str to Found
        One a group other than the reference, on the log scale.

    References
    ----------
    See :mod:`pinscar.stats.censored_groups`; Holm, Scand. J. Statist. 6 (1979) 65-70; Dunn, JASA 56 (1961)
    52-64.

    Examples
    --------
    >>> data = {"R": [100.0, 110.0, 105.0], "C": [80.0, 90.0, 85.0]}
    >>> hidden = {"R": np.zeros(3, dtype=bool), "C": np.array([True, False, False])}
    >>> fitted(data, hidden, "R", 1, 0.95)["C"].high < 0
    True
    """
    groups = fit_censored_groups(values, masks)
    subjects = [name for name in values if name != reference]
    each = bonferroni_confidence(confidence, family)
    ratios = {name: censored_ratio(groups, name, reference, each) for name in subjects}
    # A bound has no p of its own: counted as 1, it leaves Holm's adjustment valid for the others.
    p = holm([*(ratio.p for ratio in ratios.values()), *[1.0] * (family - len(subjects))])
    level = f" at the Bonferroni level of {each:.4g}" if family > 1 else ""
    method = FITTED.format(level=level, holm=" adjusted by Holm" if family > 1 else "")
    return {
        name: Found(
            estimate=_log(ratio.ratio),
            low=_log(ratio.low),
            high=_log(ratio.high),
            p=float(adjusted),
            method=method,
            note=_small_sample_note(groups, ratio, name, reference, each),
        )
        for (name, ratio), adjusted in zip(ratios.items(), p, strict=False)
    }


def bounded(
    values: Mapping[str, ArrayLike], masks: Masks, name: str, reference: str, family: int, confidence: float
) -> Found:
    """Bound the ratio where all runs of the group, or all of the reference, are censored.

    Parameters
    ----------
    values : mapping of str to array_like
        Positive values of each group, in one unit; the limit where censored.
    masks : mapping of str to ndarray of bool
        True where the true value is at most the one recorded.
    name, reference : str
        The group and the reference.
    family : int
        Number of comparisons in the family.
    confidence : float
        Joint confidence of the family [-].

    Returns
    -------
    Found
        On the log scale, with one limit and neither estimate nor p.

    References
    ----------
    See :func:`pinscar.stats.censored_groups.all_censored_ratio_bound`.

    Examples
    --------
    >>> data = {"R": [100.0, 110.0, 105.0], "C": [80.0] * 7}
    >>> hidden = {"R": np.zeros(3, dtype=bool), "C": np.ones(7, dtype=bool)}
    >>> bounded(data, hidden, "C", "R", 1, 0.95).low is None
    True
    """
    each = bonferroni_confidence(confidence, family)
    low, high = all_censored_ratio_bound(values[name], masks[name], values[reference], masks[reference], each)
    hidden = name if masks[name].all() else reference
    level = f" at the level of {each:.4g}" if family > 1 else ""
    note = f"all runs of {hidden} are censored, so the ratio has a bound on one side only, and no estimate"
    return Found(None, _log(low), _log(high), None, BOUNDED + level, note)


def _log(value: float | None) -> float | None:
    return None if value is None else float(np.log(value))


def _small_sample_note(
    groups: CensoredGroups, ratio: CensoredRatio, name: str, reference: str, each: float
) -> str:
    columns = [groups.names.index(name), groups.names.index(reference)]
    pair = groups.design[:, columns].any(axis=1)
    n, share = int(groups.design[:, columns].sum(axis=0).min()), float(groups.left_censored[pair].mean())
    covered = coverage_sentence("ratio", n, share, each)
    if ratio.low is None or ratio.high is None:
        return f"the interval is open on one side: too few runs are not censored; {covered}"
    wide = censored_ratio(groups, name, reference, each, "student")
    if wide.low is None or wide.high is None or not falls_short("ratio", n, share, each):
        return covered
    # Told as a width, the sentence stays true when a caller turns the ratio over.
    times = np.log(wide.high / wide.low) / np.log(ratio.high / ratio.low)
    return f"{covered}; calibrated to Student's t it would be {times:.2f} times as wide on the log scale"


def untested(
    logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str, reason: str | None
) -> Found:
    """Describe a comparison of which nothing can be said beyond, at best, the ratio.

    Parameters
    ----------
    logs : mapping of str to ndarray
        Natural logarithms of each group [-].
    masks : mapping of str to ndarray of bool
        True where the true value is at most the one recorded.
    name, reference : str
        The group and the reference.
    reason : str or None
        Why there is no interval.

    Returns
    -------
    Found
        With the ratio of geometric means where neither side has censored runs, else without any number.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> logs = {"R": np.array([0.0, 0.2]), "C": np.array([0.3])}
    >>> untested(logs, {"R": np.zeros(2, dtype=bool), "C": np.zeros(1, dtype=bool)}, "C", "R", "why").method
    'ratio of geometric means, no interval'
    """
    if masks[name].any() or masks[reference].any():
        return Found(None, None, None, None, "ratio of medians, not computed", reason)
    estimate = float(logs[name].mean() - logs[reference].mean())
    return Found(estimate, None, None, None, "ratio of geometric means, no interval", reason)

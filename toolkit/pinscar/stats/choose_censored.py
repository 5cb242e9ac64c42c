"""Comparisons where some runs are censored: log-normal regression, or one-sided bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.censored_groups import (
    all_censored_ratio_bound,
    censored_ratio,
    fit_censored_groups,
    sign_test_error,
)
from pinscar.stats.family import Found
from pinscar.stats.intervals import SINGLE_RUN
from pinscar.stats.multiplicity import bonferroni_confidence, holm

FloatArray = NDArray[np.float64]
Masks = Mapping[str, NDArray[np.bool_]]
FITTED = (
    "ratio of medians, log-normal regression with left censoring and one spread, "
    "profile-likelihood limits{level}, likelihood-ratio p{holm}"
)
BOUNDED = (
    "one-sided bound on the ratio of medians: sign test and the other side's limit, joined by Bonferroni"
)


@dataclass(frozen=True, slots=True)
class Plan:
    """What can be said of one group against the reference where runs are censored.

    Parameters
    ----------
    kind : {"fit", "bound", "none"}
        A ratio with limits, a one-sided bound, or nothing.
    reason : str or None
        Why there is nothing.
    """

    kind: Literal["fit", "bound", "none"]
    reason: str | None = None


def plan_censored(
    logs: Mapping[str, FloatArray], masks: Masks, reference: str, confidence: float
) -> dict[str, Plan]:
    """Decide for each group what can be said of it against the reference.

    Bounds need runs enough: 0.5 to the power of their number must lie below the share of the error that the
    comparison gets when the error is split evenly over all comparisons that yield something.

    Parameters
    ----------
    logs : mapping of str to ndarray
        Natural logarithms of each group; of the limit where censored [-].
    masks : mapping of str to ndarray of bool
        True where the true value is at most the one recorded.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence [-].

    Returns
    -------
    dict of str to Plan
        One a group other than the reference.

    References
    ----------
    Own derivation: which likelihoods have a maximum, and Bonferroni's inequality.

    Examples
    --------
    >>> logs = {"R": np.array([0.0, 0.1]), "C": np.array([0.2, 0.3])}
    >>> plan_censored(logs, {"R": np.zeros(2, dtype=bool), "C": np.ones(2, dtype=bool)}, "R", 0.95)["C"].kind
    'none'
    """
    plans = {name: _first_look(logs, masks, name, reference) for name in logs if name != reference}
    fit = [name for name, plan in plans.items() if plan.kind == "fit"]
    if not any(_distinct(logs, masks, name) > 1 for name in [reference, *fit]):
        nothing = Plan("none", "no lubricant has two distinct uncensored values, so the spread is unknown")
        plans.update(dict.fromkeys(fit, nothing))
    while True:
        each = bonferroni_confidence(confidence, max(family_size(plans), 1))
        hopeless = [
            name
            for name, plan in plans.items()
            if plan.kind == "bound" and sign_test_error(_hidden(logs, masks, name, reference)) >= 1 - each
        ]
        if not hopeless:
            return plans
        for name in hopeless:
            plans[name] = _too_few(_hidden(logs, masks, name, reference), each)


def family_size(plans: Mapping[str, Plan]) -> int:
    """Count the comparisons that yield something.

    Parameters
    ----------
    plans : mapping of str to Plan
        From :func:`plan_censored`.

    Returns
    -------
    int
        How many are not "none".

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> family_size({"A": Plan("fit"), "B": Plan("none", "single run")})
    1
    """
    return sum(plan.kind != "none" for plan in plans.values())


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
            np.log(r.ratio), _log(r.low), _log(r.high), float(adjusted), method, _open_note(r.low, r.high)
        )
        for (name, r), adjusted in zip(ratios.items(), p, strict=False)
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


def _first_look(logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str) -> Plan:
    for group in (name, reference):
        if logs[group].size == 1:
            return Plan("none", f"{group}: {SINGLE_RUN}")
        if not masks[group].any() and np.ptp(logs[group]) == 0:
            return Plan("none", f"{group}: all runs gave the same value, so its spread is unknown")
    hidden = [group for group in (name, reference) if masks[group].all()]
    if len(hidden) == 2:
        return Plan(
            "none", f"all runs of {name} and of {reference} are censored, so nothing bounds their ratio"
        )
    if not hidden:
        return Plan("fit")
    seen = reference if hidden == [name] else name
    if _distinct(logs, masks, seen) < 2:
        return Plan(
            "none", f"all runs of {hidden[0]} are censored, and {seen} has too few uncensored for a limit"
        )
    return Plan("bound")


def _distinct(logs: Mapping[str, FloatArray], masks: Masks, name: str) -> int:
    return int(np.unique(logs[name][~masks[name]]).size)


def _hidden(logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str) -> int:
    return int(logs[name if masks[name].all() else reference].size)


def _too_few(n: int, each: float) -> Plan:
    own = 1 - sign_test_error(n)
    reason = f"{n} runs, all censored, bound a median with confidence {own:.4g} only"
    return Plan("none", f"{reason}, and the comparison needs more than {each:.4g}")


def _log(value: float | None) -> float | None:
    return None if value is None else float(np.log(value))


def _open_note(low: float | None, high: float | None) -> str | None:
    if low is not None and high is not None:
        return None
    return f"the interval has no limit {'below' if low is None else 'above'}: too few runs are not censored"


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

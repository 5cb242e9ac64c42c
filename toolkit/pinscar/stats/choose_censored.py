"""Comparisons where some runs are censored: log-normal regression, one-sided bounds, or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.censored_blocks import TOO_FEW, ratios_in_blocks, why_not_in_blocks, without_blocks_safe
from pinscar.stats.censored_groups import (
    CensoredRatio,
    OwnGroup,
    all_censored_ratio_bound,
    censored_ratio,
    fit_censored_groups,
    own_group,
    own_spread_ratio,
    sign_test_error,
)
from pinscar.stats.estimates import SINGLE_RUN
from pinscar.stats.family import Found
from pinscar.stats.two_groups import bonferroni_confidence
from pinscar.stats.within_blocks import MOST_UNLIKE, one_spread_student

FloatArray = NDArray[np.float64]
Masks = Mapping[str, NDArray[np.bool_]]
FITTED = (
    "ratio of medians, log-normal regression with left censoring and one spread, "
    "calibrated likelihood limits{level}, p from the same limits{times}"
)
OWN = (
    "ratio of medians, log-normal likelihood with left censoring, each group with its own spread, "
    "calibrated limits of both joined{level}, p from the same limits{times}"
)
IN_BLOCKS = "{method}, blocks as a random effect"
GUARDED = f"; guarded for spreads up to {MOST_UNLIKE:g} times each other"
UNSAFE = (
    "{why}, and the runs of {name} and {reference} lie too differently over the blocks to be compared "
    "without them: no interval"
)
UNSHARED = (
    "{name} and {reference} share no block, and with bounds that leaves nothing to compare: no interval"
)
NO_SPREAD = "{name}: fewer than two distinct uncensored values, so its own spread is unknown"
OPEN = "the interval is open on one side: too few runs are not censored"
BOUNDED = (
    "one-sided bound on the ratio of medians: sign test and the other side's limit, joined by Bonferroni"
)


def fitted(
    values: Mapping[str, ArrayLike],
    masks: Masks,
    reference: str,
    family: int,
    confidence: float,
    blocks: Mapping[str, Sequence[object]] | None = None,
    step: float = 0.0,
    pooled: bool = False,
) -> dict[str, Found]:
    """Compare groups with left censoring, each with its own spread, or fitted together with one.

    One spread is taken where the campaign says so. In blocks each group is fitted with the reference alone,
    with one spread and a critical value that holds for spreads up to three times each other.

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
    blocks : mapping of str to sequence, optional
        Block of each value; modelled as a random effect where that can be done, else the note says why not.
    step : float
        Step of the readings on logarithms [-]; 0 where unknown. See :mod:`pinscar.stats.estimates`.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.

    Returns
    -------
    dict of str to Found
        One a group other than the reference, on the log scale.

    References
    ----------
    See :mod:`pinscar.stats.censored_groups` and :mod:`pinscar.stats.censored_groups`; Dunn, JASA 56 (1961)
    52-64.

    Examples
    --------
    >>> data = {"R": [100.0, 110.0, 105.0], "C": [80.0, 90.0, 85.0]}
    >>> hidden = {"R": np.zeros(3, dtype=bool), "C": np.array([True, False, False])}
    >>> fitted(data, hidden, "R", 1, 0.95)["C"].estimate < 0
    True
    """
    each = bonferroni_confidence(confidence, family)
    words = {
        "level": f" at the Bonferroni level of {each:.4g}" if family > 1 else "",
        "times": f" times {family}" if family > 1 else "",
    }
    # Limits and p take the same adjustment, so that p is small exactly where the interval leaves 1 out.
    subjects = [name for name in values if name != reference]
    found, own = {}, _own_groups(values, masks, step)
    if pooled and own:
        return _one_spread(values, masks, reference, family, each, blocks, step, words)
    for name in subjects:
        pair = {one: values[one] for one in (reference, name)}
        lacking = [one for one in (name, reference) if one not in own]
        labels = None if blocks is None else {one: blocks[one] for one in pair}
        why_not = None
        if labels is not None and len(lacking) < len(pair):  # one spread takes two values seen of either
            groups = fit_censored_groups(pair, {one: masks[one] for one in pair})
            why_not = why_not_in_blocks(groups, labels)
            if why_not is None and one_spread_student(labels[name], labels[reference], each) is not None:
                ratio = ratios_in_blocks(groups, labels, reference, each, step)[name]
                method = IN_BLOCKS.format(method=FITTED.format(**words)) + GUARDED
                found[name] = _found(ratio, family, method, None)
                continue
            if why_not is None:
                reason = UNSHARED.format(name=name, reference=reference)
                found[name] = untested(_logs(pair), masks, name, reference, reason)
                continue
        if lacking:
            reason = NO_SPREAD.format(name=lacking[0])
        elif (
            labels is not None
            and why_not is not None
            and TOO_FEW in why_not
            and not without_blocks_safe(labels[name], labels[reference])
        ):
            reason = UNSAFE.format(why=why_not, name=name, reference=reference)
        else:
            ratio = own_spread_ratio(own[name], own[reference], each)
            found[name] = _found(ratio, family, OWN.format(**words), why_not)
            continue
        found[name] = untested(_logs(pair), masks, name, reference, reason)
    return found


def _one_spread(
    values: Mapping[str, ArrayLike],
    masks: Masks,
    reference: str,
    family: int,
    each: float,
    blocks: Mapping[str, Sequence[object]] | None,
    step: float,
    words: Mapping[str, str],
) -> dict[str, Found]:
    groups = fit_censored_groups(values, masks)
    why_not = None if blocks is None else why_not_in_blocks(groups, blocks)
    method = FITTED.format(**words)
    if blocks is not None and why_not is None:
        ratios = ratios_in_blocks(groups, blocks, reference, each, step, pooled=True)
        method = IN_BLOCKS.format(method=method)
    else:
        subjects = [name for name in values if name != reference]
        ratios = {name: censored_ratio(groups, name, reference, each, step) for name in subjects}
    return {name: _found(ratio, family, method, why_not) for name, ratio in ratios.items()}


def _own_groups(values: Mapping[str, ArrayLike], masks: Masks, step: float) -> dict[str, OwnGroup]:
    return {
        name: own_group(group, masks[name], step)
        for name, group in values.items()
        if np.unique(np.asarray(group)[~masks[name]]).size > 1
    }


def _logs(values: Mapping[str, ArrayLike]) -> dict[str, FloatArray]:
    return {name: np.log(np.asarray(group, dtype=np.float64)) for name, group in values.items()}


def _found(ratio: CensoredRatio, family: int, method: str, why_not: str | None) -> Found:
    still_open = OPEN if ratio.low is None or ratio.high is None else None
    return Found(
        estimate=_log(ratio.ratio),
        low=_log(ratio.low),
        high=_log(ratio.high),
        p=min(1.0, family * ratio.p),
        method=method,
        note="; ".join(note for note in (still_open, why_not) if note) or None,
        profile_low=_log(ratio.profile_low),
        profile_high=_log(ratio.profile_high),
    )


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
    return Found(estimate=None, low=_log(low), high=_log(high), p=None, method=BOUNDED + level, note=note)


def _log(value: float | None) -> float | None:
    return None if value is None else float(np.log(value))


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
        return Found(
            estimate=None, low=None, high=None, p=None, method="ratio of medians, not computed", note=reason
        )
    estimate = float(logs[name].mean() - logs[reference].mean())
    return Found(
        estimate=estimate,
        low=None,
        high=None,
        p=None,
        method="ratio of geometric means, no interval",
        note=reason,
    )


@dataclass(frozen=True, slots=True)
class CensoredPlan:
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
) -> dict[str, CensoredPlan]:
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
    dict of str to CensoredPlan
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
        nothing = CensoredPlan(
            "none", "no lubricant has two distinct uncensored values, so the spread is unknown"
        )
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


def family_size(plans: Mapping[str, CensoredPlan]) -> int:
    """Count the comparisons that yield something.

    Parameters
    ----------
    plans : mapping of str to CensoredPlan
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
    >>> family_size({"A": CensoredPlan("fit"), "B": CensoredPlan("none", "single run")})
    1
    """
    return sum(plan.kind != "none" for plan in plans.values())


def _first_look(logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str) -> CensoredPlan:
    for group in (name, reference):
        if logs[group].size == 1:
            return CensoredPlan("none", f"{group}: {SINGLE_RUN}")
        if not masks[group].any() and np.ptp(logs[group]) == 0:
            return CensoredPlan("none", f"{group}: all runs gave the same value, so its spread is unknown")
    hidden = [group for group in (name, reference) if masks[group].all()]
    if len(hidden) == 2:
        return CensoredPlan(
            "none", f"all runs of {name} and of {reference} are censored, so nothing bounds their ratio"
        )
    if not hidden:
        return CensoredPlan("fit")
    seen = reference if hidden == [name] else name
    if _distinct(logs, masks, seen) < 2:
        return CensoredPlan(
            "none", f"all runs of {hidden[0]} are censored, and {seen} has too few uncensored for a limit"
        )
    return CensoredPlan("bound")


def _distinct(logs: Mapping[str, FloatArray], masks: Masks, name: str) -> int:
    return int(np.unique(logs[name][~masks[name]]).size)


def _hidden(logs: Mapping[str, FloatArray], masks: Masks, name: str, reference: str) -> int:
    return int(logs[name if masks[name].all() else reference].size)


def _too_few(n: int, each: float) -> CensoredPlan:
    own = 1 - sign_test_error(n)
    reason = f"{n} runs, all censored, bound a median with confidence {own:.4g} only"
    return CensoredPlan("none", f"{reason}, and the comparison needs more than {each:.4g}")

"""Compare lubricants with the reference, or every pair, by the method that the data call for.

Without censoring: Welch's t, within blocks where they are declared, or a pooled spread by design.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.choose_blocks import blocked, fixed_blocks, pair_in_blocks, why_no_blocks
from pinscar.stats.choose_censored import bounded, family_size, fitted, plan_censored, untested
from pinscar.stats.estimates import (
    Scale,
    VariancePrior,
    censored_mask,
    check_confidence,
    finite_vector,
    least_variance,
    on_scale,
    rounding_shift,
)
from pinscar.stats.family import Comparison, Found, no_interval_reason, spread_word
from pinscar.stats.simultaneous import Pairs, dunnett, range_contrast
from pinscar.stats.two_groups import Contrast, one_spread_t, sidak_welch

FloatArray = NDArray[np.float64]
GUARDED = "; critical value guarded for unlike spreads"
EXPERIENCED = "spread moderated by the laboratory's earlier runs, whose degrees of freedom are counted in"
POOLED = "spread pooled over the groups, as the campaign says"


def plain(
    family: Mapping[str, FloatArray],
    reference: str,
    confidence: float,
    scale: str,
    pooled: bool = False,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> dict[str, Found]:
    r"""Compare groups with the reference, without blocks and without censoring.

    Each group keeps its own spread: Welch's t with a critical value that keeps the error whatever the ratio
    of the spreads (:mod:`pinscar.stats.two_groups`). With k comparisons each interval is made at the
    confidence :math:`\gamma^{1/k}`, p becomes :math:`1 - (1 - p)^k` (Sidak). No test of the spreads chooses
    the method: with two or three runs such a test decides by chance. With ``pooled`` the spread is taken as
    common: pooled t, or Dunnett's intervals.

    Parameters
    ----------
    family : mapping of str to ndarray
        Values on the scale of the analysis; each group has two or more that differ.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence [-].
    scale : {"log", "linear"}
        What the scale is, for the words of the method.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.
    step : float
        Step of the readings on the scale of the analysis [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    dict of str to Found
        One a group other than the reference.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; Sidak, JASA 62 (1967) 626-633, theorem 1, for two-sided limits of
    correlated t; Dunnett, JASA 75 (1980) 796-800, for comparisons with unequal spreads (his T3 rests on the
    same Welch degrees of freedom); Dunnett, JASA 50 (1955) 1096-1121, for the pooled spread.

    Examples
    --------
    >>> logs = {"R": np.array([1.0, 1.1, 1.3]), "C": np.array([1.4, 1.5, 1.9])}
    >>> plain(logs, "R", 0.95, "log")["C"].method[:41]
    'ratio of geometric means, Welch t on logs'
    """
    subjects = [name for name in family if name != reference]
    what = "ratio of geometric means" if scale == "log" else "difference of means"
    note = None
    others = [family[subject] for subject in subjects]
    if pooled and len(subjects) == 1:
        contrasts = [one_spread_t(others[0], family[reference], confidence, step, prior)]
        name, note = "pooled t", POOLED
    elif pooled:
        contrasts = dunnett(others, family[reference], confidence, step=step, prior=prior)
        name, note = "Dunnett simultaneous intervals", POOLED
    else:
        contrasts = sidak_welch(others, family[reference], confidence, step=step, prior=prior)
        name = "Welch t"
    if prior is not None:
        note = "; ".join(part for part in (note, EXPERIENCED) if part)
    joint = f"; Šidák over {len(subjects)} comparisons" if len(subjects) > 1 and not pooled else ""
    guarded = "" if pooled else GUARDED
    return {
        subject: _found(c, f"{what}, {name}{spread_word(scale)}", f"{guarded}{joint}", note)
        for subject, c in zip(subjects, contrasts, strict=True)
    }


def _found(contrast: Contrast, name: str, joint: str, note: str | None) -> Found:
    df = f"{contrast.df:.0f}" if float(contrast.df).is_integer() else f"{contrast.df:.1f}"
    method = f"{name} ({df} degrees of freedom){joint}"
    return Found(
        estimate=contrast.estimate,
        low=contrast.low,
        high=contrast.high,
        p=contrast.p,
        method=method,
        note=note,
    )


def compare_with_reference(
    values: Mapping[str, ArrayLike],
    reference: str,
    confidence: float = 0.95,
    scale: Scale = "log",
    blocks: Mapping[str, Sequence[object]] | None = None,
    left_censored: Mapping[str, ArrayLike] | None = None,
    pooled: bool = False,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> list[Comparison]:
    """Compare every group with the reference, by the rules of :func:`pinscar.stats.family.rules_text`.

    Parameters
    ----------
    values : mapping of str to array_like
        Values of each group, the reference among them, in one unit; the limit where censored.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence of all intervals of the family [-].
    scale : {"log", "linear"}
        On the log scale ratios are compared, on the linear scale differences.
    blocks : mapping of str to sequence, optional
        Block (day, ring) of each value.
    left_censored : mapping of str to array_like of bool, optional
        True where the true value is at most the one recorded. Log scale only.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.
    step : float
        Step of the readings: relative on the log scale, in the unit of the values else; 0 where unknown. The
        spread then counts as no smaller than rounding can hide.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis. Comparisons in
        blocks, and of fitted groups with censored values, do without it.

    Returns
    -------
    list of Comparison
        One a group other than the reference, in the order of the mapping. Limits and p are None where none
        could honestly be computed; the note says why.

    Raises
    ------
    ValueError
        If the reference is missing, there is nothing to compare, or a value does not fit its scale.

    References
    ----------
    The methods carry theirs: pinscar.stats.two_groups, dunnett, all_pairs, blocks, censored_groups. The
    example is Dunnett's fabric breaking strengths (JASA 50, 1955, 1096-1121).

    Examples
    --------
    >>> strengths = {"control": [55, 47, 48], "1": [55, 64, 64], "2": [55, 49, 52], "3": [50, 44, 41]}
    >>> for result in compare_with_reference(strengths, "control", scale="linear", pooled=True):
    ...     print(result.subject, round(result.difference, 6), round(result.p_adjusted, 3), result.method)
    1 11.0 0.037 difference of means, Dunnett simultaneous intervals (8 degrees of freedom)...
    2 2.0 0.896 difference of means, Dunnett simultaneous intervals (8 degrees of freedom)...
    3 -5.0 0.409 difference of means, Dunnett simultaneous intervals (8 degrees of freedom)...
    """
    check_confidence(confidence)
    if reference not in values:
        raise ValueError(f"reference must be one of the groups, found {reference!r}")
    if len(values) < 2:
        raise ValueError("values must hold a group beside the reference, found none")
    scaled = {name: on_scale(group, scale, name) for name, group in values.items()}
    masks = {
        name: censored_mask((left_censored or {}).get(name, np.zeros(y.size, dtype=np.bool_)), y.size, name)
        for name, y in scaled.items()
    }
    if not any(mask.any() for mask in masks.values()):
        found = _without_censoring(scaled, reference, confidence, scale, blocks, pooled, step, prior)
    elif scale != "log":
        raise ValueError("left_censored values need the log scale, found the linear one")
    else:
        found = _with_censoring(values, scaled, masks, reference, confidence, blocks, pooled, step, prior)
    subjects = [name for name in values if name != reference]
    return [_comparison(masks, name, reference, confidence, scale, found[name]) for name in subjects]


def _with_censoring(
    values: Mapping[str, ArrayLike],
    logs: Mapping[str, FloatArray],
    masks: Mapping[str, NDArray[np.bool_]],
    reference: str,
    confidence: float,
    blocks: Mapping[str, Sequence[object]] | None,
    pooled: bool,
    step: float,
    prior: VariancePrior | None,
) -> dict[str, Found]:
    plans = plan_censored(logs, masks, reference, confidence)
    family = family_size(plans)
    found = {
        name: untested(logs, masks, name, reference, p.reason)
        for name, p in plans.items()
        if p.kind == "none"
    }
    for name, plan in plans.items():
        if plan.kind == "bound":
            found[name] = bounded(values, masks, name, reference, family, confidence)
    fit = [reference, *(name for name, plan in plans.items() if plan.kind == "fit")]
    if len(fit) == 1:
        return found
    if not any(masks[name].any() for name in fit):  # the censored groups are bounds: the others are complete
        share = 1 - (1 - confidence) * (len(fit) - 1) / max(family, 1)
        uncensored = {name: logs[name] for name in fit}
        complete = _without_censoring(uncensored, reference, share, "log", blocks, pooled, step, prior)
        return found | {name: _shared(f, family / (len(fit) - 1)) for name, f in complete.items()}
    chosen = {name: values[name] for name in fit}
    return found | fitted(chosen, masks, reference, family, confidence, blocks, step, pooled)


def _shared(found: Found, factor: float) -> Found:
    if found.p is None or factor == 1:
        return found
    method = f"{found.method}; error shared with the one-sided bounds by Bonferroni"
    return replace(found, p=min(1.0, found.p * factor), method=method)


def _without_censoring(
    scaled: Mapping[str, FloatArray],
    reference: str,
    confidence: float,
    scale: Scale,
    blocks: Mapping[str, Sequence[object]] | None,
    pooled: bool,
    step: float,
    prior: VariancePrior | None,
) -> dict[str, Found]:
    reasons = {name: no_interval_reason(y, name, step) for name, y in scaled.items()}
    subjects = [name for name in scaled if name != reference]
    base = reasons[reference]
    family = {} if base else {name: y for name, y in scaled.items() if reasons[name] is None}
    tested: dict[str, Found] = {}
    if len(family) > 1:
        tested = _tested(family, reference, confidence, scale, blocks, pooled, step, prior)
    return {
        name: tested[name]
        if name in tested
        else _untested(scaled, name, reference, scale, reasons[name] or base)
        for name in subjects
    }


def _tested(
    family: Mapping[str, FloatArray],
    reference: str,
    confidence: float,
    scale: Scale,
    blocks: Mapping[str, Sequence[object]] | None,
    pooled: bool,
    step: float,
    prior: VariancePrior | None,
) -> dict[str, Found]:
    if blocks is None:
        return plain(family, reference, confidence, scale, pooled, step, prior)
    found, why_not = blocked(family, reference, confidence, scale, blocks, step, pooled)
    if why_not is None:
        return found
    unblocked = plain(family, reference, confidence, scale, pooled, step, prior)
    return {name: replace(f, note=_joined(why_not, f.note)) for name, f in unblocked.items()}


def _untested(
    scaled: Mapping[str, FloatArray], name: str, reference: str, scale: Scale, reason: str | None
) -> Found:
    what = "ratio of geometric means" if scale == "log" else "difference of means"
    estimate = float(scaled[name].mean() - scaled[reference].mean())
    return Found(estimate=estimate, low=None, high=None, p=None, method=f"{what}, no interval", note=reason)


def _joined(*notes: str | None) -> str | None:
    return "; ".join(note for note in notes if note) or None


def _comparison(
    masks: Mapping[str, NDArray[np.bool_]],
    name: str,
    reference: str,
    confidence: float,
    scale: Scale,
    found: Found,
) -> Comparison:
    log = scale == "log"

    def back(value: float | None) -> float | None:
        if value is None:
            return None
        return float(np.exp(np.clip(value, -700, 700))) if log else float(value)

    return Comparison(
        subject=name,
        reference=reference,
        n=masks[name].size,
        n_censored=int(masks[name].sum()),
        n_reference=masks[reference].size,
        n_censored_reference=int(masks[reference].sum()),
        ratio=back(found.estimate) if log else None,
        difference=None if log else back(found.estimate),
        low=back(found.low),
        high=back(found.high),
        p_adjusted=found.p,
        confidence=confidence,
        method=found.method,
        note=found.note,
        profile_low=back(found.profile_low),
        profile_high=back(found.profile_high),
    )


@dataclass(frozen=True, slots=True)
class GroupPairs:
    """All pairs of several groups, and how they were compared.

    Parameters
    ----------
    pairs : dict of (str, str) to Contrast
        Mean of the first minus mean of the second, adjusted p.
    method : str
        What was done, in words that a report can print.
    """

    pairs: Pairs
    method: str


def all_pairs(
    groups: Mapping[str, ArrayLike],
    confidence: float = 0.95,
    scale: str = "log",
    blocks: Mapping[str, Sequence[object]] | None = None,
    step: float = 0.0,
    prior: VariancePrior | None = None,
    pooled: bool = False,
) -> GroupPairs:
    """Compare every pair of groups at one joint confidence.

    Welch's t for each pair, each group with its own spread, at the confidence that holds for all pairs
    (Sidak); within blocks where they are declared and the layout allows. With ``pooled`` one spread for all,
    referred to the studentized range, which is exact for equal numbers and safe else (Tukey-Kramer).

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group on the scale of the analysis (logarithms for ratios), in one unit; two or more
        that differ.
    confidence : float
        Joint confidence of all intervals [-].
    scale : {"log", "linear"}
        What the scale is, for the words of the method.
    blocks : mapping of str to sequence, optional
        Block (day, ring) of each value.
    step : float
        Step of the readings on the scale of the analysis [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread; pairs in blocks, and with one spread, do
        without it.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.

    Returns
    -------
    GroupPairs
        The pairs in the order of the mapping, and the method; pairs without an interval are not among them.

    Raises
    ------
    ValueError
        If there are fewer than two groups, or a group has no spread.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; Sidak, JASA 62 (1967) 626-633; within blocks:
    :mod:`pinscar.stats.within_blocks`; Montgomery, Design and Analysis of Experiments, the randomised
    complete block design, for Tukey's range within blocks.

    Examples
    --------
    >>> found = all_pairs({"a": [1.0, 2.0, 3.0], "b": [2.0, 3.0, 4.0], "c": [7.0, 8.0, 9.0]}, scale="linear")
    >>> found.method[:7], found.pairs["a", "c"].p < 0.01
    ('Welch t', True)
    """
    vectors = {name: finite_vector(values, name) for name, values in groups.items()}
    if len(vectors) < 2:
        raise ValueError(f"groups must be at least two, found {len(vectors)}")
    labels = None if blocks is None else {name: [str(one) for one in blocks[name]] for name in vectors}
    if labels is not None and why_no_blocks(vectors, labels) is not None:
        labels = None
    if pooled:
        return _one_spread(vectors, confidence, scale, labels, step)
    if labels is not None:
        return _in_blocks(vectors, confidence, scale, labels, step)
    return _unblocked(vectors, confidence, scale, step, prior)


def _in_blocks(
    vectors: Mapping[str, FloatArray],
    confidence: float,
    scale: str,
    labels: Mapping[str, Sequence[str]],
    step: float,
) -> GroupPairs:
    couples = list(combinations(vectors, 2))
    pairs = {}
    for a, b in couples:
        found, _ = pair_in_blocks(
            vectors[a], vectors[b], labels[a], labels[b], confidence, len(couples), step
        )
        if found is not None:
            pairs[a, b] = found
    return GroupPairs(
        pairs,
        f"Welch t{spread_word(scale)} within blocks for each pair, limits and p by Šidák over {len(couples)} "
        "pairs",
    )


def _one_spread(
    vectors: Mapping[str, FloatArray],
    confidence: float,
    scale: str,
    labels: Mapping[str, Sequence[str]] | None,
    step: float,
) -> GroupPairs:
    # Without blocks all runs are in one.
    fit = fixed_blocks(vectors, labels or {name: ["all"] * y.size for name, y in vectors.items()})
    where = "" if labels is None else " within blocks"
    method = f"one spread{spread_word(scale)}{where}, studentized range over all pairs"
    if fit is None:
        return GroupPairs({}, method)
    means, covariance, variance, df = fit
    sd = float(np.sqrt(least_variance(variance, step)))
    shift = 2.0 * rounding_shift(float(np.sqrt(variance)), step)
    pairs = {}
    for (i, a), (j, b) in combinations(enumerate(vectors), 2):
        error = sd * float(np.sqrt(covariance[i, i] + covariance[j, j] - 2.0 * covariance[i, j]))
        pairs[a, b] = range_contrast(float(means[i] - means[j]), error, df, len(vectors), confidence, shift)
    return GroupPairs(pairs, method)


def _unblocked(
    vectors: Mapping[str, FloatArray],
    confidence: float,
    scale: str,
    step: float,
    prior: VariancePrior | None,
) -> GroupPairs:
    pairs = list(combinations(vectors, 2))
    found = {
        (first, second): sidak_welch([vectors[first]], vectors[second], confidence, len(pairs), step, prior)[
            0
        ]
        for first, second in pairs
    }
    return GroupPairs(
        found, f"Welch t{spread_word(scale)} for each pair, limits and p by Šidák over {len(pairs)} pairs"
    )

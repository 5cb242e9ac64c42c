"""Compare lubricants with the reference by the method that the data call for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.censored_plan import family_size, plan_censored
from pinscar.stats.checks import censored_mask, check_confidence, on_scale
from pinscar.stats.choose_blocked import blocked
from pinscar.stats.choose_censored import bounded, fitted, untested
from pinscar.stats.choose_plain import plain
from pinscar.stats.comparison import Comparison
from pinscar.stats.estimate import Scale
from pinscar.stats.family import Found, no_interval_reason

FloatArray = NDArray[np.float64]


def compare_with_reference(
    values: Mapping[str, ArrayLike],
    reference: str,
    confidence: float = 0.95,
    scale: Scale = "log",
    blocks: Mapping[str, Sequence[object]] | None = None,
    left_censored: Mapping[str, ArrayLike] | None = None,
    pooled: bool = False,
) -> list[Comparison]:
    """Compare every group with the reference, by the rules of :func:`pinscar.stats.rules.rules_text`.

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
    The methods carry theirs: pinscar.stats.pairwise, dunnett, all_pairs, blocks, censored_groups. The example
    is Dunnett's fabric breaking strengths (JASA 50, 1955, 1096-1121).

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
        found = _without_censoring(scaled, reference, confidence, scale, blocks, pooled)
    elif scale != "log":
        raise ValueError("left_censored values need the log scale, found the linear one")
    else:
        found = _with_censoring(values, scaled, masks, reference, confidence, blocks, pooled)
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
        complete = _without_censoring(uncensored, reference, share, "log", blocks, pooled)
        return found | {name: _shared(f, family / (len(fit) - 1)) for name, f in complete.items()}
    chosen = {name: values[name] for name in fit}
    return found | fitted(chosen, masks, reference, family, confidence, blocks)


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
) -> dict[str, Found]:
    reasons = {name: no_interval_reason(y, name) for name, y in scaled.items()}
    subjects = [name for name in scaled if name != reference]
    base = reasons[reference]
    family = {} if base else {name: y for name, y in scaled.items() if reasons[name] is None}
    tested: dict[str, Found] = {}
    if len(family) > 1:
        tested = _tested(family, reference, confidence, scale, blocks, pooled)
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
) -> dict[str, Found]:
    if blocks is None:
        return plain(family, reference, confidence, scale, pooled)
    found, why_not = blocked(family, reference, confidence, scale, blocks)
    if why_not is None:
        return found
    unblocked = plain(family, reference, confidence, scale, pooled)
    return {name: replace(f, note=_joined(why_not, f.note)) for name, f in unblocked.items()}


def _untested(
    scaled: Mapping[str, FloatArray], name: str, reference: str, scale: Scale, reason: str | None
) -> Found:
    what = "ratio of geometric means" if scale == "log" else "difference of means"
    estimate = float(scaled[name].mean() - scaled[reference].mean())
    return Found(estimate, None, None, None, f"{what}, no interval", reason)


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

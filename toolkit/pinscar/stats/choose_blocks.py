"""Compare lubricants whose runs fall into declared blocks (days, rings): within the blocks they share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.block_layout import BLANK, indicator_columns, separable
from pinscar.stats.blocks import contrasts_with_reference, fit_groups
from pinscar.stats.estimates import least_variance, rounding_shift
from pinscar.stats.family import Found, spread_word
from pinscar.stats.simultaneous import joint_contrast, joint_critical_value
from pinscar.stats.two_groups import Contrast, own_spreads_t, shared
from pinscar.stats.within_blocks import within_blocks, within_blocks_t

FloatArray = NDArray[np.float64]
WITHIN = "within blocks"
UNLINKED = (
    "{name} shares no block with {reference}, directly or through others, so this rests on "
    "the spread between blocks"
)
OF_MEANS = (
    "{name} and {reference} share too few blocks to be compared within them, so the means of their blocks "
    "are compared: this rests on the spread between blocks"
)
ONE_BLOCK_ONLY = (
    "{name} and {reference} cannot be compared within blocks, and one block tells nothing of the spread "
    "between blocks: no interval"
)
NO_SPREAD = "{name}: runs within blocks show no spread to judge by: no interval"


def blocked(
    family: Mapping[str, FloatArray],
    reference: str,
    confidence: float,
    scale: str,
    blocks: Mapping[str, Sequence[object]],
    step: float = 0.0,
    pooled: bool = False,
) -> tuple[dict[str, Found], str | None]:
    """Compare groups with the reference within blocks, or say why blocks are left out.

    The layout decides, never the values. Each group keeps its own spread and is compared within the blocks
    that it shares with the reference (:mod:`pinscar.stats.within_blocks`), joint by Sidak; where the layout
    gives no such comparison, the means of the blocks are compared like runs. With ``pooled`` all groups share
    one spread within blocks: blocks as fixed effects and the joint t distribution of all differences, or, for
    groups that no chain of shared blocks links to the reference, the mixed model with the block random.

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
    blocks : mapping of str to sequence
        Block of each value.
    step : float
        Step of the readings on the scale of the analysis [its unit]; 0 where unknown.
    pooled : bool
        True where the design of the campaign says that all groups share one spread.

    Returns
    -------
    found : dict of str to Found
        One a group other than the reference; empty where blocks are left out.
    why_not : str or None
        Why they are; None where they were not.

    Raises
    ------
    ValueError
        If a group has no blocks or their number is not that of its values.

    References
    ----------
    As :mod:`pinscar.stats.within_blocks`; Hothorn, Bretz and Westfall, Biometrical Journal 50 (2008) 346-363,
    for one spread; Kenward and Roger, Biometrics 53 (1997) 983-997, for the mixed model.

    Examples
    --------
    >>> logs = {"R": np.array([1.0, 2.1, 3.2]), "C": np.array([1.3, 2.6, 3.4])}
    >>> found, why_not = blocked(logs, "R", 0.95, "log", {"R": ["a", "b", "c"], "C": ["a", "b", "c"]})
    >>> round(found["C"].estimate, 6), why_not is None
    (0.333333, True)
    """
    labels = {name: _labels(blocks, name, y.size) for name, y in family.items()}
    why_not = why_no_blocks(family, labels)
    if why_not is not None:
        return {}, why_not
    subjects = [name for name in family if name != reference]
    if not pooled:
        return {
            name: _found_pair(family, labels, name, reference, confidence, scale, len(subjects), step)
            for name in subjects
        }, None
    if len(_linked(labels, reference)) == len(labels):
        return _one_spread(family, labels, reference, confidence, scale, step), None
    try:
        fit = fit_groups(family, labels)
    except ValueError as problem:  # no spread within blocks: nothing to compare the blocks with
        return {}, f"blocks left out: {problem}"
    linked, found = _linked(labels, reference), {}
    for name, c in contrasts_with_reference(fit, list(family), reference, confidence, step).items():
        note = None if name in linked else UNLINKED.format(name=name, reference=reference)
        between, within = np.sqrt(fit.block_variance), np.sqrt(fit.residual_variance)
        spreads = f"standard deviation {between:.3g} between blocks, {within:.3g} within"
        method = (
            f"{_what(scale)}, mixed model{spread_word(scale)} with the block random (REML; {spreads}), "
            f"Kenward-Roger ({c.df:.1f} degrees of freedom){_joint(len(subjects))}"
        )
        found[name] = Found(estimate=c.estimate, low=c.low, high=c.high, p=c.p, method=method, note=note)
    return found, None


def pair_in_blocks(
    subject: FloatArray,
    reference: FloatArray,
    subject_blocks: Sequence[str],
    reference_blocks: Sequence[str],
    confidence: float,
    comparisons: int,
    step: float = 0.0,
) -> tuple[Contrast | None, bool]:
    """Compare two groups within the blocks they share, or by the means of their blocks.

    Parameters
    ----------
    subject, reference : ndarray
        Values on the scale of the analysis [any one unit].
    subject_blocks, reference_blocks : sequence of str
        Block of each value.
    confidence : float
        Joint confidence [-].
    comparisons : int
        How many comparisons hold together.
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.

    Returns
    -------
    contrast : Contrast or None
        Subject minus reference with limits and p for all comparisons together; None where there is no spread.
    within : bool
        Whether the comparison was made within blocks.

    References
    ----------
    As :func:`blocked`.

    Examples
    --------
    >>> x, y = np.array([1.3, 2.6, 3.4]), np.array([1.0, 2.1, 3.2])
    >>> pair_in_blocks(x, y, list("abc"), list("abc"), 0.95, 1)[1]
    True
    >>> pair_in_blocks(x, y, list("abc"), list("def"), 0.95, 1)[1]
    False
    """
    each = confidence ** (1.0 / comparisons)
    layout = within_blocks(subject_blocks, reference_blocks)
    if layout is not None:
        inner = within_blocks_t(layout, subject, reference, each, step)
        return None if inner is None else shared(inner, comparisons), True
    means = [_block_means(y, b) for y, b in ((subject, subject_blocks), (reference, reference_blocks))]
    if min(one.size for one in means) < 2 or (step <= 0.0 and max(map(np.ptp, means)) == 0.0):
        return None, False
    return shared(own_spreads_t(means[0], means[1], each, step), comparisons), False


def _found_pair(
    family: Mapping[str, FloatArray],
    labels: Mapping[str, list[str]],
    name: str,
    reference: str,
    confidence: float,
    scale: str,
    comparisons: int,
    step: float,
) -> Found:
    subject, base = family[name], family[reference]
    c, within = pair_in_blocks(subject, base, labels[name], labels[reference], confidence, comparisons, step)
    words = {"name": name, "reference": reference}
    if c is None:
        note = (NO_SPREAD if within else ONE_BLOCK_ONLY).format(**words)
        return _without(subject, base, scale, note)
    where = f"{_what(scale)} {WITHIN}" if within else f"{_what(scale)} of the means of blocks"
    joint = f"; Šidák over {comparisons} comparisons" if comparisons > 1 else ""
    method = (
        f"{where}, Welch t{spread_word(scale)} ({c.df:.1f} degrees of freedom); critical value guarded for "
        f"unlike spreads{joint}"
    )
    return Found(
        estimate=c.estimate,
        low=c.low,
        high=c.high,
        p=c.p,
        method=method,
        note=None if within else OF_MEANS.format(**words),
    )


def _without(subject: FloatArray, base: FloatArray, scale: str, note: str) -> Found:
    difference = float(subject.mean() - base.mean())
    return Found(
        estimate=difference, low=None, high=None, p=None, method=f"{_what(scale)}, no interval", note=note
    )


def _block_means(values: FloatArray, blocks: Sequence[str]) -> FloatArray:
    labels = np.array(blocks)
    return np.array([values[labels == one].mean() for one in dict.fromkeys(blocks)])


def _one_spread(
    family: Mapping[str, FloatArray],
    labels: Mapping[str, list[str]],
    reference: str,
    confidence: float,
    scale: str,
    step: float,
) -> dict[str, Found]:
    names, subjects = list(family), [name for name in family if name != reference]
    fit = fixed_blocks(family, labels)
    weights = np.array([[(n == s) - float(n == reference) for n in names] for s in subjects])
    found = {}
    if fit is None:
        for name in subjects:
            found[name] = _without(family[name], family[reference], scale, NO_SPREAD.format(name=name))
        return found
    means, covariance, variance, df = fit
    covariance = weights @ covariance @ weights.T
    errors = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(errors, errors)
    critical = joint_critical_value(correlation, df, confidence)
    shift = 2.0 * rounding_shift(float(np.sqrt(variance)), step)
    sd = float(np.sqrt(least_variance(variance, step)))
    method = f"{_what(scale)} {WITHIN}, one spread{spread_word(scale)} ({df:.0f} degrees of freedom)"
    for name, estimate, error in zip(subjects, weights @ means, sd * errors, strict=True):
        c = joint_contrast(float(estimate), float(error), df, correlation, critical, "two-sided", shift)
        found[name] = Found(
            estimate=c.estimate,
            low=c.low,
            high=c.high,
            p=c.p,
            method=f"{method}{_joint(len(subjects))}",
            note=None,
        )
    return found


def fixed_blocks(
    family: Mapping[str, FloatArray], labels: Mapping[str, Sequence[str]]
) -> tuple[FloatArray, FloatArray, float, float] | None:
    """Fit groups and blocks as fixed effects, with one spread.

    Parameters
    ----------
    family : mapping of str to ndarray
        Values of each group [any one unit].
    labels : mapping of str to sequence of str
        Block of each value.

    Returns
    -------
    means, covariance, variance, df : ndarray, ndarray, float, float; or None
        Means of the groups but for a constant, their covariance over the variance, variance of a run within
        blocks and its degrees of freedom; None where the runs leave none of these.

    References
    ----------
    Searle, Linear Models, 1971, chapter 7 (two-way crossed classification, from memory).

    Examples
    --------
    >>> y = {"a": np.array([1.0, 2.0, 4.0]), "b": np.array([2.0, 4.0, 5.0])}
    >>> means, _, variance, df = fixed_blocks(y, dict.fromkeys("ab", "xyz"))
    >>> round(float(means[1] - means[0]), 6), round(variance, 6), df
    (1.333333, 0.166667, 2.0)
    """
    names = [name for name, y in family.items() for _ in range(y.size)]
    values = np.concatenate(list(family.values()))
    blocks = np.unique([str(one) for name in family for one in labels[name]], return_inverse=True)[1]
    sizes = np.bincount(blocks)

    def within(column: FloatArray) -> FloatArray:
        return np.asarray(column - (np.bincount(blocks, column) / sizes)[blocks], dtype=np.float64)

    design = np.stack([within(column) for column in indicator_columns(names).T], axis=1)
    inverse = np.asarray(np.linalg.pinv(design.T @ design, rcond=1e-10, hermitian=True), dtype=np.float64)
    means = inverse @ design.T @ values
    df = float(values.size - sizes.size - np.linalg.matrix_rank(design))
    rest = within(values) - design @ means
    variance = float(rest @ rest) / df if df > 0.0 else 0.0
    if not variance > 1e-22 * float(values @ values):
        return None
    return means, inverse, variance, df


def _what(scale: str) -> str:
    return "ratio of geometric means" if scale == "log" else "difference of means"


def _joint(subjects: int) -> str:
    return f", joint t for {subjects} comparisons" if subjects > 1 else ""


def _labels(blocks: Mapping[str, Sequence[object]], name: str, n: int) -> list[str]:
    labels = [str(label) for label in blocks.get(name, ())]
    if len(labels) != n:
        raise ValueError(f"blocks must have one label per value of {name!r} ({n}), found {len(labels)}")
    return labels


def why_no_blocks(family: Mapping[str, FloatArray], labels: Mapping[str, Sequence[str]]) -> str | None:
    """Say why the blocks of some groups cannot be taken into account, if they cannot.

    Parameters
    ----------
    family : mapping of str to ndarray
        Values of each group [any one unit].
    labels : mapping of str to sequence of str
        Block of each value.

    Returns
    -------
    str or None
        The reason; None where they can.

    References
    ----------
    Own derivation: see :func:`pinscar.stats.block_layout.blocks_separable`.

    Examples
    --------
    >>> why_no_blocks({"R": np.array([1.0, 2.0])}, {"R": ["a", "a"]})
    'blocks left out: all runs are in one block'
    """
    together = [label for group in labels.values() for label in group]
    blank = sum(label.strip().lower() in BLANK for label in together)
    if blank:
        return f"blocks left out: {blank} of {len(together)} runs have no block recorded"
    distinct = set(together)
    if len(distinct) == 1:
        return "blocks left out: all runs are in one block"
    if len(distinct) == len(together):
        return "blocks left out: each block holds a single run"
    if not separable(family, labels):
        return (
            "blocks left out: blocks and lubricants are confounded, so the difference shown holds "
            "that between blocks too"
        )
    return None


def _linked(labels: Mapping[str, list[str]], reference: str) -> set[str]:
    names, seen = {reference}, set(labels[reference])
    while True:
        more = {name for name, group in labels.items() if name not in names and seen & set(group)}
        if not more:
            return names
        names |= more
        seen |= {label for name in more for label in labels[name]}

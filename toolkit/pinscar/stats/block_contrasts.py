"""Several groups against a reference, in random blocks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.blocks import (
    BlockFit,
    blocks_separable,
    fit_random_block,
    indicator_columns,
    kenward_roger,
)
from pinscar.stats.checks import check_confidence, finite_vector
from pinscar.stats.dunnett import joint_contrast
from pinscar.stats.joint_t import joint_critical_value
from pinscar.stats.pairwise import Contrast


@dataclass(frozen=True, slots=True)
class BlockComparison:
    """Groups against a reference, in random blocks.

    Parameters
    ----------
    fit : BlockFit
        The fitted model; one coefficient a group, in the order of the mapping.
    contrasts : dict of str to Contrast
        Each subject minus the reference, with adjusted p.
    """

    fit: BlockFit
    contrasts: dict[str, Contrast]


def separable(groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]) -> bool:
    """Whether the data can tell the spread between blocks from the groups and from the spread within blocks.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, in any unit.
    blocks : mapping of str to sequence
        Block of each value.

    Returns
    -------
    bool
        False where groups and blocks are confounded, there is one block, or each block holds one run.

    References
    ----------
    Own derivation: see :func:`pinscar.stats.blocks.blocks_separable`.

    Examples
    --------
    >>> days = {"A": ["mon", "tue"], "B": ["mon", "tue"]}
    >>> separable({"A": [1.0, 2.0], "B": [3.0, 4.5]}, days)
    True
    >>> separable({"A": [1.0, 2.0], "B": [3.0, 4.5]}, {"A": ["mon"] * 2, "B": ["tue"] * 2})
    False
    """
    design, _, labels = _stacked(groups, blocks)
    return blocks_separable(design, labels)


def compare_in_blocks(
    groups: Mapping[str, ArrayLike],
    reference: str,
    blocks: Mapping[str, Sequence[object]],
    confidence: float = 0.95,
) -> BlockComparison:
    """Compare groups with a reference where runs fall into random blocks, at one joint confidence.

    A mixed model with the block random, fitted by REML; Kenward and Roger's standard errors and degrees of
    freedom; limits and p from the joint t distribution with the correlations of the contrasts, each contrast
    at its own degrees of freedom. It assumes normal values on the scale given with one spread within blocks,
    and block effects that are a normal sample.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, in one unit (for ratios: logarithms).
    reference : str
        The group that the others are compared with.
    blocks : mapping of str to sequence
        Block of each value.
    confidence : float
        Joint confidence of all intervals [-].

    Returns
    -------
    BlockComparison
        The fit and each subject minus the reference. With a block variance of zero the limits are still those
        of the mixed model; better compare without blocks then.

    Raises
    ------
    ValueError
        If the reference is missing, or the block variance cannot be estimated.

    References
    ----------
    Kenward and Roger, Biometrics 53 (1997) 983-997; Hothorn, Bretz and Westfall, "Simultaneous inference in
    general parametric models", Biometrical Journal 50 (2008) 346-363.

    Examples
    --------
    In complete blocks the mixed model gives the paired t test.

    >>> logs = {"A": [1.0, 2.1, 3.2, 4.6], "B": [1.3, 2.6, 3.4, 5.2]}
    >>> result = compare_in_blocks(logs, "A", {"A": [1, 2, 3, 4], "B": [1, 2, 3, 4]})
    >>> contrast = result.contrasts["B"]
    >>> round(contrast.estimate, 6), round(contrast.df, 6)
    (0.4, 3.0)
    """
    fit = fit_groups(groups, blocks)
    return BlockComparison(fit, contrasts_with_reference(fit, list(groups), reference, confidence))


def fit_groups(groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]) -> BlockFit:
    """Fit groups with one random block.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, in one unit.
    blocks : mapping of str to sequence
        Block of each value.

    Returns
    -------
    BlockFit
        One coefficient a group, in the order of the mapping.

    Raises
    ------
    ValueError
        If the block variance cannot be estimated.

    References
    ----------
    See :func:`pinscar.stats.blocks.fit_random_block`.

    Examples
    --------
    >>> logs = {"A": [1.0, 2.1, 3.2, 4.6], "B": [1.3, 2.6, 3.4, 5.2]}
    >>> fit_groups(logs, {"A": [1, 2, 3, 4], "B": [1, 2, 3, 4]}).coefficients.round(6)
    array([2.725, 3.125])
    """
    design, values, labels = _stacked(groups, blocks)
    return fit_random_block(values, design, labels)


def contrasts_with_reference(
    fit: BlockFit, names: Sequence[str], reference: str, confidence: float = 0.95
) -> dict[str, Contrast]:
    """Compare the groups of a block fit with the reference, at one joint confidence.

    Parameters
    ----------
    fit : BlockFit
        From :func:`fit_groups`.
    names : sequence of str
        The groups, in the order of the coefficients.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence of all intervals [-].

    Returns
    -------
    dict of str to Contrast
        Each subject minus the reference, with adjusted p.

    Raises
    ------
    ValueError
        If the reference is missing.

    References
    ----------
    Hothorn, Bretz and Westfall, Biometrical Journal 50 (2008) 346-363.

    Examples
    --------
    >>> logs = {"A": [1.0, 2.1, 3.2, 4.6], "B": [1.3, 2.6, 3.4, 5.2]}
    >>> fit = fit_groups(logs, {"A": [1, 2, 3, 4], "B": [1, 2, 3, 4]})
    >>> round(contrasts_with_reference(fit, ["A", "B"], "A")["B"].df, 6)
    3.0
    """
    if reference not in names:
        raise ValueError(f"reference must be one of the groups, found {reference!r}")
    subjects = [name for name in names if name != reference]
    weights = np.array([[(n == s) - float(n == reference) for n in names] for s in subjects])
    covariance = weights @ fit.covariance @ weights.T
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    check_confidence(confidence)
    return {
        subject: _contrast(fit, row, correlation, confidence)
        for subject, row in zip(subjects, weights, strict=True)
    }


def _contrast(
    fit: BlockFit, weights: NDArray[np.float64], correlation: NDArray[np.float64], confidence: float
) -> Contrast:
    estimate, error, df = kenward_roger(fit, weights)
    critical = joint_critical_value(correlation, df, confidence)
    return joint_contrast(estimate, error, df, correlation, critical, "two-sided")


def _stacked(
    groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[object]]:
    vectors = {name: finite_vector(values, name) for name, values in groups.items()}
    for name, vector in vectors.items():
        if len(blocks.get(name, ())) != vector.size:
            raise ValueError(f"blocks must have one label a value of {name!r} ({vector.size})")
    names = [name for name, vector in vectors.items() for _ in range(vector.size)]
    labels = [label for name in vectors for label in blocks[name]]
    return indicator_columns(names), np.concatenate(list(vectors.values())), labels

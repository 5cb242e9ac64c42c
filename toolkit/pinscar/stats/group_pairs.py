"""Every pair of groups: in blocks by the studentized range, else by Welch's t with joint limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.all_pairs import Pairs, range_contrast
from pinscar.stats.block_contrasts import separable
from pinscar.stats.blocks import fit_random_block, indicator_columns, kenward_roger
from pinscar.stats.checks import finite_vector
from pinscar.stats.choose_plain import sidak_welch
from pinscar.stats.family import spread_word

FloatArray = NDArray[np.float64]


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
) -> GroupPairs:
    """Compare every pair of groups at one joint confidence.

    With blocks that can be modelled, and a block variance above zero: a mixed model with the block random,
    Kenward-Roger errors referred to the studentized range, which is exact in complete blocks of equal size
    and an approximation else. Without: Welch's t for each pair, each group with its own spread, at the
    confidence that holds for all pairs (Sidak).

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

    Returns
    -------
    GroupPairs
        The pairs in the order of the mapping, and the method.

    Raises
    ------
    ValueError
        If there are fewer than two groups, or a group has no spread.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; Sidak, JASA 62 (1967) 626-633; Kenward and Roger, Biometrics 53 (1997)
    983-997; Montgomery, Design and Analysis of Experiments, the randomised complete block design, for Tukey's
    range within blocks.

    Examples
    --------
    >>> found = all_pairs({"a": [1.0, 2.0, 3.0], "b": [2.0, 3.0, 4.0], "c": [7.0, 8.0, 9.0]}, scale="linear")
    >>> found.method[:7], found.pairs["a", "c"].p < 0.01
    ('Welch t', True)
    """
    vectors = {name: finite_vector(values, name) for name, values in groups.items()}
    if len(vectors) < 2:
        raise ValueError(f"groups must be at least two, found {len(vectors)}")
    if blocks is not None and separable(vectors, blocks):
        found = _in_blocks(vectors, confidence, scale, blocks)
        if found is not None:
            return found
    return _unblocked(vectors, confidence, scale)


def _in_blocks(
    vectors: Mapping[str, FloatArray], confidence: float, scale: str, blocks: Mapping[str, Sequence[object]]
) -> GroupPairs | None:
    names = list(vectors)
    labels = [label for name in names for label in blocks[name]]
    design = indicator_columns([name for name in names for _ in range(vectors[name].size)])
    fit = fit_random_block(np.concatenate([vectors[name] for name in names]), design, labels)
    if fit.block_variance == 0:
        return None
    pairs = {}
    for first, second in combinations(names, 2):
        weights = [float(name == first) - float(name == second) for name in names]
        estimate, error, df = kenward_roger(fit, weights)
        pairs[first, second] = range_contrast(estimate, error, df, len(names), confidence)
    return GroupPairs(
        pairs,
        f"mixed model{spread_word(scale)} with the block random, Kenward-Roger, studentized range over all "
        f"pairs",
    )


def _unblocked(vectors: Mapping[str, FloatArray], confidence: float, scale: str) -> GroupPairs:
    pairs = list(combinations(vectors, 2))
    found = {
        (first, second): sidak_welch([vectors[first]], vectors[second], confidence, len(pairs))[0]
        for first, second in pairs
    }
    return GroupPairs(
        found, f"Welch t{spread_word(scale)} for each pair, limits and p by Šidák over {len(pairs)} pairs"
    )

"""Every pair of groups by the method that the data call for: in blocks, Tukey, or Games-Howell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.all_pairs import Pairs, games_howell, range_contrast, tukey
from pinscar.stats.block_contrasts import separable
from pinscar.stats.blocks import fit_random_block, indicator_columns, kenward_roger
from pinscar.stats.checks import finite_vector
from pinscar.stats.family import spread_word
from pinscar.stats.pairwise import brown_forsythe
from pinscar.stats.rules import EQUAL_SPREADS_LEVEL, SMALL_GAMES_HOWELL

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
    and an approximation else. Without: Tukey-Kramer where the spreads pass for equal (Brown-Forsythe),
    Games-Howell where they do not.

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
    Kramer, Biometrics 12 (1956) 307-310; Games and Howell, J. Educ. Stat. 1 (1976) 113-125; Brown and
    Forsythe, JASA 69 (1974) 364-367; Kenward and Roger, Biometrics 53 (1997) 983-997; Montgomery, Design and
    Analysis of Experiments, the randomised complete block design, for Tukey's range within blocks.

    Examples
    --------
    >>> found = all_pairs({"a": [1.0, 2.0, 3.0], "b": [2.0, 3.0, 4.0], "c": [7.0, 8.0, 9.0]}, scale="linear")
    >>> found.method[:12], found.pairs["a", "c"].p < 0.01
    ('Tukey-Kramer', True)
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
    p = _equal_spreads(vectors)
    if p is not None and p < EQUAL_SPREADS_LEVEL:
        few = min(vector.size for vector in vectors.values()) < SMALL_GAMES_HOWELL
        caution = ", which may tell a little too much apart in groups this small" if few else ""
        return GroupPairs(
            games_howell(vectors, confidence),
            f"Games-Howell{spread_word(scale)} over all pairs, since spreads differ (Brown-Forsythe "
            f"p = {p:.2g}){caution}",
        )
    reason = "too few runs to test for it" if p is None else f"Brown-Forsythe p = {p:.2g}"
    return GroupPairs(
        tukey(vectors, confidence),
        f"Tukey-Kramer{spread_word(scale)} over all pairs, spreads taken as equal ({reason})",
    )


def _equal_spreads(vectors: Mapping[str, FloatArray]) -> float | None:
    try:
        return float(brown_forsythe(list(vectors.values()))[1])
    except ValueError:
        return None

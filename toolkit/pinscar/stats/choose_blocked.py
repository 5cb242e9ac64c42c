"""Comparisons in random blocks, where the blocks can be modelled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.block_contrasts import contrasts_with_reference, fit_groups, separable
from pinscar.stats.blocks import BlockFit
from pinscar.stats.family import Found, spread_word

FloatArray = NDArray[np.float64]
UNLINKED = (
    "{name} shares no block with the reference, directly or through others, so this rests on "
    "the spread between blocks"
)
BLANK = ("", "nan", "none", "nat", "<na>")


def blocked(
    family: Mapping[str, FloatArray],
    reference: str,
    confidence: float,
    scale: str,
    blocks: Mapping[str, Sequence[object]],
) -> tuple[dict[str, Found], str | None]:
    """Compare groups with the reference in random blocks, or say why that cannot be done.

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

    Returns
    -------
    found : dict of str to Found
        One a group other than the reference; empty where blocks cannot be modelled.
    why_not : str or None
        Why they cannot; None where they were.

    Raises
    ------
    ValueError
        If a group has no blocks or their number is not that of its values.

    References
    ----------
    Kenward and Roger, Biometrics 53 (1997) 983-997.

    Examples
    --------
    >>> logs = {"R": np.array([1.0, 2.1, 3.2]), "C": np.array([1.3, 2.6, 3.4])}
    >>> found, why_not = blocked(logs, "R", 0.95, "log", {"R": ["a", "b", "c"], "C": ["a", "b", "c"]})
    >>> round(found["C"].estimate, 6), why_not is None
    (0.333333, True)
    """
    labels = {name: _labels(blocks, name, y.size) for name, y in family.items()}
    why_not = _why_not(family, labels)
    if why_not is not None:
        return {}, why_not
    try:
        fit = fit_groups(family, labels)
    except ValueError as problem:  # no spread within blocks: nothing to compare the blocks with
        return {}, f"blocks left out: {problem}"
    if fit.block_variance == 0:
        return {}, "blocks left out: the spread between blocks is estimated at zero"
    linked = _linked(labels, reference)
    found = {}
    for name, c in contrasts_with_reference(fit, list(family), reference, confidence).items():
        note = None if name in linked else UNLINKED.format(name=name)
        method = _method(scale, fit, c.df, len(family) - 1)
        found[name] = Found(c.estimate, c.low, c.high, c.p, method, note)
    return found, None


def _labels(blocks: Mapping[str, Sequence[object]], name: str, n: int) -> list[str]:
    labels = [str(label) for label in blocks.get(name, ())]
    if len(labels) != n:
        raise ValueError(f"blocks must have one label a value of {name!r} ({n}), found {len(labels)}")
    return labels


def _why_not(family: Mapping[str, FloatArray], labels: Mapping[str, list[str]]) -> str | None:
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


def _method(scale: str, fit: BlockFit, df: float, subjects: int) -> str:
    what = "ratio of geometric means" if scale == "log" else "difference of means"
    between = np.sqrt(fit.block_variance)
    within = np.sqrt(fit.residual_variance)
    joint = f", joint t for {subjects} comparisons" if subjects > 1 else ""
    spreads = f"standard deviation {between:.3g} between blocks, {within:.3g} within"
    return (
        f"{what}, mixed model{spread_word(scale)} with the block random (REML; {spreads}), "
        f"Kenward-Roger ({df:.1f} degrees of freedom){joint}"
    )

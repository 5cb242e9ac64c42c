"""Power of a comparison within blocks, for a layout that is known before the runs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from pinscar.stats.power import noncentral_t_power
from pinscar.stats.two_groups import guarded_critical, outward_factor
from pinscar.stats.within_blocks import within_blocks

FloatArray = NDArray[np.float64]


def power_within_blocks(
    subject_blocks: Sequence[object],
    reference_blocks: Sequence[object],
    effect: float,
    alpha: float = 0.05,
    *,
    spreads: tuple[float, float] = (1.0, 1.0),
    n_simulations: int = 4000,
    seed: int = 0,
) -> float:
    r"""Compute the power of Welch's t test within blocks.

    Where both scatter alike the difference is independent of the residuals, so only the variance found is
    drawn, and what is left is a normal probability; else the difference is drawn too:

    .. math:: \mathrm{E}\left[ \Phi\!\left(\frac{\delta - c \sqrt{\hat v}}{\sqrt v}\right) +
        \Phi\!\left(\frac{-\delta - c \sqrt{\hat v}}{\sqrt v}\right) \right], \quad
        v = \sum_i w_i^2 \sigma_{g(i)}^2

    Parameters
    ----------
    subject_blocks, reference_blocks : sequence
        Block of each run.
    effect : float
        True difference, in the unit of `spreads`: over the standard deviation of runs within blocks where
        these are not given [-].
    alpha : float
        Level of the one comparison, two-sided [-].
    spreads : tuple of float
        True standard deviations within blocks of subject and reference [any one unit].
    n_simulations : int
        Variances drawn [-].
    seed : int
        Seed of the draws.

    Returns
    -------
    float
        Power [-]; 0 where the layout gives no comparison within blocks.

    References
    ----------
    Own derivation; the test is that of :mod:`pinscar.stats.within_blocks`.

    Examples
    --------
    A run of each of two oils on each of six days is the paired t test of six pairs, whose exact power for a
    difference of two standard deviations is 0.789.

    >>> abs(power_within_blocks("abcdef", "abcdef", 2.0) - 0.789) < 0.01
    True
    >>> power_within_blocks("abc", "def", 2.0)
    0.0
    """
    layout = within_blocks(subject_blocks, reference_blocks)
    if layout is None:
        return 0.0
    rng = np.random.default_rng(seed)
    own = np.where(np.arange(layout.weights.size) < layout.n_subject, *spreads)
    draws = own * rng.standard_normal((n_simulations, layout.weights.size))
    left = layout.left_over(draws)
    squares = np.stack(
        [np.sum(left[:, : layout.n_subject] ** 2, axis=1), np.sum(left[:, layout.n_subject :] ** 2, axis=1)],
        axis=1,
    )
    found = squares @ np.linalg.pinv(layout.expected, rcond=1e-9)
    total = found @ layout.shares
    usable = total > 0.0
    share = np.clip(found[:, 0] * layout.shares[0] / np.where(usable, total, 1.0), 0.0, 1.0)
    whole = [float(max(int(df + 1e-9), 1)) for df in layout.dfs]
    guard = outward_factor((whole[0], whole[1]), round(alpha, 12))
    critical = guarded_critical(share, layout.dfs, alpha, guard, layout.link)
    reach = np.where(usable, critical * np.sqrt(np.where(usable, total, 1.0)), np.inf)
    if spreads[0] != spreads[1]:  # difference and residuals are then not independent
        return float(np.mean(np.abs(effect + draws @ layout.weights) > reach))
    error = spreads[0] * float(np.linalg.norm(layout.weights))
    return float(np.mean(ndtr((effect - reach) / error) + ndtr((-effect - reach) / error)))


def pooled_power_within_blocks(
    subject_blocks: Sequence[object],
    reference_blocks: Sequence[object],
    effect: float,
    df: float,
    alpha: float = 0.05,
) -> float:
    """Compute the power of the t test within blocks with one spread for all groups.

    Parameters
    ----------
    subject_blocks, reference_blocks : sequence
        Block of each run of the two groups compared.
    effect : float
        True difference over the standard deviation of runs within blocks [-].
    df : float
        Degrees of freedom of that spread, from all groups [-].
    alpha : float
        Level of the one comparison, two-sided [-].

    Returns
    -------
    float
        Power [-]; 0 where the groups share no block, or nothing is left to judge by.

    References
    ----------
    Own derivation: noncentral t. The error is that of the two groups alone, which other groups can only
    lower.

    Examples
    --------
    >>> round(pooled_power_within_blocks("abcdef", "abcdef", 2.0, 5.0), 3)
    0.789
    """
    layout = within_blocks(subject_blocks, reference_blocks)
    if layout is None or df < 1.0:
        return 0.0
    return float(noncentral_t_power(df, effect / float(np.linalg.norm(layout.weights)), alpha))

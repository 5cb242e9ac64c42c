"""Two groups compared within blocks (days, rings), each with its own spread: Welch's t with blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.pairwise import Contrast, own_spreads
from pinscar.stats.rounding import least_variance, rounding_shift

FloatArray = NDArray[np.float64]
NOTHING = 1e-9
"""Share of a matrix below which a number in it is rounding error."""


@dataclass(frozen=True, slots=True)
class WithinBlocks:
    """What the layout of two groups over blocks tells before any value is known.

    Parameters
    ----------
    weights : ndarray, shape (n,)
        Weight of each run in the difference, subject first [-].
    residuals : ndarray, shape (n, n)
        Takes groups and blocks out of the values [-].
    n_subject : int
        How many of the runs are the subject's.
    shares : ndarray, shape (2,)
        Variance of the difference per variance of a run of either group [-].
    expected : ndarray, shape (2, 2)
        What each group's sum of squared residuals holds of either variance [-].
    dfs : tuple of float
        Degrees of freedom if only the one group scattered, and if only the other did.
    link : float
        Half the cross term of the inverse degrees of freedom [-]; 0 without blocks.
    """

    weights: FloatArray
    residuals: FloatArray
    n_subject: int
    shares: FloatArray
    expected: FloatArray
    dfs: tuple[float, float]
    link: float


def within_blocks(
    subject_blocks: Sequence[object], reference_blocks: Sequence[object]
) -> WithinBlocks | None:
    r"""Look whether two groups can be compared within blocks, each with its own spread.

    Groups and blocks are fixed effects, so the difference :math:`w'y` holds nothing of what a block does.
    With M the residual maker and :math:`q_g` the sum of squared residuals of group g,

    .. math:: E\,q_g = \sum_h A_{gh} \sigma_h^2, \quad A_{gh} = \sum_{i \in g, j \in h} M_{ij}^2, \qquad
        \hat v = d'q \text{ with } A d = c, \; c_g = \sum_{i \in g} w_i^2

    is an unbiased estimate of the variance of the difference for any two spreads. It is a quadratic form
    :math:`y'My` with M the matrix :math:`MDM`, so its degrees of freedom at a share W of the first group in
    that variance are Satterthwaite's,

    .. math:: \frac{1}{\nu} = \frac{W^2}{f_1} + 2 W (1 - W)\, l + \frac{(1 - W)^2}{f_2}

    Without blocks l is 0 and this is Welch's t.

    Parameters
    ----------
    subject_blocks, reference_blocks : sequence
        Block of each run.

    Returns
    -------
    WithinBlocks or None
        None where the groups share no block, or the runs within blocks leave no spread of both to judge by.

    References
    ----------
    Rao, "Estimation of heteroscedastic variances in linear models", JASA 65 (1970) 161-172, for the estimate;
    Satterthwaite, Biometrics Bulletin 2 (1946) 110-114; Welch, Biometrika 34 (1947) 28-35.

    Examples
    --------
    A run of each oil on each of three days is the paired t test; without shared days there is nothing.

    >>> layout = within_blocks("abc", "abc")
    >>> round(layout.dfs[0], 6), round(layout.dfs[1], 6), within_blocks("ab", "cd")
    (2.0, 2.0, None)
    """
    labels = [str(label) for label in (*subject_blocks, *reference_blocks)]
    n, first = len(labels), len(subject_blocks)
    own = np.arange(n) < first
    blocks = np.array([[label == one for one in dict.fromkeys(labels)] for label in labels], dtype=np.float64)
    leaver = np.eye(n) - (blocks / blocks.sum(axis=0)) @ blocks.T
    contrast = leaver @ own.astype(np.float64)  # what of the group is not the block
    size = float(contrast @ contrast)
    if size < NOTHING:
        return None
    weights = contrast / size
    residuals = leaver - np.outer(contrast, contrast) / size
    sides = (own, ~own)
    expected = np.array([[float(np.sum(residuals[np.ix_(a, b)] ** 2)) for b in sides] for a in sides])
    shares = np.array([float(np.sum(weights[a] ** 2)) for a in sides])
    taken = np.linalg.pinv(expected, rcond=NOTHING) @ shares
    if not np.allclose(expected @ taken, shares, rtol=1e-6, atol=0.0):
        return None
    form = (residuals * np.where(own, *taken)) @ residuals
    cross = [[float(np.sum(form[np.ix_(a, b)] ** 2)) for b in sides] for a in sides]
    dfs = tuple(float(shares[i] ** 2 / cross[i][i]) for i in (0, 1))
    link = cross[0][1] / float(shares[0] * shares[1])
    return WithinBlocks(weights, residuals, first, shares, expected, (dfs[0], dfs[1]), link)


def within_blocks_t(
    layout: WithinBlocks, subject: FloatArray, reference: FloatArray, confidence: float, step: float = 0.0
) -> Contrast | None:
    """Compare two groups within blocks, each with its own spread, guarded as without blocks.

    The critical value is that of :func:`pinscar.stats.guarded_welch.guarded_critical`. It assumes normal
    values on the scale given, and blocks that shift both groups alike; nothing of how far blocks differ.

    Parameters
    ----------
    layout : WithinBlocks
        From :func:`within_blocks`.
    subject, reference : ndarray
        Values in the order of the layout, on the scale of the analysis [any one unit].
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.

    Returns
    -------
    Contrast or None
        Subject minus reference; None where the variance comes out at zero or below.

    References
    ----------
    As :func:`within_blocks`; rounding: :mod:`pinscar.stats.rounding`.

    Examples
    --------
    >>> from pinscar.stats.pairwise import paired_t
    >>> a, b = np.array([1.3, 2.6, 3.4]), np.array([1.0, 2.1, 3.2])
    >>> ours, theirs = within_blocks_t(within_blocks("xyz", "xyz"), a, b, 0.95), paired_t(a, b)
    >>> bool(abs(ours.low - theirs.low) < 1e-9), bool(abs(ours.p - theirs.p) < 1e-9)
    (True, True)
    """
    values = np.concatenate([subject, reference])
    difference = float(layout.weights @ values)
    left = layout.residuals @ values
    squares = np.array([np.sum(part**2) for part in (left[: layout.n_subject], left[layout.n_subject :])])
    # Where only a sum of both can be told, the smallest solution splits it; the sum is what counts.
    found = np.linalg.pinv(layout.expected, rcond=NOTHING) @ squares
    total = float(layout.shares @ found)
    raw = np.maximum(found, 0.0)
    parts = layout.shares * [least_variance(float(one), step) for one in raw]
    if found.min() < 0.0 and step <= 0.0:  # the other then holds all of it
        parts = np.where(found < 0.0, 0.0, total)
    if not total > 0.0 and step <= 0.0:
        return None
    return own_spreads(
        difference,
        (float(parts[0]), float(parts[1])),
        layout.dfs,
        confidence,
        guarded=True,
        shift=sum(rounding_shift(float(np.sqrt(one)), step) for one in raw),
        link=layout.link,
    )

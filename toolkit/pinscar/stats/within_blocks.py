"""Two groups compared within blocks (days, rings), each with its own spread: Welch's t with blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from pinscar.stats.estimates import least_variance, rounding_shift
from pinscar.stats.two_groups import Contrast, own_spreads

FloatArray = NDArray[np.float64]
NOTHING = 1e-9
"""Share of a matrix below which a number in it is rounding error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WithinBlocks:
    """What the layout of two groups over blocks tells before any value is known.

    Parameters
    ----------
    weights : ndarray, shape (n,)
        Weight of each run in the difference, subject first [-].
    blocks : ndarray of int, shape (n,)
        Number of each run's block, from 0.
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
    blocks: NDArray[np.intp]
    n_subject: int
    shares: FloatArray
    expected: FloatArray
    dfs: tuple[float, float]
    link: float

    def left_over(self, values: FloatArray) -> FloatArray:
        """Take groups and blocks out of values.

        Parameters
        ----------
        values : ndarray, shape (..., n)
            Values in the order of the layout [any one unit].

        Returns
        -------
        ndarray, shape (..., n)
            What is left of them [the same unit].

        References
        ----------
        Own derivation: residuals of least squares on groups and blocks.

        Examples
        --------
        >>> within_blocks("abc", "abc").left_over(np.array([1.0, 2.0, 4.0, 1.0, 2.0, 3.0])).round(3).tolist()
        [-0.167, -0.167, 0.333, 0.167, 0.167, -0.333]
        """
        sizes = np.bincount(self.blocks)
        within = np.asarray(values - (_sums(values, self.blocks, sizes.size) / sizes)[..., self.blocks])
        # The weights are what of the group is not the block, over its own square.
        return np.asarray(
            within
            - np.multiply.outer(within @ self.weights, self.weights) / float(self.weights @ self.weights)
        )


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
    first = len(subject_blocks)
    own = np.arange(len(labels)) < first
    cells = _cells(labels, own)
    if cells is None:
        return None
    shares = (
        np.array([float(np.sum(cells.counts[g] * cells.contrast[g] ** 2)) for g in (0, 1)]) / cells.size**2
    )
    expected = cells.squares()
    taken = np.linalg.pinv(expected, rcond=NOTHING) @ shares
    if not np.allclose(expected @ taken, shares, rtol=1e-6, atol=0.0):
        return None
    cross = cells.squares_between(taken)
    dfs = tuple(float(shares[i] ** 2 / cross[i][i]) for i in (0, 1))
    link = float(cross[0][1]) / float(shares[0] * shares[1])
    return WithinBlocks(
        weights=cells.weights(own),
        blocks=cells.blocks,
        n_subject=first,
        shares=shares,
        expected=expected,
        dfs=(dfs[0], dfs[1]),
        link=link,
    )


def within_blocks_t(
    layout: WithinBlocks, subject: FloatArray, reference: FloatArray, confidence: float, step: float = 0.0
) -> Contrast | None:
    """Compare two groups within blocks, each with its own spread, guarded as without blocks.

    The critical value is that of :func:`pinscar.stats.two_groups.guarded_critical`. It assumes normal
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
    As :func:`within_blocks`; rounding: :mod:`pinscar.stats.estimates`.

    Examples
    --------
    >>> from pinscar.stats.two_groups import paired_t
    >>> a, b = np.array([1.3, 2.6, 3.4]), np.array([1.0, 2.1, 3.2])
    >>> ours, theirs = within_blocks_t(within_blocks("xyz", "xyz"), a, b, 0.95), paired_t(a, b)
    >>> bool(abs(ours.low - theirs.low) < 1e-9), bool(abs(ours.p - theirs.p) < 1e-9)
    (True, True)
    """
    values = np.concatenate([subject, reference])
    difference = float(layout.weights @ values)
    left = layout.left_over(values)
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


MOST_UNLIKE = 3.0
"""How many times one spread may be the other for :func:`one_spread_student` to hold."""
TRIED = np.logspace(-np.log10(MOST_UNLIKE), np.log10(MOST_UNLIKE), 17)


def one_spread_student(
    subject_blocks: Sequence[object], reference_blocks: Sequence[object], confidence: float
) -> tuple[float, float] | None:
    r"""Give the critical value of a difference within blocks over an error that takes one spread for both.

    With standard deviations :math:`\sigma_1 = \rho \sigma_2` the variance of the difference is
    :math:`\phi(\rho)` times what the pooled residuals let expect, and their sum of squares has
    :math:`\nu(\rho)` degrees of freedom (Satterthwaite). The value is the largest
    :math:`\sqrt{\phi}\, t(\nu)` for spreads up to three times each other.

    Parameters
    ----------
    subject_blocks, reference_blocks : sequence
        Block of each run.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    critical, df : float, or None
        The value [-] and the degrees of freedom of the pooled residuals; None where nothing is shared.

    References
    ----------
    Satterthwaite, Biometrics Bulletin 2 (1946) 110-114; Box, "Some theorems on quadratic forms", Ann. Math.
    Statist. 25 (1954) 290-302, for what unlike variances do to a t test.

    Examples
    --------
    >>> critical, df = one_spread_student("abc", "abc", 0.95)
    >>> round(critical, 3), round(df, 6)
    (4.303, 2.0)
    >>> [round(number, 2) for number in one_spread_student("aabbcc", "aabbcc", 0.95)]
    [2.51, 8.0]
    """
    labels = [str(label) for label in (*subject_blocks, *reference_blocks)]
    own = np.arange(len(labels)) < len(subject_blocks)
    cells = _cells(labels, own)
    if cells is None:
        return None
    df = float(len(labels) - cells.counts.shape[1] - 1)
    if df < 1.0 - NOTHING:
        return None
    squared, traces = cells.squares(), cells.traces()
    shares = (
        np.array([float(np.sum(cells.counts[g] * cells.contrast[g] ** 2)) for g in (0, 1)]) / cells.size**2
    )
    variances = np.stack([TRIED**2, np.ones_like(TRIED)], axis=1)
    held = variances @ traces
    unlike = (variances @ shares) / (held * float(shares.sum()) / df)
    freedom = held**2 / np.einsum("ki,ij,kj->k", variances, squared, variances)
    return float(np.max(np.sqrt(unlike) * -stdtrit(freedom, (1.0 - confidence) / 2.0))), df


def _sums(values: FloatArray, blocks: NDArray[np.intp], count: int) -> FloatArray:
    """Sum values, shape (..., n), by block."""
    rows = np.reshape(values, (-1, values.shape[-1]))
    sums = np.array([np.bincount(blocks, row, count) for row in rows])
    return np.reshape(sums, (*values.shape[:-1], count))


@dataclass(frozen=True, slots=True)
class _Cells:
    """Two groups by block: what takes groups and blocks out, M = I - K, has one number for two cells.

    With N runs in a block and the contrast c of a cell, :math:`K_{cd} = [same block] / N + c_c c_d / s`, so
    that sums over pairs of runs are sums over blocks: no matrix of runs by runs is formed.
    """

    blocks: NDArray[np.intp]
    counts: FloatArray
    contrast: FloatArray
    size: float

    def weights(self, own: NDArray[np.bool_]) -> FloatArray:
        """Give the weight of each run in the difference."""
        return np.asarray(
            np.where(own, self.contrast[0, self.blocks], self.contrast[1, self.blocks]) / self.size,
            dtype=np.float64,
        )

    def traces(self) -> FloatArray:
        """Sum the diagonal of M over each group."""
        kept = 1.0 - 1.0 / self.counts.sum(axis=0) - self.contrast**2 / self.size
        return np.asarray(np.sum(self.counts * kept, axis=1), dtype=np.float64)

    def squares(self) -> FloatArray:
        """Sum the squares of M over the runs of either group."""
        n, c, share = self.counts, self.contrast, 1.0 / self.counts.sum(axis=0)
        found = np.empty((2, 2))
        for g in (0, 1):
            for h in (0, 1):
                near = np.sum(n[g] * n[h] * share * (share + 2.0 * c[g] * c[h] / self.size))
                found[g, h] = near + np.sum(n[g] * c[g] ** 2) * np.sum(n[h] * c[h] ** 2) / self.size**2
        return found + np.diag(self.traces() - np.sum(n * (share + c**2 / self.size), axis=1))

    def squares_between(self, taken: FloatArray) -> FloatArray:
        """Sum the squares of MDM over the runs of either group, D a number of each group on the diagonal."""
        n, c, s = self.counts, self.contrast, self.size
        runs = n.sum(axis=0)
        mean = taken @ n / runs**2
        e = (taken[:, None] * n * c).sum(axis=0) / runs / s
        middle = float(np.sum(taken[:, None] * n * c**2)) / s**2
        found = np.empty((2, 2))
        for g in (0, 1):
            for h in (0, 1):
                both = taken[g] + taken[h]
                near, far = mean - both / runs, middle - both / s
                beside = far * c[g] * c[h] + e * (c[g] + c[h])
                along = far * c[h] + e
                found[g, h] = (
                    np.sum(n[g] * n[h] * near * (near + 2.0 * beside))
                    + np.sum(n[g] * c[g] ** 2) * np.sum(n[h] * along**2)
                    + 2.0 * np.sum(n[g] * c[g] * e) * np.sum(n[h] * along * c[h])
                    + np.sum(n[g] * e**2) * np.sum(n[h] * c[h] ** 2)
                )
                if g == h:
                    found[g, g] += np.sum(n[g] * taken[g] * (taken[g] + 2.0 * (near + beside)))
        return found


def _cells(labels: Sequence[str], own: NDArray[np.bool_]) -> _Cells | None:
    """Sort two groups into blocks; None where no block tells them apart."""
    places: dict[str, int] = {}
    blocks = np.array([places.setdefault(label, len(places)) for label in labels], dtype=np.intp)
    ours = np.bincount(blocks[own], minlength=len(places)).astype(np.float64)
    others = np.bincount(blocks[~own], minlength=len(places)).astype(np.float64)
    share = ours / (ours + others)
    size = float(np.sum(ours * others / (ours + others)))
    if size < NOTHING:
        return None
    return _Cells(blocks, np.stack([ours, others]), np.stack([1.0 - share, -share]), size)

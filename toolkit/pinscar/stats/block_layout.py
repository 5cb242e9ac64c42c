"""How runs lie in blocks: labels as columns, and whether blocks and groups can be told apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.estimates import finite_vector

FloatArray = NDArray[np.float64]


BLANK = ("", "nan", "none", "nat", "<na>")


def indicator_columns(labels: Sequence[object]) -> FloatArray:
    """Turn labels into one column of zeros and ones for each distinct label.

    Parameters
    ----------
    labels : sequence, length n
        One label per run.

    Returns
    -------
    ndarray, shape (n, k)
        Columns in the order in which the labels first appear.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> indicator_columns(["mon", "tue", "mon"])
    array([[1., 0.],
           [0., 1.],
           [1., 0.]])
    """
    codes, count = _codes(labels)
    return np.asarray(codes[:, None] == np.arange(count), dtype=np.float64)


def _codes(labels: Sequence[object]) -> tuple[NDArray[np.intp], int]:
    """Give each label its number in the order in which they first appear, and their count."""
    places: dict[object, int] = {}
    codes = [places.setdefault(label, len(places)) for label in labels]
    return np.array(codes, dtype=np.intp), len(places)


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


def blocks_separable(design: FloatArray, blocks: Sequence[object]) -> bool:
    """Whether the data can tell the spread between blocks from the spread within them.

    They cannot where each block holds one run, where there is one block, or where the blocks are confounded
    with the columns of the design, such as one day for each lubricant.

    Parameters
    ----------
    design : ndarray, shape (n, k)
        Design matrix of full column rank [-].
    blocks : sequence, length n
        Label of each run's block.

    Returns
    -------
    bool
        True where both variances can be estimated.

    References
    ----------
    Own derivation: the expected REML information of the two variances is regular.

    Examples
    --------
    >>> blocks_separable(np.ones((4, 1)), ["mon", "mon", "tue", "tue"])
    True
    >>> blocks_separable(indicator_columns(["A", "A", "B", "B"]), ["mon", "mon", "tue", "tue"])
    False
    """
    n, k = design.shape
    if n <= k:
        return False
    codes, count = _codes(blocks)
    runs = np.bincount(codes, minlength=count).astype(np.float64)
    left, spread, _ = np.linalg.svd(design, full_matrices=False)
    sums = _sums(left[:, spread > 1e-15 * spread.max()], codes, count)
    # Z'RZ = N - BB' with R what is left beyond the design and B the sums of its orthonormal columns by block:
    # its trace and the trace of its square, without a matrix of blocks by blocks.
    block = float(runs.sum() - np.sum(sums**2))
    both = float(np.sum(runs**2) - 2 * np.sum(runs[:, None] * sums**2) + np.sum((sums.T @ sums) ** 2))
    residual = float(n - k)
    return bool(both * residual - block**2 > 1e-9 * both * residual and block > 1e-9)


def _stacked(
    groups: Mapping[str, ArrayLike], blocks: Mapping[str, Sequence[object]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[object]]:
    vectors = {name: finite_vector(values, name) for name, values in groups.items()}
    for name, vector in vectors.items():
        if len(blocks.get(name, ())) != vector.size:
            raise ValueError(f"blocks must have one label per value of {name!r} ({vector.size})")
    names = [name for name, vector in vectors.items() for _ in range(vector.size)]
    labels = [label for name in vectors for label in blocks[name]]
    return indicator_columns(names), np.concatenate(list(vectors.values())), labels


def _sums(values: FloatArray, codes: NDArray[np.intp], count: int) -> FloatArray:
    """Sum columns (n, k) by block, to (count, k)."""
    found = np.empty((count, values.shape[1]))
    for j, column in enumerate(values.T):
        found[:, j] = np.bincount(codes, column, count)
    return found

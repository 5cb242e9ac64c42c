"""Words of the trade for the film-to-roughness ratio lambda."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.contact.arrays import as_floats

REGIMES: tuple[tuple[float, str], ...] = ((0.0, "boundary"), (1.0, "mixed"), (3.0, "full film"))
"""Each regime with the lambda at which it begins [-] (common practice)."""

NO_LAMBDA = "not computed"


def lubrication_regime(lambda_ratio: ArrayLike) -> NDArray[np.str_]:
    """Name the lubrication regime.

    Boundary under 1: the surfaces carry the load on their peaks. Mixed from 1 to under 3: peaks and oil
    share it. Full film from 3: the peaks stand clear. The limits are common practice; sources put the upper
    one between 3 and 5, and none of them is sharp, since the film formulas are for smooth surfaces.

    Parameters
    ----------
    lambda_ratio : array_like
        Minimum film thickness over composite roughness [-], any shape.

    Returns
    -------
    ndarray of str
        ``boundary``, ``mixed``, ``full film``, or ``not computed`` where lambda is missing.

    Raises
    ------
    ValueError
        If a lambda is negative.

    References
    ----------
    Common practice; T. E. Tallian, On competing failure modes in rolling contact, ASLE Transactions 10,
    1967, 418-439; B. J. Hamrock, S. R. Schmid and B. O. Jacobson, Fundamentals of Fluid Film Lubrication,
    2004, ch. 1 (which lets partial lubrication reach to 5); both from memory.

    Examples
    --------
    >>> lubrication_regime([0.42, 1.0, 3.5, float("nan")]).tolist()
    ['boundary', 'mixed', 'full film', 'not computed']
    """
    ratio = as_floats(lambda_ratio)
    if np.any(ratio < 0):
        raise ValueError(f"lambda_ratio must not be negative, found {np.nanmin(ratio):g}")
    words = np.asarray([word for _, word in REGIMES])
    starts = [start for start, _ in REGIMES]
    # Missing values sort after every start, so they are named last and by themselves.
    index = np.clip(np.searchsorted(starts, ratio, side="right") - 1, 0, len(starts) - 1)
    return np.asarray(np.where(np.isnan(ratio), NO_LAMBDA, words[index]), dtype=np.str_)

"""The largest complete layout of readers x scars x repeats in a list of readings."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class ReadingLayout:
    """Readings in a complete crossed layout.

    Parameters
    ----------
    readers, scars : tuple of str
        Names along the first two axes.
    values : ndarray
        Readings, shape (readers, scars, repeats).
    left_out : tuple of str
        One plain sentence for each thing that had to stay out.
    """

    readers: tuple[str, ...]
    scars: tuple[str, ...]
    values: NDArray[np.float64]
    left_out: tuple[str, ...]


def reading_layout(readers: ArrayLike, scars: ArrayLike, values: ArrayLike) -> ReadingLayout:
    """Arrange readings as readers x scars x repeats, leaving out what does not fit, with a word about it.

    Every scar that not all readers have read stays out, then every repeat beyond the least number that any
    reader made of any scar; the first ones are kept, in the order of the list.

    Parameters
    ----------
    readers : array_like of str
        Reader of each reading, shape (n,).
    scars : array_like of str
        Scar (run) of each reading, shape (n,).
    values : array_like
        The readings [any one unit], shape (n,); NaN is a reading that was not made.

    Returns
    -------
    ReadingLayout
        Names, readings and what was left out.

    Raises
    ------
    ValueError
        Where the lengths differ, or no two readers have two scars in common.

    References
    ----------
    Own derivation: the crossed analysis of variance needs equal cells.

    Examples
    --------
    >>> layout = reading_layout(["A", "A", "B", "B", "A"], ["1", "2", "1", "2", "3"], [1, 2, 3, 4, 5])
    >>> layout.values.shape, layout.left_out
    ((2, 2, 1), ('Scar 3 was not read by B.',))
    """
    who, what, x = np.asarray(readers, str), np.asarray(scars, str), np.asarray(values, np.float64)
    if not who.shape == what.shape == x.shape or x.ndim != 1:
        raise ValueError("readers, scars and values must be rows of equal length")
    who, what, x = who[np.isfinite(x)], what[np.isfinite(x)], x[np.isfinite(x)]
    names, all_scars = tuple(dict.fromkeys(who.tolist())), tuple(dict.fromkeys(what.tolist()))
    counts = Counter(zip(who.tolist(), what.tolist(), strict=True))
    left_out = []
    kept = []
    for scar in all_scars:
        missing = [name for name in names if not counts[name, scar]]
        kept += [] if missing else [scar]
        left_out += [f"Scar {scar} was not read by {' or '.join(missing)}."] if missing else []
    if len(names) < 2 or len(kept) < 2:
        raise ValueError(f"{len(names)} readers with {len(kept)} scars that all have read: needs two of each")
    repeats = min(counts[name, scar] for name in names for scar in kept)
    surplus = sum(counts[name, scar] - repeats for name in names for scar in kept)
    if surplus:
        left_out.append(f"{surplus} readings beyond the first {repeats} of a reader on a scar stay out.")
    cube = [[x[(who == name) & (what == scar)][:repeats] for scar in kept] for name in names]
    return ReadingLayout(names, tuple(kept), np.array(cube, dtype=np.float64), tuple(left_out))

"""Where a level changes: a recording cut into stretches of one level each."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import ruptures
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_BLOCK = 3
_SHORTEST = 4
_LEAST_SCATTER = 0.2
_PENALTY = 4.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one level.

    Parameters
    ----------
    start, stop : int
        First frame, and the frame after the last.
    level : float
        Median of its levels [dB].
    """

    start: int
    stop: int
    level: float


def stretches(level: ArrayLike) -> list[Stretch]:
    """Cut a level against time where its mean changes.

    Medians of three frames each (which knocks and voices hardly move) are cut so that the squared deviations
    from the mean of each stretch, plus ``4 s^2 ln n`` for every cut, are least. s is the scatter of one
    median, from the median absolute difference of neighbours.

    Parameters
    ----------
    level : array_like
        Level of each frame [dB].

    Returns
    -------
    list of Stretch
        In order; one where nothing changes, none where there are fewer than three frames.

    References
    ----------
    Killick, Fearnhead and Eckley, "Optimal detection of changepoints with a linear computational cost",
    J. Am. Stat. Assoc. 107, 2012 (pruned exact search); the library ruptures carries it out. Penalty: own
    choice, above the ``2 s^2 ln n`` of Yao, Stat. Probab. Lett. 6, 1988.

    Examples
    --------
    >>> [(one.start, one.stop, round(one.level)) for one in stretches([6.0] * 90 + [0.0] * 60)]
    [(0, 90, 6), (90, 150, 0)]
    """
    values = np.asarray(level, dtype=np.float64)
    count = values.size // _BLOCK
    if count == 0:
        return []
    blocks = np.median(values[: count * _BLOCK].reshape(count, _BLOCK), axis=1)
    cuts = [0, *(_BLOCK * int(cut) for cut in _cuts(blocks)[:-1]), values.size]
    return [Stretch(start, stop, float(np.median(values[start:stop]))) for start, stop in pairwise(cuts)]


def _cuts(blocks: FloatArray) -> list[int]:
    if blocks.size < 2 * _SHORTEST:
        return [blocks.size]
    # Of normal values, the median absolute difference of neighbours is 0.6745 sqrt(2) standard deviations.
    scatter = max(float(np.median(np.abs(np.diff(blocks)))) / (0.6745 * np.sqrt(2.0)), _LEAST_SCATTER)
    search = ruptures.KernelCPD(kernel="linear", min_size=_SHORTEST).fit(blocks.reshape(-1, 1))
    return [int(cut) for cut in search.predict(pen=_PENALTY * scatter**2 * np.log(blocks.size))]

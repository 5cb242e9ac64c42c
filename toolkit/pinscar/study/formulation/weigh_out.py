"""What to put on the balance for a batch of a blend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
COARSE = 0.01
"""Resolution over mass from which a weigh-out is coarse [1]."""


@dataclass(frozen=True, slots=True)
class WeighOut:
    """The masses of one batch.

    Attributes
    ----------
    names : tuple of str
        Components.
    masses : tuple of float
        What to weigh [kg], in whole steps of the balance.
    shares : tuple of float
        What they give [1].
    coarse : tuple of str
        Components whose mass is so small that one step of the balance is over a hundredth of it.
    """

    names: tuple[str, ...]
    masses: tuple[float, ...]
    shares: tuple[float, ...]
    coarse: tuple[str, ...]


def weigh_out(names: Sequence[str], shares: FloatArray, batch: float, resolution: float) -> WeighOut:
    """Turn shares into masses that the balance can show.

    Every component is rounded to the balance's step; the largest one takes what is left of the batch.
    """
    if not 0.0 < resolution <= batch / 100.0:
        raise ValueError("the batch must be at least a hundred steps of the balance")
    steps = np.rint(np.asarray(shares) * batch / resolution)
    largest = int(np.argmax(shares))
    steps[largest] = np.rint(batch / resolution) - (steps.sum() - steps[largest])
    total = float(steps.sum())
    coarse = [
        name
        for name, share, step in zip(names, shares, steps, strict=True)
        if share > 0.0 and step * COARSE < 1.0
    ]
    return WeighOut(
        tuple(names),
        tuple(float(step) * resolution for step in steps),
        tuple(float(step) / total for step in steps),
        tuple(coarse),
    )


def percent(share: float) -> str:
    """Write a share in percent, without the sign.

    Examples
    --------
    >>> percent(0.015), percent(0.0)
    ('1.5', '0')
    """
    text = f"{100.0 * share:.4f}".rstrip("0").rstrip(".")
    return text or "0"

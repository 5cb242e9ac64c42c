"""What a plan is to achieve."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a plan is to achieve.

    Attributes
    ----------
    ratio : float
        Ratio to the reference that is to be shown.
    power : float
        Wanted chance of showing it.
    confidence : float
        Confidence of the comparison [1].
    response : str
        What will be compared.
    lubricants : tuple of str
        The oils, the reference first.
    loads : tuple of float
        Loads [N].
    days : int
        Days that the runs are spread over.
    seed : int
        Seed of the order and of the simulations.
    """

    ratio: float
    power: float
    confidence: float
    response: str
    lubricants: tuple[str, ...]
    loads: tuple[float, ...]
    days: int
    seed: int

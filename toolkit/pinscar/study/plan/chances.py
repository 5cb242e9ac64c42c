"""What a plan is to achieve, and its chance to show its ratio, by the very test that will judge it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from pinscar.stats.block_power import pooled_power_within_blocks, power_within_blocks
from pinscar.stats.power import (
    RepeatsPlan,
    Spread,
    detectable_ratio,
    family_alpha,
    ratio_power,
    repeats_for_ratio,
)
from pinscar.stats.run_order import PlannedRun, randomised_run_order


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


DAY = "run_day"
"""The block whose layout a plan knows: its own days."""
WITHIN_DAYS = "{test} within days on logarithms, level {level:.3g}, with the runs on the days of this plan"


def order_of(wanted: Wanted, n: int) -> tuple[PlannedRun, ...]:
    """Draw the order of the runs."""
    treatments = [_treatment(oil, load) for oil in wanted.lubricants for load in wanted.loads]
    total = n * len(treatments)
    return randomised_run_order(treatments, n, math.ceil(total / wanted.days), wanted.seed)


def _treatment(oil: str, load: float) -> str:
    return f"{oil} at {load!r}"


@lru_cache(maxsize=256)
def _days(wanted: Wanted, n: int) -> tuple[tuple[int, ...], ...]:
    """Days of each oil's runs at the first load, the reference first."""
    order = order_of(wanted, n)
    names = [_treatment(oil, wanted.loads[0]) for oil in wanted.lubricants]
    return tuple(tuple(run.block for run in order if run.treatment == name) for name in names)


def power_at(wanted: Wanted, own: Spread, in_days: bool, n: int, ratio: float, log_sd: float) -> float:
    """Give the chance that n repeats show a ratio; of several oils the one that the days serve worst."""
    alpha, m = 1.0 - wanted.confidence, len(wanted.lubricants) - 1
    if not in_days:
        return float(ratio_power(n, ratio, log_sd, alpha, comparisons=m, spread=own))
    reference, *candidates = _days(wanted, n)
    level, effect = family_alpha(alpha, m), abs(math.log(ratio)) / log_sd
    if own == "own":
        return min(power_within_blocks(one, reference, effect, level, seed=wanted.seed) for one in candidates)
    runs = n * len(wanted.lubricants)
    df = float(runs - len({day for one in _days(wanted, n) for day in one}) - m)
    return min(pooled_power_within_blocks(one, reference, effect, df, level) for one in candidates)


def needed_for(wanted: Wanted, own: Spread, in_days: bool, log_sd: float, most: int) -> RepeatsPlan:
    """Find the fewest repeats with the wanted chance."""
    alpha, m = 1.0 - wanted.confidence, len(wanted.lubricants) - 1
    plain = repeats_for_ratio(wanted.ratio, log_sd, wanted.power, alpha, comparisons=m, most=most, spread=own)
    if not in_days:
        return plain
    level = family_alpha(alpha, m)
    test = "Welch's t test" if own == "own" else "t test"
    method = WITHIN_DAYS.format(test=test, level=level)
    if m > 1:
        method += f"; level adjusted for {m} comparisons (Šidák)"

    def reached(n: int) -> float:
        return power_at(wanted, own, in_days, n, wanted.ratio, log_sd)

    n = plain.repeats or most
    while n <= most and reached(n) < wanted.power:
        n += 1
    if n > most:
        return replace(plain, repeats=None, power=None, method=method)
    while n > 2 and reached(n - 1) >= wanted.power:
        n -= 1
    return replace(plain, repeats=n, power=reached(n), method=method)


def detectable_at(wanted: Wanted, own: Spread, in_days: bool, n: int, log_sd: float) -> float | None:
    """Give the ratio above one that n repeats show with the wanted chance; None where they show none."""
    alpha, m = 1.0 - wanted.confidence, len(wanted.lubricants) - 1
    if not in_days:
        return detectable_ratio(n, log_sd, wanted.power, alpha, comparisons=m, spread=own)

    def lacking(effect: float) -> float:
        return power_at(wanted, own, in_days, n, math.exp(effect * log_sd), log_sd) - wanted.power

    high = 1.0
    while lacking(high) < 0.0:
        high *= 2.0
        if high > 600.0:  # the days leave nothing to judge by
            return None
    return math.exp(float(brentq(lacking, 0.0, high, xtol=1e-6)) * log_sd)


def powers_at(
    wanted: Wanted, own: Spread, in_days: bool, numbers: NDArray[np.int_], log_sd: float
) -> NDArray[np.float64]:
    """Give the chance of several numbers of repeats."""
    return np.array([power_at(wanted, own, in_days, int(n), wanted.ratio, log_sd) for n in numbers])

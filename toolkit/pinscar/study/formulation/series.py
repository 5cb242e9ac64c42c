"""Dose series: blends in which one additive changes and the others stay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.batch_model import campaign_shifts
from pinscar.stats.censored import left_censored_median
from pinscar.stats.dose import DoseFit, LeastDose, curve_band, dose_runs, fit_dose_forms, least_dose
from pinscar.stats.dose_likelihood import (
    FEWEST_CAMPAIGNS,
    DoseRuns,
    campaign_heights,
    maximise,
    restricted_curve,
)
from pinscar.stats.estimates import Estimate
from pinscar.study.formulation.blends import Blends, StudyRuns

FloatArray = NDArray[np.float64]
LEVELS = 3
BAND = 9
CENSORED_BAND = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One batch of a series.

    Attributes
    ----------
    name : str
        The batch.
    campaign : str
        Its campaign.
    dose : float
        Its share of the additive [%].
    values : tuple of float
        Value of each run, shifted to the mean of the campaigns [the response's unit].
    left_censored : tuple of bool
        Whether each is a bound.
    median : Estimate
        Its median with interval, from its own runs alone.
    """

    name: str
    campaign: str
    dose: float
    values: tuple[float, ...]
    left_censored: tuple[bool, ...]
    median: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A dose series of one additive.

    Attributes
    ----------
    additive : str
        The additive.
    beside : tuple of (str, float)
        Share of each other component that stays, but for the balance [%].
    dots : tuple of Dot
        Its batches, by dose.
    fits : tuple of DoseFit
        Forms fitted, the likeliest first; empty where none could be.
    not_fitted : tuple of str
        A clause for each form that was not.
    least : tuple of LeastDose
        The least dose by each form, in the order of the fits; empty without a limit.
    band : tuple
        Doses with low and high end of the median by the first form [the response's unit]; those that are open
        are left out.
    reason : str
        Why there are no fits; blank where there are.
    batches, runs, censored : int
        Counts.
    campaigns : int
        Campaigns that hold runs of the series.
    """

    additive: str
    beside: tuple[tuple[str, float], ...]
    dots: tuple[Dot, ...]
    fits: tuple[DoseFit, ...]
    not_fitted: tuple[str, ...]
    least: tuple[LeastDose, ...]
    band: tuple[tuple[float, float, float], ...]
    reason: str
    batches: int
    runs: int
    censored: int
    campaigns: int

    @property
    def joined(self) -> Literal["", "fixed", "random"]:
        """How campaigns enter the likelihood; blank for a single one."""
        if self.campaigns < 2:
            return ""
        return "random" if self.campaigns >= FEWEST_CAMPAIGNS else "fixed"

    @property
    def doses(self) -> tuple[float, ...]:
        """The doses, each once [%]."""
        return tuple(sorted({dot.dose for dot in self.dots}))


def find_series(blends: Blends, present: Sequence[int]) -> list[tuple[int, list[int]]]:
    """Find the series: an additive at three or more levels while all others but the balance stay."""
    found = []
    shares = np.round(blends.shares, 6)
    for additive in range(1, len(blends.components)):
        others = [i for i in range(1, len(blends.components)) if i != additive]
        groups: dict[tuple[float, ...], list[int]] = {}
        for place in present:
            groups.setdefault(tuple(shares[place, others]), []).append(int(place))
        best = max(groups.values(), key=partial(levels_of, shares, additive), default=[])
        if best and levels_of(shares, additive, best)[0] >= LEVELS:
            found.append((additive, best))
    return sorted(found, key=lambda one: levels_of(shares, *one), reverse=True)


def levels_of(shares: FloatArray, additive: int, group: Sequence[int]) -> tuple[int, int]:
    """Count the doses of a series, and its batches."""
    return len(set(shares[list(group), additive])), len(group)


def study_series(
    runs: StudyRuns,
    blends: Blends,
    additive: int,
    members: Sequence[int],
    limit: float | None,
    side: Literal["at least", "at most"],
    confidence: float,
) -> Series:
    """Fit the forms to a series and find the least dose that meets a limit.

    Three campaigns or more are a random effect. The scatter of two can't be told from one difference, so
    their shift is a column of the mean, and a batch that ran in both counts once in each. The runs of all
    other batches that were in two campaigns, such as the reference oil, help to tell the heights.
    """
    units = _units(runs, members)
    data, shifts, reason = _data(runs, blends, additive, members, units)
    dots = _dots(runs, blends, additive, members, shifts, confidence)
    beside = tuple(
        (name, 100.0 * float(blends.shares[members[0], i]))
        for i, name in enumerate(blends.components)
        if i not in (0, additive)
    )
    campaigns = len(_inside(runs, members))
    counts = {
        "batches": len({dot.name for dot in dots}) if campaigns >= FEWEST_CAMPAIGNS else len(dots),
        "runs": sum(len(dot.values) for dot in dots),
        "censored": sum(sum(dot.left_censored) for dot in dots),
        "campaigns": campaigns,
    }
    name = blends.components[additive]
    if data is None:
        return Series(
            additive=name,
            beside=beside,
            dots=dots,
            fits=(),
            not_fitted=(),
            least=(),
            band=(),
            reason=reason,
            **counts,
        )
    fits, not_fitted = fit_dose_forms(data)
    least = tuple(least_dose(data, fit, limit, side, confidence) for fit in fits) if limit else ()
    places = np.linspace(data.levels[0], data.levels[-1], BAND if data.is_complete else CENSORED_BAND)
    ends = curve_band(data, fits[0], places, confidence)
    band = tuple(
        (float(place), float(np.exp(one[0])), float(np.exp(one[1])))
        for place, one in zip(places, ends, strict=True)
        if one is not None
    )
    return Series(
        additive=name,
        beside=beside,
        dots=dots,
        fits=fits,
        not_fitted=not_fitted,
        least=least,
        band=band,
        reason="",
        **counts,
    )


def _inside(runs: StudyRuns, members: Sequence[int]) -> list[int]:
    """Give the campaigns that hold runs of the series."""
    return sorted({int(c) for b, c in zip(runs.batches, runs.campaigns, strict=True) if b in members})


def _units(runs: StudyRuns, members: Sequence[int]) -> list[tuple[int, int]]:
    """Give the batches in each campaign: those of the series, and others that join two of its campaigns."""
    inside = _inside(runs, members)
    units = {(int(b), int(c)) for b, c in zip(runs.batches, runs.campaigns, strict=True) if int(c) in inside}
    if len(inside) < 2:
        return sorted(unit for unit in units if unit[0] in members)
    joining = {b for b, _ in units if sum(one == b for one, _ in units) > 1}
    return sorted(unit for unit in units if unit[0] in members or unit[0] in joining)


def _data(
    runs: StudyRuns, blends: Blends, additive: int, members: Sequence[int], units: Sequence[tuple[int, int]]
) -> tuple[DoseRuns | None, FloatArray, str]:
    numbers = {unit: i for i, unit in enumerate(units)}
    keys = list(zip(runs.batches.tolist(), runs.campaigns.tolist(), strict=True))
    rows = np.array([key in numbers for key in keys])
    number = np.array([numbers[key] for key in keys if key in numbers])
    none = np.zeros(len(runs.names))
    member = np.array([unit[0] in members for unit in units])
    doses = np.array([100.0 * blends.shares[unit[0], additive] if unit[0] >= 0 else 0.0 for unit in units])
    inside = member[number]
    try:  # what the series alone does not allow
        dose_runs(
            runs.values[rows][inside], runs.left_censored[rows][inside], doses[number][inside],
            [str(one) for one in number[inside]],
        )  # fmt: skip
    except ValueError as failure:
        return None, none, str(failure)
    campaigns = sorted({unit[1] for unit in units})
    if len(campaigns) >= FEWEST_CAMPAIGNS:
        return _with_random_campaigns(runs, blends, additive, members, units)
    code = campaign_shifts(np.array([campaigns.index(unit[1]) for unit in units]))
    others = sorted({unit[0] for unit, own in zip(units, member, strict=True) if not own})
    own_means = np.array([[unit[0] == other for other in others] for unit in units], dtype=np.float64)
    beside = np.column_stack([code, own_means.reshape(len(units), len(others))])
    data = DoseRuns(
        logs=np.log(runs.values[rows]),
        left_censored=runs.left_censored[rows],
        doses=doses,
        batches=number,
        beside=beside if beside.size else None,
        member=member,
    )
    shifts = none
    if code.shape[1]:
        shifts = none.copy()
        # by the straight form, to draw the runs at one height
        found = maximise(data, "straight").coefficients[2 : 2 + code.shape[1]]
        shifts[campaigns] = np.append(found, -found.sum())
    return data, shifts, ""


def _with_random_campaigns(
    runs: StudyRuns, blends: Blends, additive: int, members: Sequence[int], units: Sequence[tuple[int, int]]
) -> tuple[DoseRuns, FloatArray, str]:
    batches = sorted({unit[0] for unit in units})
    campaigns = sorted({unit[1] for unit in units})
    keys = list(zip(runs.batches.tolist(), runs.campaigns.tolist(), strict=True))
    rows = np.array([key in set(units) for key in keys])
    member = np.array([one in members for one in batches])
    others = [one for one, own in zip(batches, member, strict=True) if not own]
    own_means = np.array([[one == other for other in others] for one in batches], dtype=np.float64)
    data = DoseRuns(
        logs=np.log(runs.values[rows]),
        left_censored=runs.left_censored[rows],
        doses=np.array([100.0 * blends.shares[one, additive] if one >= 0 else 0.0 for one in batches]),
        batches=np.searchsorted(batches, runs.batches[rows]),
        beside=own_means.reshape(len(batches), len(others)) if others else None,
        member=member,
        campaigns=np.searchsorted(campaigns, runs.campaigns[rows]),
    )
    shifts = np.zeros(len(runs.names))
    shifts[campaigns] = campaign_heights(data, "straight", restricted_curve(data, "straight"))
    return data, shifts, ""


def _dots(
    runs: StudyRuns,
    blends: Blends,
    additive: int,
    members: Sequence[int],
    shifts: FloatArray,
    confidence: float,
) -> tuple[Dot, ...]:
    dots = []
    for place in members:
        for campaign, name in enumerate(runs.names):
            rows = (runs.batches == place) & (runs.campaigns == campaign)
            if not rows.any():
                continue
            values = runs.values[rows] * float(np.exp(-shifts[campaign]))
            censored = runs.left_censored[rows]
            dots.append(
                Dot(
                    name=blends.batches[place].name,
                    campaign=name,
                    dose=100.0 * float(blends.shares[place, additive]),
                    values=tuple(values.tolist()),
                    left_censored=tuple(censored.tolist()),
                    median=left_censored_median(values, censored, confidence),
                )
            )
    return tuple(sorted(dots, key=lambda dot: (dot.dose, dot.name)))

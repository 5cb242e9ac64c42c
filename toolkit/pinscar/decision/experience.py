"""The laboratory's experience: how repeats scattered in earlier campaigns, and whether it is used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pinscar.campaign.model import Campaign
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.responses import Response, available
from pinscar.decision.summaries import UNKNOWN, cells, resolution, typed_steps
from pinscar.stats.estimates import (
    LEAST_GROUPS,
    TOO_NARROW,
    TOO_WIDE,
    ScatterTest,
    VariancePrior,
    compare_scatter,
    fit_variance_prior,
    least_variance,
    tempered,
)
from pinscar.wording import counted, listing, percentage

LINEAR = (
    "the earlier scatter is one of logarithms, and these values are judged without them: differences and "
    "ratios of means rest on the present runs alone"
)
LEAST_PRESENT_DF = 4.0
"""Degrees of freedom of the present scatter below which no test can contradict the earlier one."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """How repeats scatter in the cells of some campaigns.

    Attributes
    ----------
    variances : tuple of float
        Variance of the logarithms within each oil and load.
    dfs : tuple of float
        Degrees of freedom of each.
    """

    variances: tuple[float, ...]
    dfs: tuple[float, ...]

    @property
    def df(self) -> float:
        """Degrees of freedom of all together."""
        return sum(self.dfs)

    @property
    def pooled(self) -> float:
        """Variance pooled over the cells."""
        return sum(v * d for v, d in zip(self.variances, self.dfs, strict=True)) / self.df


@dataclass(frozen=True, slots=True, kw_only=True)
class Experience:
    """What earlier campaigns tell of one response's spread.

    Attributes
    ----------
    response : str
        Name of the response.
    campaigns : tuple of str
        The earlier campaigns.
    prior : VariancePrior or None
        The prior of the variance of the logarithms; None where there is none.
    test : ScatterTest or None
        Whether the present scatter contradicts it.
    weighed : VariancePrior or None
        The prior with the weight that the present scatter leaves it; None where it is not used.
    because : str
        Why, or why not, in one plain sentence.
    """

    response: str
    campaigns: tuple[str, ...]
    prior: VariancePrior | None
    test: ScatterTest | None
    weighed: VariancePrior | None
    because: str

    @property
    def used(self) -> bool:
        """Whether the intervals rest on it."""
        return self.weighed is not None


def experience(
    campaign: Campaign, runs: pd.DataFrame, responses: Sequence[Response]
) -> tuple[Experience, ...]:
    """Collect what the campaigns named by `history` tell of each response, or why they tell nothing."""
    if not campaign.history:
        return ()
    names = tuple(one.file.campaign.id for one in campaign.history)
    earlier = [(one, evaluate_runs(one)) for one in campaign.history]
    found = []
    for response in (one for one in responses if not one.is_count):
        if response.scale != "log":
            found.append(
                Experience(
                    response=response.name,
                    campaigns=names,
                    prior=None,
                    test=None,
                    weighed=None,
                    because=LINEAR,
                )
            )
            continue
        past = [scatter(theirs, one.units, response, typed_steps(one.file.rig)) for one, theirs in earlier]
        joined = Scatter(
            tuple(v for one in past for v in one.variances), tuple(d for one in past for d in one.dfs)
        )
        present = scatter(runs, campaign.units, response, typed_steps(campaign.file.rig))
        found.append(_weigh(response, names, joined, present, campaign.file.campaign.block))
    return tuple(found)


def priors_of(found: Sequence[Experience]) -> dict[str, VariancePrior]:
    """Keep the priors that are used, by response."""
    return {one.response: one.weighed for one in found if one.weighed is not None}


def scatter(
    runs: pd.DataFrame, units: Mapping[str, str], response: Response, typed: Mapping[str, float] = UNKNOWN
) -> Scatter:
    """Give the variance of the logarithms within each oil and load that has two runs and no bound."""
    there = {one.name: one for one in available(runs, units)} if response.name in runs else {}
    if response.name not in there or there[response.name].scale != "log":
        return Scatter((), ())
    step = resolution(response, runs[runs["excluded"] == ""], units, typed)
    variances, dfs = [], []
    for cell in cells(runs, response):
        if cell.values.size < 2 or cell.censored.any():
            continue
        variance = least_variance(float(np.var(np.log(cell.values), ddof=1)), step)
        if variance > 0.0:
            variances.append(variance)
            dfs.append(cell.values.size - 1.0)
    return Scatter(tuple(variances), tuple(dfs))


def _weigh(
    response: Response, names: tuple[str, ...], past: Scatter, present: Scatter, block: str | None
) -> Experience:
    label = response.label.lower()

    def refused(because: str, prior: VariancePrior | None = None) -> Experience:
        return Experience(
            response=response.name, campaigns=names, prior=prior, test=None, weighed=None, because=because
        )

    if len(past.dfs) < LEAST_GROUPS:
        cells_found = counted(len(past.dfs), "oil and load", "oils and loads")
        return refused(
            f"{listing(names)} gave {cells_found} with repeats of {label}; it takes {LEAST_GROUPS} to know "
            "how far spreads differ"
        )
    prior = fit_variance_prior(past.variances, past.dfs)
    if block is not None:
        return refused(f"the campaign declares {block} as a block, whose model holds its own spreads", prior)
    if present.df < LEAST_PRESENT_DF:
        return refused(
            f"the present runs with a {label} that is no bound are too few to hold the earlier spread "
            f"against (it takes {LEAST_PRESENT_DF:g} degrees of freedom, such as two oils with three runs)",
            prior,
        )
    test = compare_scatter(present.pooled, present.df, prior)
    times = f"{test.f:.2g} times the variance that earlier runs let expect"
    weighed = tempered(prior, present.pooled, test)
    if weighed is None:
        side = "large" if test.p_wider < TOO_WIDE else "small"
        p, level = (test.p_wider, TOO_WIDE) if side == "large" else (test.p_narrower, TOO_NARROW)
        because = f"the present runs show {times}, too {side} for it (F test, p = {p:.2g}, under {level:g})"
        return Experience(
            response=response.name, campaigns=names, prior=prior, test=test, weighed=None, because=because
        )
    because = (
        f"the present runs show {times}, which does not contradict it (F test, p = {test.p_wider:.2g} for "
        f"more, judged at {percentage(TOO_WIDE)}, and {test.p_narrower:.2g} for less, at "
        f"{percentage(TOO_NARROW)}); it counts with {weighed.df:.1f} degrees of freedom"
    )
    return Experience(
        response=response.name, campaigns=names, prior=prior, test=test, weighed=weighed, because=because
    )

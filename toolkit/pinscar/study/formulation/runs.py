"""The runs of the blends: one response at one load over all campaigns, ready for the models."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.record import Campaign
from pinscar.decision.responses import STANDARD, Response, own_responses
from pinscar.errors import InputError, UsageError
from pinscar.problems import Problem, Severity
from pinscar.stats.mixture import BlendRuns
from pinscar.study.formulation.blends import Blends
from pinscar.study.range.study import comparable_runs
from pinscar.units import to_unit
from pinscar.wording import load_text

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int_]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRuns:
    """Runs of one response at one load.

    Attributes
    ----------
    response : Response
        What was measured.
    load_level : float
        The load [N].
    values : ndarray, shape (n,)
        Value of each run [the response's unit].
    left_censored : ndarray of bool, shape (n,)
        Whether the true value is at most that.
    batches : ndarray of int, shape (n,)
        Place of each run's batch in ``Blends.batches``; -1 for a reference oil without a composition.
    campaigns : ndarray of int, shape (n,)
        Place of each run's campaign in `names`.
    run_ids : tuple of (int, str)
        Campaign and name of each run.
    names : tuple of str
        The campaigns that have runs here.
    left_out : tuple of str
        A plain sentence for all that stayed out.
    """

    response: Response
    load_level: float
    values: FloatArray
    left_censored: BoolArray
    batches: IntArray
    campaigns: IntArray
    run_ids: tuple[tuple[int, str], ...]
    names: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def present(self) -> IntArray:
        """Places of the batches that have runs."""
        return np.unique(self.batches[self.batches >= 0])


def response_named(campaigns: Sequence[Campaign], name: str) -> Response:
    """Find a response that ratios exist of."""
    known = {r.name: r for one in campaigns for r in own_responses(one.units)} | {r.name: r for r in STANDARD}
    if name not in known:
        raise UsageError(f"no campaign has the response {name!r}; there are {', '.join(sorted(known))}")
    response = known[name]
    if response.scale != "log" or response.censored_side == "right":
        raise UsageError(f"{name} cannot be modelled by its logarithm; take film_pressure or scar_area")
    return response


def runs_of(
    campaigns: Sequence[Campaign],
    blends: Blends,
    response: Response,
    reference: str,
    load: float | None = None,
) -> StudyRuns:
    """Collect the runs of the blends that are alike over all campaigns."""
    runs, left_out = comparable_runs(campaigns, reference, response)
    place = {(one.lubricant, where): i for i, one in enumerate(blends.batches) for where in one.campaigns}
    keys = zip(runs["lubricant"], runs["campaign"], strict=True)
    runs = runs.assign(batch=[place.get((str(oil), str(where)), -1) for oil, where in keys])
    without = sorted(set(runs["lubricant"][(runs["batch"] < 0) & (runs["lubricant"] != reference)]))
    left_out = list(left_out) + [f"{oil}: it has no composition." for oil in without]
    runs = runs[(runs["batch"] >= 0) | (runs["lubricant"] == reference)]
    levels = runs[runs["batch"] >= 0]["load_level"].value_counts()
    if levels.empty:
        reasons = left_out or [f"no oil with a composition has a value of {response.label.lower()}"]
        mend = "state the composition of the oils that were run, and mend what the check says"
        raise InputError(
            [
                Problem(
                    code="formulation-no-runs",
                    severity=Severity.ERROR,
                    file="runs.csv",
                    message=one.rstrip("."),
                    mend=mend,
                )
                for one in dict.fromkeys(reasons)
            ]
        )
    chosen = float(levels.index[0]) if load is None else _nearest_level(levels.index.to_numpy(), load)
    others = [float(one) for one in levels.index if one != chosen]
    left_out += [f"Runs at {load_text(one)}: only one load is modelled at a time." for one in sorted(others)]
    return _ready(runs[runs["load_level"] == chosen], response, chosen, left_out)


def _nearest_level(levels: FloatArray, load: float) -> float:
    nearest = float(min(levels, key=lambda one: abs(one - load)))
    if abs(nearest - load) > 0.02 * load:
        raise UsageError(f"no blend was run at {load:g} N; there are {', '.join(map(load_text, levels))}")
    return nearest


def _ready(runs: pd.DataFrame, response: Response, level: float, left_out: Sequence[str]) -> StudyRuns:
    names = tuple(dict.fromkeys(str(one) for one in runs["campaign"]))
    censored = runs["left_censored"].to_numpy(dtype=bool) & (response.censored_side == "left")
    numbers = [names.index(str(one)) for one in runs["campaign"]]
    return StudyRuns(
        response=response,
        load_level=level,
        values=to_unit(runs[response.name].to_numpy(dtype=float), response.unit),
        left_censored=censored,
        batches=runs["batch"].to_numpy(dtype=np.int64),
        campaigns=np.array(numbers, dtype=np.int64),
        run_ids=tuple(zip(numbers, map(str, runs["run_id"]), strict=True)),
        names=names,
        left_out=tuple(left_out),
    )


def blend_runs(runs: StudyRuns, blends: Blends) -> tuple[BlendRuns, str]:
    """Make the runs ready for a mixture model.

    Where the reference has no composition it cannot enter the model; then its mean joins the campaigns first.
    """
    logs = np.log(runs.values)
    campaigns, said = runs.campaigns, ""
    outside = runs.batches < 0
    if len(runs.names) > 1 and outside.any():
        own = [logs[outside & (campaigns == i)] for i in range(len(runs.names))]
        joined = np.array([one.size > 0 for one in own])
        shifts = np.array([one.mean() if one.size else 0.0 for one in own])
        logs = logs - (shifts - shifts[joined].mean())[campaigns]
        outside = outside | ~joined[campaigns]
        errors = [one.var(ddof=1) / one.size for one in own if one.size > 1]
        error = 100.0 * float(np.sqrt(np.mean(errors))) if errors else float("nan")
        campaigns = np.zeros_like(campaigns)
        said = (
            "The reference has no composition, so it is in no model: its mean joins the campaigns, and the "
            f"error of that (about {error:.1f} %) is in no interval."
        )
    elif len(runs.names) > 1:
        said = "The campaigns are joined through the blends that they share, the reference among them."
    keep = ~outside
    present = runs.present
    return (
        BlendRuns(
            logs=logs[keep],
            left_censored=runs.left_censored[keep],
            batches=np.searchsorted(present, runs.batches[keep]),
            campaigns=np.unique(campaigns[keep], return_inverse=True)[1].astype(np.int64),
            shares=blends.shares[present],
            names=blends.components,
        ),
        said,
    )

"""The runs of the blends: one response at one load over all campaigns, ready for the models."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Campaign
from pinscar.decision.joined_campaigns import comparable_runs
from pinscar.decision.responses import Response
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.study.formulation.blends import Blends, StudyRuns
from pinscar.units import to_unit
from pinscar.wording import load_text

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int_]


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

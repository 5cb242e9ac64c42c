"""Summaries: one estimate with its interval for each lubricant, load level and response."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from pinscar.decision.judgements import Cell, Summary
from pinscar.decision.kept_results import kept_result
from pinscar.decision.method import Method
from pinscar.decision.resolution import resolution
from pinscar.decision.responses import Response, in_unit
from pinscar.decision.runs import by_cell
from pinscar.decision.useful_limits import useful_estimate
from pinscar.stats import censored, intervals, variance_prior
from pinscar.stats.block_layout import BLANK
from pinscar.stats.censored_blocks import median_in_blocks
from pinscar.stats.checks import Estimate, Scale
from pinscar.stats.intervals import poisson_interval
from pinscar.stats.variance_prior import VariancePrior
from pinscar.wording import significant, with_unit

ZEROS = "{zeros} read as 0 counts as a bound: below {limit}, one step of the reading"


def cells(runs: pd.DataFrame, response: Response, block: str | None = None) -> Iterator[Cell]:
    """Collect the cells of a response, in the order of load and of first appearance of the lubricant."""
    included = runs[runs["excluded"] == ""]
    bounds = _with_bounds(included, response)
    of_run = {} if block is None else dict(zip(included["run_id"], included[block].astype(str), strict=True))
    for level, lubricant, group in by_cell(bounds):
        yield Cell(
            lubricant=lubricant,
            load_level=level,
            run_ids=tuple(group["run_id"]),
            values=group["value"].to_numpy(dtype=float),
            censored=group["bound"].to_numpy(dtype=bool),
            blocks=tuple(of_run[run] for run in group["run_id"]) if of_run else (),
        )


def summarise(runs: pd.DataFrame, responses: Sequence[Response], method: Method) -> tuple[Summary, ...]:
    """Estimate every cell of every response."""
    included = runs[runs["excluded"] == ""]
    found = []
    for response in responses:
        step = resolution(response, included, method.units, method.typed_steps)
        found += [
            Summary(
                response,
                cell,
                estimate_cell(cell, response, method.confidence, step, method.priors.get(response.name)),
            )
            for cell in cells(runs, response, method.block)
        ]
    return tuple(found)


def estimate_cell(
    cell: Cell,
    response: Response,
    confidence: float,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> Estimate:
    """Estimate one cell by the method that fits its response and its censoring."""
    found = useful_estimate(_estimate_cell(cell, response, confidence, step, prior))
    if response.zero_below > 0.0 and cell.censored.any():
        limit = significant(in_unit(response, response.zero_below))
        zeros = ZEROS.format(zeros=int(cell.censored.sum()), limit=with_unit(limit, response.shown_unit))
        return replace(found, note="; ".join(part for part in (zeros, found.note) if part))
    return found


def _estimate_cell(
    cell: Cell, response: Response, confidence: float, step: float, prior: VariancePrior | None
) -> Estimate:
    if response.is_count:
        return _mean_count(cell, confidence)
    if response.censored_side is not None and in_blocks(cell):
        asked = (cell.values, cell.censored, cell.blocks, confidence, response.censored_side, step)
        return kept_result("median_in_blocks", asked, lambda: median_in_blocks(*asked))
    if response.censored_side == "left" and cell.censored.any():
        return censored.left_censored_median(cell.values, cell.censored, confidence, step)
    if response.censored_side == "right" and cell.censored.any():
        return censored.right_censored_median(cell.values, cell.censored, confidence, step)
    scale: Scale = "linear" if response.scale == "linear" else "log"
    if cell.blocks and not any(label.strip().lower() in BLANK for label in cell.blocks):
        return intervals.block_mean(cell.values, cell.blocks, confidence, scale, step)
    if scale == "linear":
        return variance_prior.mean(cell.values, confidence, step)
    return variance_prior.geometric_mean(cell.values, confidence, step, prior)


def in_blocks(cell: Cell) -> bool:
    """Whether a cell with bounds is fitted with a random effect of its blocks."""
    # One block tells nothing of the spread between blocks; with a run in each the runs are independent.
    several = 1 < len(set(cell.blocks)) < len(cell.blocks)
    seen = cell.values[~cell.censored]
    return several and bool(cell.censored.any()) and np.unique(seen).size > 1


def _mean_count(cell: Cell, confidence: float) -> Estimate:
    # Counts are small whole numbers, often zero: neither logarithms nor Student's t fit them.
    rate = poisson_interval(int(cell.values.sum()), float(cell.values.size), confidence)
    return Estimate(
        n=cell.values.size,
        n_censored=0,
        estimate=rate.estimate,
        low=rate.low,
        high=rate.high,
        confidence=confidence,
        scale="linear",
        sd=None,
        df=None,
        method="mean count per run, exact Poisson interval",
    )


def _with_bounds(included: pd.DataFrame, response: Response) -> pd.DataFrame:
    frame = included[["run_id", "lubricant", "load_level"]].copy()
    frame["value"] = included[response.name].astype(float)
    frame["bound"] = False
    if response.zero_below > 0.0:
        frame["bound"] = frame["value"] == 0.0
        frame["value"] = frame["value"].where(~frame["bound"], response.zero_below)
    elif response.name == "film_pressure":
        frame["bound"] = included["left_censored"].astype(bool)
    elif response.name == "quiet_time":
        # A run that was still rubbing at its end would have fallen quiet later than its duration.
        wearing = np.array([state is False for state in included["wear_stopped"]], dtype=bool)
        running = included["quiet_time"].isna() & wearing
        frame["bound"] = running
        frame["value"] = frame["value"].where(~running, included["duration"])
    return frame.dropna(subset=["value", "load_level"])

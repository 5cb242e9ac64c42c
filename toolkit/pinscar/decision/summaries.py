"""Summaries: one estimate with its interval for each oil, load and response, as finely as it was read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Rig
from pinscar.decision.judgements import Cell, Summary
from pinscar.decision.kept_results import kept_result
from pinscar.decision.responses import Response, in_unit
from pinscar.stats import censored, estimates, intervals
from pinscar.stats.block_layout import BLANK
from pinscar.stats.censored_blocks import median_in_blocks
from pinscar.stats.estimates import Estimate, Scale, VariancePrior
from pinscar.stats.family import Comparison
from pinscar.stats.intervals import poisson_interval
from pinscar.units import to_unit
from pinscar.wording import significant, with_unit

SCAR = MappingProxyType({"scar_length": 1.0, "scar_width": 1.0})
LENGTH = MappingProxyType({"scar_length": 4.0})
DERIVED: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "scar_area": SCAR,
        "scar_pressure": SCAR,
        "film_pressure": SCAR,
        "wear_volume": LENGTH,
        "wear_coefficient": LENGTH,
    }
)
"""Columns that a response rests on, and the power in which it goes with each (4: the most of a volume)."""

SUMS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"temperature_rise": ("peak_temperature", "ambient_temperature")}
)
MOST_DIGITS = 9
ENOUGH = 6
"""Values from which on a column whose last digit is always even, or 0 or 5, counts as read in such steps."""

NEAR_ZERO = 10.0
"""Steps of the reading up to which the median of the readings above zero makes a zero mean "below a step"."""
ZERO_IS_LITTLE = ("fling_mass", "fling_area")
"""Responses that are never quite nothing, so that a reading of zero says only that they are below a step."""
UNKNOWN: Mapping[str, float] = MappingProxyType({})


def typed_steps(rig: Rig) -> dict[str, float]:
    """Give the steps of the readings that campaign.toml states, in SI units by column."""
    stated = {
        "scar_length": rig.reading_resolution,
        "scar_width": rig.reading_resolution,
        "fling_mass": rig.balance_resolution,
    }
    return {name: step for name, step in stated.items() if step is not None}


def zeros_as_bounds(
    responses: Sequence[Response],
    runs: pd.DataFrame,
    units: Mapping[str, str],
    typed: Mapping[str, float] = UNKNOWN,
) -> tuple[Response, ...]:
    """Keep a response with zeros on the log scale, as bounds, where zero means less than a step."""
    return tuple(_zeros_as_bounds(response, runs, units, typed) for response in responses)


def _zeros_as_bounds(
    response: Response, runs: pd.DataFrame, units: Mapping[str, str], typed: Mapping[str, float]
) -> Response:
    if response.name not in ZERO_IS_LITTLE or response.scale == "log":
        return response
    values = runs[response.name].dropna().to_numpy(dtype=float)
    step, seen = column_step(runs, response.name, units, typed), values[values > 0.0]
    if step <= 0.0 or values.min() < 0.0 or seen.size == 0 or np.median(seen) > NEAR_ZERO * step:
        return response
    return replace(response, scale="log", censored_side="left", zero_below=step)


def resolution(
    response: Response, runs: pd.DataFrame, units: Mapping[str, str], typed: Mapping[str, float] = UNKNOWN
) -> float:
    """Give the step of the readings: relative on the log scale, in SI units else; 0 where it is unknown."""
    if response.name in SUMS:
        step = sum(column_step(runs, name, units, typed) for name in SUMS[response.name])
        return step if response.scale == "linear" else step / _centre(runs, response.name)
    if response.scale == "linear":
        return column_step(runs, response.name, units, typed)
    parts = DERIVED.get(response.name, {response.name: 1.0})
    if parts is SCAR and not column_step(runs, "scar_width", units, typed):
        parts = {"scar_length": 2.0}  # the width follows from the length
    steps = ((name, power * column_step(runs, name, units, typed)) for name, power in parts.items())
    return sum(step / _centre(runs, name) for name, step in steps if step > 0.0)


def column_step(
    runs: pd.DataFrame, name: str, units: Mapping[str, str], typed: Mapping[str, float] = UNKNOWN
) -> float:
    """Give the step in which a column was read, in SI units; 0 for a column that was not typed.

    Examples
    --------
    >>> runs = pd.DataFrame({"scar_length": [3.78e-3, 4.1e-3]})
    >>> round(column_step(runs, "scar_length", {"scar_length": "mm"}), 9)
    1e-05
    """
    if name not in runs or name not in units:
        return 0.0
    column = runs[name].dropna().to_numpy(dtype=float)
    numbers = np.asarray(to_unit(column[np.isfinite(column)], units[name]), dtype=float)
    if numbers.size == 0:
        return 0.0
    if name in typed:
        return typed[name]
    first, second = to_unit(np.array([1.0, 2.0]), units[name])
    return abs(_step(numbers) / float(second - first))


def _step(typed: NDArray[np.float64]) -> float:
    for digits in range(MOST_DIGITS):
        steps = typed * 10.0**digits
        whole = np.round(steps)
        if np.all(np.abs(steps - whole) <= 1e-9 * np.maximum(np.abs(steps), 1.0)):
            enough = typed.size >= ENOUGH
            multiple = next((m for m in (5, 2) if enough and bool(np.all(whole % m == 0))), 1)
            return float(multiple) * 10.0**-digits
    return 0.0


def _centre(runs: pd.DataFrame, name: str) -> float:
    values = np.abs(runs[name].dropna().to_numpy(dtype=float))
    values = values[values > 0.0]
    return float(np.median(values)) if values.size else np.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """What every summary, comparison and claim of a campaign has in common.

    Attributes
    ----------
    confidence : float
        Confidence of the intervals; simultaneous for the comparisons at one load, and for all claims [1].
    block : str, optional
        Column that holds the block of each run.
    pooled : bool
        True where the campaign says that all oils share one spread.
    units : mapping of str to str
        Unit in which each column was typed: tells how finely it was read.
    priors : mapping of str to VariancePrior
        What earlier campaigns tell of the spread of each response, where that is used.
    typed_steps : mapping of str to float
        Steps of the readings that campaign.toml states, in SI units by column.
    """

    confidence: float
    block: str | None = None
    pooled: bool = False
    units: Mapping[str, str] = field(default_factory=dict)
    priors: Mapping[str, VariancePrior] = field(default_factory=dict)
    typed_steps: Mapping[str, float] = field(default_factory=dict)


FARTHEST = 1000.0
"""Factor from the estimate beyond which a limit tells nothing that anybody at a bench doubts."""
FAR = "no {which} from these data: over {factor:.0f} times away, since {why}"
BOUNDS = "runs are bounds"
FEW = "the runs are few and scatter widely"


def useful_estimate(found: Estimate) -> Estimate:
    """Leave out the limits of an estimate on the log scale that lie out of all reason.

    Examples
    --------
    >>> far = Estimate(2, 0, 1.0, 1e-5, 1e5, 0.95, "log", 1.0, 1.0, "t interval")
    >>> useful_estimate(far).low is None, useful_estimate(far).note[:24]
    (True, 'no limits from these dat')
    """
    if found.scale != "log" or found.estimate is None:
        return found
    low, high = _kept(found.estimate, found.low, found.high)
    note = _note((found.low, low), (found.high, high), found.n_censored)
    return found if note is None else replace(found, low=low, high=high, note=_joined(note, found.note))


def useful_comparison(found: Comparison) -> Comparison:
    """Leave out the limits of a ratio that lie out of all reason; without any limit there is no p either."""
    if found.ratio is None:
        return found
    low, high = _kept(found.ratio, found.low, found.high)
    note = _note((found.low, low), (found.high, high), found.n_censored + found.n_censored_reference)
    if note is None:
        return found
    p = None if low is None and high is None else found.p_adjusted
    return replace(found, low=low, high=high, p_adjusted=p, note=_joined(note, found.note))


def _kept(estimate: float, low: float | None, high: float | None) -> tuple[float | None, float | None]:
    return (
        None if low is None or low < estimate / FARTHEST else low,
        None if high is None or high > estimate * FARTHEST else high,
    )


def _note(
    low: tuple[float | None, float | None], high: tuple[float | None, float | None], bounds: int
) -> str | None:
    lost = [kept is None and had is not None for had, kept in (low, high)]
    if not any(lost):
        return None
    which = "limits" if all(lost) else "lower limit" if lost[0] else "upper limit"
    return FAR.format(which=which, factor=FARTHEST, why=BOUNDS if bounds else FEW)


def _joined(note: str, other: str | None) -> str:
    return note if other is None else f"{note}; {other}"


ZEROS = "{zeros} read as 0 counts as a bound: below {limit}, one step of the reading"


def cells(runs: pd.DataFrame, response: Response, block: str | None = None) -> Iterator[Cell]:
    """Collect the cells of a response, in the order of load and of first appearance of the lubricant."""
    included = runs[runs["excluded"] == ""]
    bounds = _with_bounds(included, response)
    of_run = {} if block is None else dict(zip(included["run_id"], included[block].astype(str), strict=True))
    names, runs_of = (bounds[one].to_numpy(dtype=object) for one in ("lubricant", "run_id"))
    levels, values = (bounds[one].to_numpy(dtype=float) for one in ("load_level", "value"))
    censored = bounds["bound"].to_numpy(dtype=bool)
    for level in np.unique(levels[~np.isnan(levels)]):
        for lubricant in dict.fromkeys(names):
            own = np.flatnonzero((levels == level) & (names == lubricant))
            if not own.size:
                continue
            yield Cell(
                lubricant=str(lubricant),
                load_level=float(level),
                run_ids=tuple(runs_of[own]),
                values=values[own],
                censored=censored[own],
                blocks=tuple(of_run[run] for run in runs_of[own]) if of_run else (),
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
        return estimates.mean(cell.values, confidence, step)
    return estimates.geometric_mean(cell.values, confidence, step, prior)


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
        # Of a noise that faded, it is known when it had not stopped yet: the upper end has no method here.
        if "quiet_after" in included:
            faded = included["quiet_time"].isna() & included["quiet_after"].notna() & ~running
            frame["bound"] |= faded
            frame["value"] = frame["value"].where(~faded, included["quiet_after"])
    return frame.dropna(subset=["value", "load_level"])

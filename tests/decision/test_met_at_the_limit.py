"""How often "met" is wrong at the limit, from tables of runs to the verdict, for layouts of its own."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from pinscar.campaign.model import Criterion
from pinscar.decision.comparisons import compare_all
from pinscar.decision.criteria import judge_criteria
from pinscar.decision.responses import available
from pinscar.decision.summaries import Method, summarise, zeros_as_bounds

ALLOWED = 0.025


def is_met(
    values: dict[str, list[float] | np.ndarray], oils: str, rule: str, limit: str, unit: str, **more: object
) -> bool:
    """Judge the first column of values for oil C."""
    response = next(iter(values))
    size = len(oils)
    runs = pd.DataFrame(
        {
            "run_id": [f"r{number}" for number in range(size)],
            "lubricant": list(oils),
            "load_level": 450.0,
            "excluded": "",
            "duration": 60.0,
            "ring_speed": 700.0,
            "wear_stopped": [True] * size,
        }
        | values
    )
    given = {"id": "limit", "response": response, "lubricant": "C", "load": "450 N"}
    criterion = Criterion.model_validate(given | {"rule": rule, "limit": limit})
    units = {response: unit} if unit else {}
    block = more.get("block")
    method = Method(confidence=0.95, block=None if block is None else str(block), units=units)
    found = [one for one in zeros_as_bounds(available(runs, units), runs, units) if one.name == response]
    if criterion.is_relative:
        compared = compare_all(runs, found, "R", method)
        (result,) = judge_criteria([criterion], [], compared, 0.95, lambda evidence, limit: None)
    else:
        summaries = summarise(runs, found, method)
        (result,) = judge_criteria([criterion], summaries, [], 0.95, lambda evidence, limit: None)
    return str(result.verdict) == "met"


def two_candidates_in_two_days(rng: np.random.Generator) -> bool:
    oils, days = "RRRRRCCCCDDDD", "1112212221122"
    effect = {day: 0.2 * rng.standard_normal() for day in "12"}
    area = 6e-6 * np.exp(0.1 * rng.standard_normal(13) + [effect[day] for day in days])
    return is_met({"scar_area": area, "run_day": list(days)}, oils, "ratio at most", "1", "", block="run_day")


def unlike_spreads_in_four_rings(rng: np.random.Generator) -> bool:
    oils, rings = "RRRRRRCCCC", "aabbcdabcc"
    effect = {ring: 0.15 * rng.standard_normal() for ring in "abcd"}
    wide = np.array([0.1] * 6 + [0.25] * 4)
    area = 6e-6 * np.exp(wide * rng.standard_normal(10) + [effect[ring] for ring in rings])
    return is_met(
        {"scar_area": area, "ring_id": list(rings)}, oils, "ratio at most", "1", "", block="ring_id"
    )


def counted_drips(rng: np.random.Generator) -> bool:
    return is_met({"drips": rng.poisson(2.0, 8).astype(float)}, "RRRRCCCC", "at most", "2", "1")


def heaped_scars(rng: np.random.Generator) -> bool:
    """Half of the readings are rounded to half a millimetre, the others to a tenth."""
    centre = rng.uniform(3.0, 3.5)
    length = centre * np.exp(0.05 * rng.standard_normal(8))
    read = np.where(rng.random(8) < 0.5, np.round(2.0 * length) / 2.0, np.round(length, 1)) * 1e-3
    return is_met({"scar_length": read}, "RRRRCCCC", "ratio at most", "1", "mm")


def whole_milligrams(rng: np.random.Generator) -> bool:
    fling = np.round(3.0 * np.exp(0.7 * rng.standard_normal(11))) * 1e-6
    return is_met({"fling_mass": fling}, "RRRRRRCCCCC", "ratio at most", "1", "mg")


def quiet_times_with_bounds(rng: np.random.Generator) -> bool:
    times = 45.0 * np.exp(np.array([0.4] * 5 + [0.8] * 3) * rng.standard_normal(8))
    quiet = np.where(times < 60.0, times, np.nan)
    stopped = [bool(one < 60.0) for one in times]
    return is_met({"quiet_time": quiet, "wear_stopped": stopped}, "RRRRRCCC", "ratio at most", "1", "s")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("draw", "campaigns"),
    [
        (two_candidates_in_two_days, 1000),
        (unlike_spreads_in_four_rings, 1000),
        (counted_drips, 1000),
        (heaped_scars, 1000),
        (whole_milligrams, 600),
        (quiet_times_with_bounds, 300),
    ],
)
def test_met_is_wrong_at_most_as_often_as_allowed(
    draw: Callable[[np.random.Generator], bool], campaigns: int
) -> None:
    rng = np.random.default_rng(20261130)
    share = sum(draw(rng) for _ in range(campaigns)) / campaigns
    print(f"{draw.__name__}: {100 * share:.2f} % of {campaigns}")
    assert share <= ALLOWED + 3.0 * math.sqrt(ALLOWED * (1.0 - ALLOWED) / campaigns)

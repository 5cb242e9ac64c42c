"""Responses: which are reported, on which scale, and that counts get their own interval."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pinscar.decision.judgements import Cell
from pinscar.decision.responses import STANDARD, available, choose
from pinscar.decision.summaries import estimate_cell
from pinscar.errors import UsageError

RUNS = pd.DataFrame(
    {
        "excluded": ["", "", "left out"],
        "scar_area": [3e-6, 4e-6, np.nan],
        "scar_length": [3e-3, 4e-3, np.nan],
        "torque": [1.0, 0.0, np.nan],
        "oil_temperature": [300.0, 310.0, np.nan],
        "drips": [0.0, 3.0, 9.0],
    }
)
UNITS = {"scar_length": "mm", "torque": "N m", "oil_temperature": "degC", "drips": "1"}


def test_own_columns_with_units_become_responses_and_zeros_leave_the_log_scale() -> None:
    found = {response.name: response for response in available(RUNS, UNITS)}
    assert list(found) == ["scar_area", "scar_length", "drips", "torque", "oil_temperature"]
    assert found["scar_area"].scale == "log"
    assert found["torque"].scale == "linear", "a zero has no logarithm"
    assert found["oil_temperature"].scale == "linear", "the zero of degC is arbitrary"


def test_readings_and_counts_are_reported_on_request_only() -> None:
    found = available(RUNS, UNITS)
    assert [response.name for response in choose(found, None)] == ["scar_area", "torque", "oil_temperature"]
    assert [response.name for response in choose(found, ["drips"])] == ["drips"]
    with pytest.raises(UsageError, match="no run has the response 'noise'"):
        choose(found, ["noise"])


def test_a_count_gets_the_exact_poisson_interval() -> None:
    drips = next(response for response in STANDARD if response.name == "drips")
    counts = np.array([2.0, 0.0, 3.0, 1.0, 4.0])
    cell = Cell(
        lubricant="R-10",
        load_level=450.0,
        run_ids=tuple("abcde"),
        values=counts,
        censored=np.zeros(5, dtype=bool),
    )
    estimate = estimate_cell(cell, drips, 0.95)
    # Garwood, Fiducial limits for the Poisson distribution, Biometrika 28, 1936: 10 events, 4.80 to 18.39.
    assert estimate.estimate == 2.0
    assert estimate.low == pytest.approx(4.795 / 5, abs=1e-3)
    assert estimate.high == pytest.approx(18.39 / 5, abs=1e-3)


def test_fling_area_goes_beside_fling_mass_and_takes_zero():
    runs = pd.DataFrame({"excluded": ["", ""], "fling_mass": [0.0, 2e-5], "fling_area": [0.0, 3e-4]})
    mass, area = available(runs, {"fling_mass": "mg", "fling_area": "mm^2"})
    assert (mass.name, area.name) == ("fling_mass", "fling_area")
    assert mass.scale == area.scale == "linear"
    assert mass.better == area.better == "lower"
    assert available(runs[1:], {})[1].scale == "log"

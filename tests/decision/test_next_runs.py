"""Intervals for single runs, the next one and most of them, by hand; a cell of bounds gives a reason."""

from __future__ import annotations

import numpy as np
import pytest

import pinscar
from pinscar.decision.further import CONTENT, next_runs
from pinscar.decision.judgements import Cell, Summary
from pinscar.decision.responses import STANDARD
from pinscar.decision.results import results
from pinscar.decision.summaries import estimate_cell

FILM = next(response for response in STANDARD if response.name == "film_pressure")


def summary(values, bounds=()):
    censored = np.isin(np.arange(len(values)), bounds)
    cell = Cell(
        lubricant="C",
        load_level=450.0,
        run_ids=tuple(map(str, range(len(values)))),
        values=np.array(values),
        censored=censored,
    )
    return Summary(FILM, cell, estimate_cell(cell, FILM, 0.95))


def test_five_runs_give_the_next_run_and_most_runs_by_the_printed_factors():
    # Factors for n = 5: t_4 at 95 % is 2.776; k for 90 % of all runs with 95 % confidence is 4.291 (Odeh and
    # Owen, Tables for Normal Tolerance Limits, 1980, from memory).
    values = np.exp([18.0, 18.1, 18.2, 18.3, 18.4])
    (one,) = next_runs([summary(values)], 0.95)
    sd = np.std([0.0, 0.1, 0.2, 0.3, 0.4], ddof=1)
    reach = np.log(one.prediction.high) - 18.2
    assert reach == pytest.approx(2.776 * sd * np.sqrt(1.2), rel=2e-4)
    assert (np.log(one.tolerance.high) - 18.2) / sd == pytest.approx(4.291, abs=6e-4)
    assert one.reason is None


@pytest.mark.parametrize(
    ("values", "bounds", "reason"),
    [
        ([1e8, 1.1e8, 1.2e8], [1], "not computed: 1 run of 3 gave only a bound"),
        ([1e8], [], "single run, no interval"),
        ([1e8, 1e8], [], "not computed: all runs gave the same value"),
    ],
)
def test_cells_without_an_interval_say_why(values, bounds, reason):
    (one,) = next_runs([summary(values, bounds)], 0.95)
    assert (one.prediction, one.tolerance, one.reason) == (None, None, reason)


def test_the_results_hold_the_same_intervals_in_shown_units():
    analysis = pinscar.open(pinscar.demo("conveyor_07")).analysis
    rows = results(analysis)["next_runs"]
    found = list(next_runs(analysis.summaries, analysis.confidence))
    assert len(rows) == len(found) > 4
    for row, one in zip(rows, found, strict=True):
        assert row["content"] == CONTENT
        assert (row["note"] is None) == (row["tolerance_low"] is not None)
        if one.prediction is not None:
            assert row["prediction_high"] == pytest.approx(one.prediction.high * 1e-6, rel=1e-12)
            assert (
                row["tolerance_low"] < row["prediction_low"] < row["prediction_high"] < row["tolerance_high"]
            )

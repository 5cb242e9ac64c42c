"""A verdict on censored runs needs the calibrated limits to agree with the plain ones."""

from __future__ import annotations

import numpy as np

from pinscar.campaign.model import Criterion
from pinscar.decision.calibrated import ratio_limits, value_limits
from pinscar.decision.criteria import judge_criteria
from pinscar.decision.responses import STANDARD
from pinscar.decision.summaries import Cell, Summary, estimate_cell

FILM = next(response for response in STANDARD if response.name == "film_pressure")
VALUES = np.array([118.0, 124.0, 131.0, 127.0, 121.0]) * 1e6
CENSORED = np.array([True, False, False, False, False])


def summary_of(censored: np.ndarray) -> Summary:
    cell = Cell("C-21", 450.0, tuple("abcde"), VALUES, censored)
    return Summary(FILM, cell, estimate_cell(cell, FILM, 0.95))


def test_calibrated_limits_are_wider_and_only_for_censored_runs() -> None:
    summary = summary_of(CENSORED)
    limits = value_limits(summary, 0.95)
    assert limits is not None
    low, high = limits
    assert low is not None
    assert high is not None
    assert low < (summary.estimate.low or 0.0)
    assert high > (summary.estimate.high or 0.0)
    assert value_limits(summary_of(np.zeros(5, dtype=bool)), 0.95) is None


def test_a_limit_between_the_plain_and_the_calibrated_end_stays_undecided_and_says_why() -> None:
    summary = summary_of(CENSORED)
    limits = value_limits(summary, 0.95)
    assert limits is not None
    between = ((limits[0] or 0.0) + (summary.estimate.low or 0.0)) / 2e6
    criterion = Criterion.model_validate(
        {
            "id": "film",
            "response": "film_pressure",
            "lubricant": "C-21",
            "load": "450 N",
            "rule": "at least",
            "limit": f"{between:.6f} MPa",
        }
    )
    (result,) = judge_criteria([criterion], [summary], [], 0.95, lambda *_: None)
    assert result.low is not None
    assert result.low > result.limit, "the plain interval alone would meet the limit"
    assert str(result.verdict) == "undecided"
    assert "the calibrated limits (Student's t) must agree too" in result.because


def test_a_ratio_without_censored_runs_has_no_calibrated_limits() -> None:
    whole = Cell("R-10", 450.0, tuple("abcde"), VALUES / 1.5, np.zeros(5, dtype=bool))
    hidden = Cell("C-21", 450.0, tuple("abcde"), VALUES, CENSORED)
    assert ratio_limits(FILM, whole, whole, 0.95) is None
    limits = ratio_limits(FILM, hidden, whole, 0.95)
    assert limits is not None
    assert 1.3 < (limits[0] or 0.0) < 1.5 < (limits[1] or 0.0) < 1.7

"""The ranking orders the oils, gives letters to like ones only, and says why others have none."""

from __future__ import annotations

from pathlib import Path

import pytest

from pinscar.decision.ranking import rank
from pinscar.decision.record import Analysis
from pinscar.errors import UsageError

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


@pytest.fixture(scope="module")
def demo(demo_analysis: Analysis) -> Analysis:
    return demo_analysis


def test_the_best_stands_first_and_its_estimates_follow_the_order(demo: Analysis) -> None:
    ranking = rank(demo, "scar_area")
    estimates = [s.estimate.estimate for s in ranking.summaries]
    assert estimates == sorted(estimates)
    assert ranking.load_level == pytest.approx(450.0, rel=0.005, abs=0)


def test_letters_agree_with_what_the_intervals_plainly_say(demo: Analysis) -> None:
    letters = rank(demo, "scar_area").letters
    assert set(letters["C-22"]) & set(letters["R-10"])
    assert not set(letters["C-21"]) & set(letters["R-10"])
    assert not set(letters["B-05"]) & set(letters["C-22"])


def test_an_oil_run_for_another_time_has_no_letter_but_a_reason(demo: Analysis) -> None:
    ranking = rank(demo, "scar_area", 600.0)
    assert "B-05" not in ranking.letters
    assert "40 s against 60 s" in ranking.left_out["B-05"]
    assert {"C-21", "C-22", "R-10"} == set(ranking.letters)


def test_bounds_have_no_letters(demo: Analysis) -> None:
    ranking = rank(demo, "film_pressure", 600.0)
    assert ranking.letters == {}
    assert "4 runs of 6 give only a bound" in ranking.left_out["R-10"]
    assert ranking.summaries[0].cell.lubricant == "C-21"


def test_what_was_not_measured_is_refused(demo: Analysis) -> None:
    with pytest.raises(UsageError, match="no run has the response 'torque'"):
        rank(demo, "torque")
    with pytest.raises(UsageError, match="no run at 700 N"):
        rank(demo, "scar_area", 700.0)

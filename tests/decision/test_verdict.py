"""Verdicts follow the whole interval, and a bound alone can only ever refuse."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.campaign.model import Criterion
from pinscar.decision import words
from pinscar.decision.comparisons import compare_all
from pinscar.decision.criteria import judge, judge_criteria
from pinscar.decision.judgements import Verdict, overall
from pinscar.decision.responses import STANDARD
from pinscar.decision.summaries import Method

NUMBERS = st.floats(0.1, 1000.0)


@pytest.mark.parametrize(
    ("low", "high", "side", "expected"),
    [
        (121.0, 140.0, "at least", Verdict.MET),
        (120.0, 140.0, "at least", Verdict.MET),
        (100.0, 119.9, "at least", Verdict.NOT_MET),
        (100.0, 120.0, "at least", Verdict.UNDECIDED),
        (100.0, 119.0, "at most", Verdict.MET),
        (100.0, 121.0, "at most", Verdict.UNDECIDED),
        (121.0, 130.0, "at most", Verdict.NOT_MET),
        (None, 110.0, "at least", Verdict.NOT_MET),
        (None, 130.0, "at least", Verdict.UNDECIDED),
        (None, 110.0, "at most", Verdict.MET),
        (None, None, "at least", Verdict.UNDECIDED),
    ],
)
def test_the_interval_decides(low: float | None, high: float | None, side: str, expected: Verdict) -> None:
    assert judge(low, high, 120.0, side) is expected  # type: ignore[arg-type]


@given(NUMBERS, NUMBERS)
def test_an_upper_bound_alone_never_meets_a_lower_limit(high: float, limit: float) -> None:
    assert judge(None, high, limit, "at least") is not Verdict.MET


@given(NUMBERS, NUMBERS, NUMBERS)
def test_turning_the_axis_round_turns_the_sides_round(a: float, b: float, limit: float) -> None:
    low, high = min(a, b), max(a, b)
    turned = judge(-high, -low, -limit, "at most")
    assert judge(low, high, limit, "at least") is turned


def test_one_failed_limit_fails_the_campaign_and_none_gives_no_verdict() -> None:
    assert overall([Verdict.MET, Verdict.UNDECIDED, Verdict.NOT_MET]) is Verdict.NOT_MET
    assert overall([Verdict.MET, Verdict.UNDECIDED]) is Verdict.UNDECIDED
    assert overall([Verdict.MET]) is Verdict.MET
    assert overall([]) is None


@pytest.mark.parametrize(
    ("oils", "sure"), [(["C"], "confidence 97.5 %"), (["C", "D"], "confidence at least 97.5 %")]
)
def test_not_worse_than_says_how_sure_its_one_end_is(oils: list[str], sure: str) -> None:
    """Both ends of a 95 % interval leave 2.5 % beyond each; simultaneous ones leave less."""
    frame = pd.DataFrame(
        {
            "run_id": [f"{oil}{i}" for oil in ["R", *oils] for i in range(4)],
            "lubricant": [oil for oil in ["R", *oils] for _ in range(4)],
            "load_level": 450.0,
            "duration": 60.0,
            "ring_speed": 73.3,
            "excluded": "",
            "scar_area": [6.0e-6, 6.1e-6, 6.2e-6, 6.3e-6] * (1 + len(oils)),
        }
    )
    found = compare_all(
        frame, [next(one for one in STANDARD if one.name == "scar_area")], "R", Method(confidence=0.95)
    )
    limits = [{"rule": "not worse than", "margin": "10 %"}, {"rule": "ratio at most", "limit": "1.1"}]
    told = {"id": "limit", "response": "scar_area", "lubricant": "C", "load": "450 N"}
    judged = [Criterion.model_validate(told | one) for one in limits]
    one, other = judge_criteria(judged, [], found, 0.95, lambda evidence, limit: None)
    assert one.verdict is Verdict.MET
    told = words.because(one)
    assert f"it does; only this end of the 95 % interval matters; one-sided {sure}" in told
    assert words.because(other).endswith("and it does")

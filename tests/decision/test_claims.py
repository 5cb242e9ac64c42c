"""Claims are supported in words that the interval carries, not supported, or refused with the reason."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pinscar.campaign.model import Claim
from pinscar.decision import words
from pinscar.decision.claims import judge_claims
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.judgements import ClaimResult, Support
from pinscar.decision.responses import STANDARD
from pinscar.decision.summaries import Method

RESPONSES = tuple(r for r in STANDARD if r.name in ("scar_area", "film_pressure"))
SHAPE = np.array([-1.2, -0.6, -0.1, 0.3, 0.6, 1.0])
SPREAD = 0.08
AREAS = {"R": 6.0, "C": 4.0, "D": 5.9, "E": 9.0}
"""Geometric means of the scar area [mm^2]; every oil has the same six deviations."""


def runs() -> pd.DataFrame:
    deviations = SPREAD * (SHAPE - SHAPE.mean())
    return pd.DataFrame(
        {
            "run_id": [f"{oil}{i}" for oil in AREAS for i in range(6)],
            "lubricant": [oil for oil in AREAS for _ in range(6)],
            "load_level": 450.0,
            "duration": 60.0,
            "ring_speed": 73.3,
            "excluded": "",
            "run_day": "2026-05-04",
            "scar_area": np.concatenate([1e-6 * mean * np.exp(deviations) for mean in AREAS.values()]),
            "film_pressure": 100e6,
            "left_censored": True,
        }
    )


def claim(**changed: object) -> Claim:
    given = {"subject": "C", "response": "scar_area", "direction": "lower", "against": "R", "load": "450 N"}
    return Claim.model_validate({**given, **changed})


def judged(
    *claims: Claim, frame: pd.DataFrame | None = None, findings: tuple[Finding, ...] = ()
) -> tuple[ClaimResult, ...]:
    return judge_claims(
        claims, runs() if frame is None else frame, RESPONSES, findings, Method(confidence=0.95)
    )


def sure_percent(subject: str, confidence: float) -> float:
    """How much smaller than R a scar is for sure, by the textbook's pooled t on logarithms."""
    deviations = SPREAD * (SHAPE - SHAPE.mean())
    error = np.sqrt(deviations.var(ddof=1) * 2 / 6)
    reach = stats.t.ppf(0.5 + confidence / 2, 10) * error
    return float(100 * (1 - AREAS[subject] / AREAS["R"] * np.exp(reach)))


def stated_percent(result: ClaimResult) -> int:
    assert words.wording(result) is not None
    found = re.search(r"at least (\d+) %", words.wording(result))
    assert found is not None
    return int(found[1])


def test_a_supported_claim_states_the_largest_whole_percentage_that_is_sure() -> None:
    (result,) = judged(claim())
    assert result.support is Support.SUPPORTED
    assert stated_percent(result) == int(sure_percent("C", 0.95))
    said = words.wording(result) or ""
    assert said.endswith("smaller scar area than R at 450 N, 95 % confidence, n = 6 and 6")


def test_a_percentage_is_supported_up_to_what_is_sure_and_no_further() -> None:
    sure = int(sure_percent("C", 0.975))
    within, beyond = judged(claim(percentage=f"{sure} %"), claim(percentage=f"{sure + 1} %"))
    assert within.support is Support.SUPPORTED
    assert beyond.support is Support.NOT_SUPPORTED
    assert stated_percent(beyond) == sure
    assert f"{sure + 1}" in words.claim_because(beyond)


def test_a_difference_within_the_scatter_is_not_supported_and_has_no_wording() -> None:
    (result,) = judged(claim(subject="D"))
    assert (result.support, words.wording(result)) == (Support.NOT_SUPPORTED, None)
    assert "equality" in words.claim_because(result)


def test_the_wrong_direction_is_not_supported() -> None:
    (result,) = judged(claim(subject="E"))
    assert (result.support, words.wording(result)) == (Support.NOT_SUPPORTED, None)
    (higher,) = judged(claim(subject="E", direction="higher"))
    assert higher.support is Support.SUPPORTED
    assert "larger scar area" in (words.wording(higher) or "")


def test_more_claims_make_each_less_sure() -> None:
    """Three claims together hold at 95 % where each is made at 1 - 0.05 / 3."""
    (alone,) = judged(claim())
    together = judged(claim(), claim(subject="D"), claim(subject="E"))[0]
    assert stated_percent(alone) == int(sure_percent("C", 0.95))
    assert stated_percent(together) == int(sure_percent("C", 1 - 0.05 / 3))
    assert stated_percent(together) < stated_percent(alone)


def test_best_of_all_is_weighed_against_the_nearest_rival_and_counts_each() -> None:
    (result,) = judged(claim(best_of_all=True))
    assert result.support is Support.SUPPORTED
    # Three rivals are three comparisons; the nearest is D, not R.
    deviations = SPREAD * (SHAPE - SHAPE.mean())
    reach = stats.t.ppf(1 - 0.05 / 6, 10) * np.sqrt(deviations.var(ddof=1) * 2 / 6)
    assert stated_percent(result) == int(100 * (1 - AREAS["C"] / AREAS["D"] * np.exp(reach)))
    assert "smallest" in words.claimed(result) or "lowest" in words.claimed(result)
    assert all(name in (words.wording(result) or "") for name in ("R", "D", "E"))
    assert "n = 6, 6, 6 and 6" in (words.wording(result) or "")


def test_best_of_all_fails_where_one_rival_is_not_beaten() -> None:
    frame = runs()
    frame.loc[frame["lubricant"] == "D", "scar_area"] *= 4.05 / 5.9
    (result,) = judged(claim(best_of_all=True), frame=frame)
    assert (result.support, words.wording(result)) == (Support.NOT_SUPPORTED, None)


@pytest.mark.parametrize(
    ("column", "value", "reason"),
    [
        ("duration", 40.0, "run for 40 s against 60 s"),
        ("ring_speed", 50.0, "rpm"),
        ("load_level", 600.0, "450 N"),
    ],
)
def test_a_claim_across_unlike_conditions_is_refused(column: str, value: float, reason: str) -> None:
    frame = runs()
    frame.loc[frame["lubricant"] == "C", column] = value
    (result,) = judged(claim(), frame=frame)
    assert (result.support, words.wording(result)) == (Support.REFUSED, None)
    assert reason in words.claim_because(result)


def test_a_rival_at_another_load_refuses_the_claim() -> None:
    frame = runs()
    frame.loc[frame["lubricant"] == "R", "load_level"] = 600.0
    (result,) = judged(claim(), frame=frame)
    assert result.support is Support.REFUSED
    assert "R was not run at 450 N" in words.claim_because(result)


def blocking(*run_ids: str, name: str = "dose") -> Finding:
    return Finding(
        id=name,
        severity=Weight.BLOCKS,
        values={"n": 1, "notes": ["C1: by hand"]},
        runs=run_ids,
        text="note-on-timer",
    )


def test_a_blocking_finding_refuses_the_claims_on_its_runs_only() -> None:
    refused, untouched = judged(
        claim(), claim(subject="E", direction="higher"), findings=(blocking("C1", "C2"),)
    )
    assert refused.support is Support.REFUSED
    assert "speaks of the timing (C1: by hand)" in words.claim_because(refused)
    assert untouched.support is Support.SUPPORTED


def test_a_caution_refuses_nothing() -> None:
    caution = Finding(id="wear-not-judged", severity=Weight.CAUTION, values={"n": 1}, runs=("C1",))
    assert judged(claim(), findings=(caution,))[0].support is Support.SUPPORTED


def test_the_missing_reference_does_not_refuse_a_claim_between_others_at_one_load() -> None:
    frame = runs()
    frame = frame[frame["lubricant"] != "R"]
    finding = blocking(*frame["run_id"], name="load-not-shared")
    (result,) = judged(claim(against="E"), frame=frame, findings=(finding,))
    assert result.support is Support.SUPPORTED


def test_bounds_on_both_sides_support_nothing() -> None:
    (result,) = judged(claim(response="film_pressure", direction="higher"))
    assert (result.support, words.wording(result)) == (Support.NOT_SUPPORTED, None)


def pressures(censored: str) -> pd.DataFrame:
    """Final pressures under 600 N, C about 150 MPa and R about 100 MPa; one of the two gives bounds only."""
    frame = runs()
    frame["film_pressure"] = 600.0 / frame["scar_area"]
    return frame.assign(left_censored=frame["lubricant"] == censored)


def test_a_one_sided_bound_supports_the_claim_that_needs_only_that_side() -> None:
    """All of R's films carry less than its final pressures, so C's carry more than the bound says."""
    higher, lower = (
        judged(claim(response="film_pressure", direction=way), frame=pressures("R"))[0]
        for way in ("higher", "lower")
    )
    assert higher.support is Support.SUPPORTED
    assert "at least" in words.claim_because(higher)
    assert lower.support is Support.NOT_SUPPORTED


def test_a_bound_on_the_subject_never_shows_that_it_carries_more() -> None:
    (result,) = judged(claim(response="film_pressure", direction="higher"), frame=pressures("C"))
    assert (result.support, words.wording(result)) == (Support.NOT_SUPPORTED, None)


def test_an_unmeasured_response_is_refused() -> None:
    (result,) = judged(claim(response="fling_mass"))
    assert result.support is Support.REFUSED
    assert "not measured" in words.claim_because(result)


def test_excluded_runs_carry_no_claim() -> None:
    frame = runs()
    frame.loc[frame["lubricant"] == "C", "excluded"] = "pin slipped"
    (result,) = judged(claim(), frame=frame)
    assert result.support is Support.REFUSED
    assert "C was not run at 450 N" in words.claim_because(result)

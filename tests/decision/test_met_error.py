"""At the limit, "met" is wrong at most 2.5 % of the time (two-sided 95 %): simulated through the decision.

The true value lies exactly at the limit, where "met" is wrong most often. Five runs per lubricant, as in a
small campaign; 4000 campaigns a case; the bound allows three standard errors of the simulation.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from pinscar.campaign.model import Claim, Criterion
from pinscar.decision.claims import judge_claims
from pinscar.decision.comparisons import compare_all
from pinscar.decision.criteria import judge_criteria
from pinscar.decision.judgements import Cell, Summary, Support, Verdict
from pinscar.decision.responses import STANDARD, Response
from pinscar.decision.summaries import Method, estimate_cell, summarise

CAMPAIGNS, RUNS, SPREAD, CONFIDENCE = 4000, 5, 0.10, 0.95
METHOD = Method(confidence=CONFIDENCE)
ERROR = (1.0 - CONFIDENCE) / 2.0
ALLOWED = ERROR + 3.0 * math.sqrt(ERROR * (1.0 - ERROR) / CAMPAIGNS)
LEAST = ERROR - 3.0 * math.sqrt(ERROR * (1.0 - ERROR) / CAMPAIGNS)
pytestmark = pytest.mark.slow


def response(name: str) -> Response:
    return next(one for one in STANDARD if one.name == name)


def criterion(name: str, rule: str, **limit: str) -> Criterion:
    given = {"id": "limit", "response": name, "lubricant": "C", "load": "450 N", "rule": rule, **limit}
    return Criterion.model_validate(given)


def never(evidence: object, limit: float) -> None:
    """No further repeats: the verdict is what is counted here."""


def share_met(
    verdict: Callable[[np.random.Generator], Verdict], seed: int, campaigns: int = CAMPAIGNS
) -> float:
    rng = np.random.default_rng(seed)
    return sum(verdict(rng) is Verdict.MET for _ in range(campaigns)) / campaigns


def value_verdict(name: str, rule: str, limit: str, truth: float) -> Callable:
    """Judge a value whose true median is at the limit."""
    judged, measured = criterion(name, rule, limit=limit), response(name)

    def verdict(rng: np.random.Generator) -> Verdict:
        values = truth * np.exp(SPREAD * rng.standard_normal(RUNS))
        censored = np.zeros(RUNS, dtype=bool)
        cell = Cell(
            lubricant="C",
            load_level=450.0,
            run_ids=tuple(f"r{i}" for i in range(RUNS)),
            values=values,
            censored=censored,
        )
        summary = Summary(measured, cell, estimate_cell(cell, measured, CONFIDENCE))
        return judge_criteria([judged], [summary], [], CONFIDENCE, never)[0].verdict

    return verdict


def ratio_verdict(judged: Criterion, ratios: dict[str, float]) -> Callable:
    """Judge scar areas whose true ratio to the reference is at the limit."""
    oils = {"R": 1.0, **ratios}
    frame = pd.DataFrame(
        {
            "run_id": [f"{oil}{i}" for oil in oils for i in range(RUNS)],
            "lubricant": [oil for oil in oils for _ in range(RUNS)],
            "load_level": 450.0,
            "duration": 60.0,
            "ring_speed": 73.3,
            "excluded": "",
        }
    )
    truth = 6e-6 * np.repeat(list(oils.values()), RUNS)

    def verdict(rng: np.random.Generator) -> Verdict:
        runs = frame.assign(scar_area=truth * np.exp(SPREAD * rng.standard_normal(truth.size)))
        found = compare_all(runs, [response("scar_area")], "R", METHOD)
        return judge_criteria([judged], [], found, CONFIDENCE, never)[0].verdict

    return verdict


@pytest.mark.parametrize(
    ("name", "rule", "limit", "truth"),
    [
        ("film_pressure", "at least", "120 MPa", 120e6),
        ("scar_area", "at most", "6 mm^2", 6e-6),
        ("fling_mass", "at most", "25 mg", 25e-6),
    ],
)
def test_a_value_at_its_limit(name: str, rule: str, limit: str, truth: float) -> None:
    share = share_met(value_verdict(name, rule, limit, truth), seed=11)
    assert LEAST <= share <= ALLOWED


@pytest.mark.parametrize(
    "judged",
    [
        criterion("scar_area", "ratio at most", limit="0.8"),
        criterion("scar_area", "not worse than", margin="10 %"),
    ],
    ids=["ratio at most", "not worse than"],
)
def test_a_ratio_at_its_limit(judged: Criterion) -> None:
    limit = judged.ratio_limit("lower")
    share = share_met(ratio_verdict(judged, {"C": limit}), seed=12)
    assert LEAST <= share <= ALLOWED


def test_a_ratio_at_its_limit_among_several_oils_is_met_more_rarely_still() -> None:
    """Intervals that hold together for three oils are wider than one alone needs."""
    judged = criterion("scar_area", "ratio at most", limit="0.8")
    share = share_met(ratio_verdict(judged, {"C": 0.8, "D": 1.0, "E": 1.2}), seed=13)
    assert 0.0 < share <= ERROR


def film_campaign(
    rng: np.random.Generator, medians: dict[str, float], n: int, level: float, scatter: float
) -> pd.DataFrame:
    """Film pressures of several oils; a run is still wearing where the film carries less than it reached."""
    oils = np.repeat(list(medians), n)
    film = np.log([medians[oil] for oil in oils]) + SPREAD * rng.standard_normal(oils.size)
    reached = SPREAD * (level + scatter * rng.standard_normal(oils.size)) + np.log(120e6)
    return pd.DataFrame(
        {
            "run_id": [f"r{i}" for i in range(oils.size)],
            "lubricant": oils,
            "load_level": 450.0,
            "duration": 60.0,
            "ring_speed": 73.3,
            "excluded": "",
            "wear_stopped": film > reached,
            "film_pressure": np.exp(np.maximum(film, reached)),
            "left_censored": film < reached,
        }
    )


def level_for(share: float, scatter: float) -> float:
    return float(norm.ppf(share) * math.hypot(1.0, scatter))


FEW = 1500
CENSORED_ALLOWED = ERROR + 3.0 * math.sqrt(ERROR * (1.0 - ERROR) / FEW)
CENSORED = [
    (3, 0.5, 1.0),
    (3, 0.8, 0.5),
    (5, 0.3, 1.0),
    (5, 0.6, 1.0),
    (5, 0.8, 1.0),
    (8, 0.6, 0.0),
    (8, 0.8, 1.0),
]


@pytest.mark.parametrize(("n", "share", "scatter"), CENSORED)
def test_a_film_pressure_with_censored_runs_at_its_limit(n: int, share: float, scatter: float) -> None:
    """Runs that were still wearing hide the low values: a share of them is censored on the left."""
    film, judged = response("film_pressure"), criterion("film_pressure", "at least", limit="120 MPa")

    def verdict(rng: np.random.Generator) -> Verdict:
        runs = film_campaign(rng, {"C": 120e6}, n, level_for(share, scatter), scatter)
        return judge_criteria([judged], summarise(runs, [film], METHOD), [], CONFIDENCE, never)[0].verdict

    assert share_met(verdict, seed=14, campaigns=FEW) <= CENSORED_ALLOWED


@pytest.mark.parametrize(("n", "share", "scatter"), CENSORED)
@pytest.mark.parametrize("rule", ["ratio at least", "not worse than"])
def test_a_ratio_of_censored_film_pressures_at_its_limit(
    rule: str, n: int, share: float, scatter: float
) -> None:
    film = response("film_pressure")
    given = {"limit": "1.2"} if rule == "ratio at least" else {"margin": "10 %"}
    judged = criterion("film_pressure", rule, **given)
    truth = judged.ratio_limit("higher")
    campaigns = FEW // 3

    def verdict(rng: np.random.Generator) -> Verdict:
        medians = {"R": 120e6, "C": truth * 120e6}
        runs = film_campaign(rng, medians, n, level_for(share, scatter), scatter)
        found = compare_all(runs, [film], "R", METHOD)
        return judge_criteria([judged], [], found, CONFIDENCE, never)[0].verdict

    allowed = ERROR + 3.0 * math.sqrt(ERROR * (1.0 - ERROR) / campaigns)
    assert share_met(verdict, seed=15, campaigns=campaigns) <= allowed


@pytest.mark.parametrize(("n", "share", "claims"), [(3, 0.3, 1), (3, 0.5, 1), (5, 0.5, 1), (4, 0.4, 3)])
def test_a_claim_on_censored_film_pressures_that_is_not_true(n: int, share: float, claims: int) -> None:
    """The oils are alike, or alike to the percentage claimed: "supported" is then wrong, for all together."""
    film, rng, campaigns = response("film_pressure"), np.random.default_rng(16), FEW // 3
    oils = [f"C{i}" for i in range(claims)]
    stated = [
        Claim.model_validate(
            {
                "response": "film_pressure",
                "subject": oil,
                "against": "R",
                "load": "450 N",
                "direction": "higher",
            }
        )
        for oil in oils
    ]
    wrong = 0
    for _ in range(campaigns):
        medians = {"R": 120e6} | dict.fromkeys(oils, 120e6)
        runs = film_campaign(rng, medians, n, level_for(share, 1.0), 1.0)
        results = judge_claims(stated, runs, [film], [], METHOD)
        wrong += any(result.support is Support.SUPPORTED for result in results)
    allowed = ERROR + 3.0 * math.sqrt(ERROR * (1.0 - ERROR) / campaigns)
    assert wrong / campaigns <= allowed


@pytest.mark.parametrize(("n", "usable"), [(4, False), (5, False), (6, True)])
def test_a_bound_alone_meets_a_limit_only_where_its_error_is_that_of_one_end(n: int, usable: bool) -> None:
    runs = film_campaign(np.random.default_rng(1), {"C": 60e6}, n, 0.0, 0.0)
    assert runs["left_censored"].all()
    film, judged = response("film_pressure"), criterion("film_pressure", "at most", limit="130 MPa")
    (result,) = judge_criteria([judged], summarise(runs, [film], METHOD), [], CONFIDENCE, never)
    assert (result.verdict is Verdict.MET) == usable
    below = criterion("film_pressure", "at least", limit="130 MPa")
    (result,) = judge_criteria([below], summarise(runs, [film], METHOD), [], CONFIDENCE, never)
    assert (result.verdict is Verdict.NOT_MET) == (n >= 5)

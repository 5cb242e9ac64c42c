"""Judgements are data with stable codes; their sentences are made in one module and hold ordinary spaces."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.decision import words
from pinscar.decision.analysis import analyse
from pinscar.decision.judgements import ClaimReason, CriterionReason, Support, Verdict
from pinscar.decision.record import Analysis
from pinscar.decision.results import results

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
OF_VERDICT = {
    CriterionReason.RIGHT_SIDE: Verdict.MET,
    CriterionReason.BOUND_RIGHT: Verdict.MET,
    CriterionReason.WRONG_SIDE: Verdict.NOT_MET,
    CriterionReason.BOUND_WRONG: Verdict.NOT_MET,
}


@pytest.fixture(scope="module")
def demo() -> Analysis:
    return analyse(read_campaign(DEMO))


def test_each_judgement_has_a_code_that_fits_it(demo: Analysis) -> None:
    """The code alone tells the verdict of a limit and the support of a claim."""
    assert demo.criteria and demo.claims
    for judged in demo.criteria:
        assert OF_VERDICT.get(judged.reason, Verdict.UNDECIDED) is judged.verdict
    for judged in demo.claims:
        assert (judged.reason is ClaimReason.SURE) == (judged.support is Support.SUPPORTED)


def test_results_hold_codes_and_the_sentences_made_of_them(demo: Analysis) -> None:
    """results.json keeps its sentences and has the code beside each."""
    held = results(demo)
    for row, judged in zip(held["criteria"], demo.criteria, strict=True):
        assert (row["reason"], row["because"]) == (judged.reason.value, words.because(judged))
    for row, judged in zip(held["claims"], demo.claims, strict=True):
        assert (row["reason"], row["wording"]) == (judged.reason.value, words.wording(judged))


def test_results_hold_no_space_of_the_page(demo: Analysis) -> None:
    """Whoever searches results.json expects ordinary spaces: the page puts in the others."""
    text = json.dumps(results(demo), ensure_ascii=False)
    assert "\N{NO-BREAK SPACE}" not in text
    assert "95 %" in text

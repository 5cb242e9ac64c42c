"""A plan whose campaign declares days as blocks counts on comparisons within days, as the report does."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pinscar.campaign.model import CampaignFile
from pinscar.stats.choose import compare_with_reference
from pinscar.study.plan import words
from pinscar.study.plan.chances import Wanted, detectable_at, order_of, power_at
from pinscar.study.plan.study import PlanOptions, make_plan
from pinscar.study.plan.words import plan_results

WANTED = Wanted(
    ratio=0.75,
    power=0.8,
    confidence=0.95,
    response="scar_area",
    lubricants=("R", "C"),
    loads=(450.0,),
    days=3,
    seed=1,
)


@pytest.mark.parametrize(
    ("repeats", "spread", "pooled"), [(4, 0.12, False), (6, 0.2, False), (5, 0.15, True)]
)
def test_the_chance_is_that_of_the_judging_chain(repeats: int, spread: float, pooled: bool) -> None:
    """Simulated campaigns on the plan's own days, which differ, judged by the report's comparison."""
    order, rng = order_of(WANTED, repeats), np.random.default_rng(2)
    days = {oil: [str(run.block) for run in order if run.treatment.startswith(oil)] for oil in "RC"}
    campaigns, shown = 400, 0
    for _ in range(campaigns):
        shift = dict(zip("123", 0.3 * rng.standard_normal(3), strict=True))
        values = {
            oil: (0.75 if oil == "C" else 1.0)
            * np.exp([shift[day] + spread * rng.standard_normal() for day in days[oil]])
            for oil in "RC"
        }
        (found,) = compare_with_reference(values, "R", blocks=days, pooled=pooled)
        shown += found.p_adjusted is not None and found.p_adjusted < 0.05
    stated = power_at(WANTED, "one" if pooled else "own", True, repeats, 0.75, spread)
    assert 0.2 < stated < 0.95
    assert shown / campaigns == pytest.approx(stated, abs=3.0 * math.sqrt(stated * (1 - stated) / campaigns))


def test_the_detectable_ratio_is_the_inverse_of_the_chance() -> None:
    ratio = detectable_at(WANTED, "own", True, 5, 0.15)
    assert power_at(WANTED, "own", True, 5, ratio, 0.15) == pytest.approx(0.8, abs=1e-3)
    assert detectable_at(WANTED, "own", False, 5, 0.15) < ratio


def campaign_file(block: str | None) -> CampaignFile:
    campaign = {"id": "c", "reference": "R"} | ({} if block is None else {"block": block})
    return CampaignFile.model_validate(
        {
            "campaign": campaign,
            "rig": {
                "geometry": "crossed-cylinders",
                "pin_diameter": "12 mm",
                "ring_diameter": "40 mm",
                "ring_speed": "700 rpm",
            },
            "lubricants": [{"id": "R", "role": "reference"}, {"id": "C", "role": "candidate"}],
        }
    )


def test_the_plan_says_that_it_counts_on_days() -> None:
    made = make_plan(campaign_file("run_day"), WANTED, PlanOptions(log_sd=0.12))
    without = make_plan(campaign_file(None), WANTED, PlanOptions(log_sd=0.12))
    assert "within the days of this plan" in words.spread_sentence(made)
    assert "within the days" not in words.spread_sentence(without)
    assert made.needed.power >= 0.8
    assert made.needed.repeats >= without.needed.repeats
    assert "within days" in made.needed.method


@pytest.mark.parametrize("block", ["run_day", "ring_id", None])
def test_the_plan_says_which_blocks_its_chances_leave_out(block: str | None) -> None:
    made = make_plan(campaign_file(block), WANTED, PlanOptions(log_sd=0.12, censored=0.3))
    left_out = plan_results(made)["blocks_left_out"]
    assert left_out == {"steps": "ring_id" if block == "ring_id" else None, "censored": block}
    assert ("chances leave out ring_id" in words.spread_sentence(made)) == (block == "ring_id")
    detail = words.censored_detail(made)
    assert ("simulation leaves out" in detail) == (block is not None)
    assert block is None or f"leaves out {block}, which campaign.toml declares as blocks" in detail

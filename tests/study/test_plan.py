"""A plan: numbers that agree with another library, an order to be filled in, refusals in words."""

from __future__ import annotations

import csv
import io
import math
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign.columns import RUNS
from pinscar.campaign.model import CampaignFile
from pinscar.errors import InputError, UsageError
from pinscar.stats.choose import compare_with_reference
from pinscar.study.plan.chances import Wanted
from pinscar.study.plan.study import Plan, PlanOptions, make_plan, read_pilot, wanted_of
from pinscar.study.plan.table import csv_text, prepared_table, weights_for

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
FILE = CampaignFile.model_validate(
    {
        "campaign": {"id": "c", "reference": "R"},
        "rig": {
            "geometry": "crossed-cylinders",
            "pin_diameter": "12 mm",
            "ring_diameter": "40 mm",
            "lever_ratio": 10.0,
            "hanger_mass": "0.8 kg",
        },
        "lubricants": [{"id": "R"}, {"id": "A"}],
        "criteria": [
            {"id": "x", "response": "scar_area", "lubricant": "A", "load": "450 N", "rule": "at most",
             "limit": "5 mm^2"}
        ],
    }
)  # fmt: skip


def wanted(**changes: object) -> Wanted:
    return wanted_of(FILE, PlanOptions(**changes))  # type: ignore[arg-type]


def plan(log_sd: float = 0.12, **changes: object) -> Plan:
    asked = PlanOptions(log_sd=log_sd, **changes)  # type: ignore[arg-type]
    return make_plan(FILE, wanted_of(FILE, asked), asked)


def test_one_candidate_with_a_pooled_spread_takes_the_repeats_that_another_library_finds() -> None:
    campaign = FILE.campaign.model_copy(update={"spread": "pooled"})
    made = make_plan(FILE.model_copy(update={"campaign": campaign}), wanted(), PlanOptions(log_sd=0.12))
    effect = math.log(1 / 0.8) / 0.12
    needed = TTestIndPower().solve_power(effect, power=0.8, alpha=0.05)
    assert made.repeats == math.ceil(needed)
    (step,) = [one for one in made.steps if one.repeats == made.repeats]
    assert step.power == pytest.approx(TTestIndPower().power(effect, made.repeats, 0.05), abs=1e-9)


@pytest.mark.parametrize(("oils", "log_sd"), [(["A"], 0.12), (["A", "B", "C"], 0.2)])
def test_the_stated_chance_is_that_of_the_judging_chain(oils: list[str], log_sd: float) -> None:
    """Campaigns drawn here, compared as the report compares them: within two points of what the plan says."""
    made = plan(log_sd, lubricants=oils, repeats=5, ratio=0.7)
    (step,) = [one for one in made.steps if one.repeats == 5]
    rng, campaigns, shown = np.random.default_rng(31), 2000, 0
    for _ in range(campaigns):
        values = {oil: np.exp(log_sd * rng.standard_normal(5)) for oil in ("R", *oils)}
        values["A"] *= 0.7
        (found,) = [one for one in compare_with_reference(values, "R") if one.subject == "A"]
        shown += not found.low <= 1.0 <= found.high
    assert shown / campaigns == pytest.approx(step.power, abs=0.02)


def test_what_is_missing_comes_from_campaign_toml() -> None:
    found = wanted()
    assert found.lubricants == ("R", "A")
    assert found.loads == (450.0,)
    assert found.confidence == 0.95
    assert wanted(lubricants=["B", "A", "B"]).lubricants == ("R", "B", "A")
    assert wanted(loads=["600 N", "100 lbf"]).loads == pytest.approx((444.822, 600.0), rel=1e-5, abs=0)


def test_more_candidates_larger_spread_and_nearer_ratios_take_more() -> None:
    base = plan().repeats
    assert plan(lubricants=["A", "B", "C"]).repeats > base
    assert plan(0.2).repeats > base
    assert plan(ratio=0.9).repeats > base


def test_each_oil_and_load_has_its_repeats_and_days_are_balanced() -> None:
    made = plan(lubricants=["A", "B"], loads=["450 N", "600 N"], repeats=5, days=3)
    cells = Counter((run.lubricant, run.load) for run in made.order)
    assert cells == {(oil, load): 5 for oil in "RAB" for load in (450.0, 600.0)}
    for day in (1, 2, 3):
        on_day = Counter((run.lubricant, run.load) for run in made.order if run.day == day)
        assert max(on_day.values()) - min(on_day.values()) <= 1
        assert len(on_day) == 6
    assert made.check.findings == ()


def test_the_seed_decides_the_order() -> None:
    one, same, other = (plan(repeats=6, seed=seed).order for seed in (1, 1, 2))
    assert one == same
    assert one != other


def test_a_pilot_gives_its_pooled_spread_and_share_still_wearing() -> None:
    campaign = read_campaign(DEMO)
    pilot = read_pilot(campaign, "scar_area")
    runs = campaign.runs[campaign.runs["excluded"] == ""]
    assert pilot.duration == runs["duration"].median()
    assert sum(cell.n - 1 for cell in pilot.cells) == pilot.df
    pooled = math.sqrt(sum((c.n - 1) * c.log_sd**2 for c in pilot.cells) / pilot.df)
    assert pilot.log_sd == pytest.approx(pooled)
    own = runs[runs["lubricant"] == "R-10"]
    # Quiet times may say that wear had stopped where nobody noted it: at most the share of the notes.
    assert 0.0 < pilot.censored <= np.mean([state is not True for state in own["wear_stopped"]])
    made = make_plan(FILE, wanted(), PlanOptions(), pilot=pilot)
    assert made.log_sd > made.log_sd_found == pilot.log_sd


def test_censoring_costs_repeats_and_none_costs_nothing() -> None:
    half, few, none = (plan(ratio=0.85, censored=share) for share in (0.5, 0.1, 0.0))
    assert none.censored is None
    assert half.censored is not None
    assert few.censored is not None
    assert half.censored.power is not None
    assert few.censored.power is not None
    assert half.censored.power < few.censored.power
    assert plan().censored_share is None


def test_a_smaller_scar_and_a_higher_pressure_of_the_same_factor_are_one_plan() -> None:
    area, pressure = plan(censored=0.3), plan(response="scar_pressure", ratio=1.25, censored=0.3)
    assert area.repeats == pressure.repeats
    assert area.censored == pressure.censored


def test_looking_twice_is_dearer_than_it_says() -> None:
    looks = plan().looks
    assert looks.actual_alpha > looks.alpha > looks.alpha_per_look
    assert looks.looks[0] < looks.looks[1]


def test_the_table_has_every_column_and_every_run() -> None:
    made = plan(repeats=3, duration="60 s")
    text = csv_text(prepared_table(made.order, made.duration))
    rows = list(csv.DictReader(io.StringIO(text)))
    expected = {column.header for column in RUNS} - {"weights [kg]", "run_day"}
    assert set(rows[0]) == expected | {"planned_day", "planned_place"}
    assert [row["run_id"] for row in rows] == [run.run_id for run in made.order]
    assert {row["duration [s]"] for row in rows} == {"60"}
    assert {row["load [N]"] for row in rows} == {"450"}
    assert {row["scar_length [mm]"] for row in rows} == {""}


def test_weights_give_the_load_back() -> None:
    mass = weights_for(FILE.rig, 450.0)
    assert mass is not None
    assert 9.80665 * (mass + 0.8) * 10.0 == pytest.approx(450.0)
    assert weights_for(FILE.rig, 50.0) is None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"ratio": 1.0}, "ratio must be positive and not 1"),
        ({"ratio": -0.8}, "ratio must be positive and not 1"),
        ({"power": 1.0}, "power must lie between"),
        ({"days": 0}, "days must lie between"),
        ({"loads": ["450"]}, "a load cannot be read"),
        ({"loads": ["450 mm"]}, "a load cannot be read"),
        ({"loads": ["-450 N"]}, "a load"),
        ({"repeats": 1}, "repeats must lie between 2"),
        ({"censored": 1.5}, "between 0 and 1"),
        ({"ratio": 0.99}, "takes more than 60 repeats"),
        ({"lubricants": ["R"]}, "no oil besides the reference"),
        ({"seed": -1}, "seed must be 0 or more"),
    ],
)
def test_what_cannot_be_planned_is_said(changes: dict[str, object], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        plan(**changes)  # type: ignore[arg-type]


def test_a_spread_is_needed_from_one_place_only() -> None:
    with pytest.raises(UsageError, match="either a pilot or the spread"):
        make_plan(FILE, wanted(), PlanOptions())
    with pytest.raises(UsageError, match="log_sd must be over 0"):
        make_plan(FILE, wanted(), PlanOptions(log_sd=0.0))


def test_a_pilot_without_repeats_is_a_plain_problem(tmp_path: Path) -> None:
    (tmp_path / "campaign.toml").write_text(
        '[campaign]\nid = "p"\nreference = "R"\n[rig]\ngeometry = "crossed-cylinders"\n'
        'pin_diameter = "12 mm"\n'
        'ring_diameter = "40 mm"\nring_speed = "700 rpm"\n'
    )
    (tmp_path / "runs.csv").write_text(
        "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width "
        "[mm]\na,R,450,60,3.4,1.9\nb,A,450,60,3,1.6\n"
    )
    with pytest.raises(InputError) as caught:
        read_pilot(read_campaign(tmp_path), "scar_area")
    assert [problem.code for problem in caught.value.problems] == ["pilot-no-spread"]

"""Limits judged on awkward but valid data, from the folder to the verdict."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.decision import words
from pinscar.decision.analysis import analyse
from pinscar.decision.record import Analysis
from pinscar.stats.estimates import geometric_mean, mean
from pinscar.stats.intervals import block_mean

TOML = """
[campaign]
id = "awkward"
reference = "R-1"
{more}
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
[[lubricants]]
id = "R-1"
role = "reference"
[[lubricants]]
id = "C-1"
role = "candidate"
[[criteria]]
id = "limit"
lubricant = "C-1"
load = "450 N"
{limit}
"""


def evaluated(folder: Path, limit: str, rows: list[str], head: str, more: str = "") -> Analysis:
    (folder / "campaign.toml").write_text(TOML.format(limit=limit, more=more), encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return analyse(read_campaign(folder))


SIZES = "load [N],duration [s],scar_length [mm],scar_width [mm]"
HEAD = f"run_id,lubricant,{SIZES},wear_stopped,fling_mass [mg],run_at"


def rows(
    flings: dict[str, list[float]], scars: dict[str, list[tuple[float, float]]], days: int = 1
) -> list[str]:
    found = []
    for oil, masses in flings.items():
        for number, mass in enumerate(masses):
            length, width = scars[oil][number % len(scars[oil])]
            day = number * days // len(masses) + 2
            moment = f"2026-03-{day:02d}T{8 + number:02d}:00"
            found.append(f"{oil}-{number},{oil},450,60,{length},{width},yes,{mass},{moment}")
    return found


SCARS = {"R-1": [(3.31, 1.80), (3.36, 1.84)], "C-1": [(2.91, 1.60), (2.84, 1.55)]}


@pytest.mark.parametrize(
    ("reference", "verdict"),
    [([20.0, 22.0, 19.0, 0.0], "undecided"), ([20.0, 22.0, 19.0, 0.0, 21.0, 23.0, 18.0], "not met")],
)
def test_a_ratio_limit_is_never_held_against_a_difference(
    tmp_path: Path, reference: list[float], verdict: str
) -> None:
    """One zero takes the fling to the linear scale: ten times the reference must not pass "at most 0.8"."""
    flings = {"R-1": reference, "C-1": [200.0, 220.0, 190.0, 210.0, 205.0, 195.0, 215.0][: len(reference)]}
    limit = 'response = "fling_mass"\nrule = "ratio at most"\nlimit = 0.8'
    (judged,) = evaluated(tmp_path, limit, rows(flings, SCARS), HEAD).criteria
    assert judged.verdict.value == verdict
    assert "ratio" in words.because(judged)
    if verdict == "not met":
        assert judged.estimate == pytest.approx(np.mean(flings["C-1"]) / np.mean(reference), rel=1e-9)
        assert judged.low > 0.8
    else:  # the reference's mean, 15 with a standard error of 5, is not clearly above zero
        assert (judged.low, judged.high) == (None, None)


def test_a_ratio_to_nearly_nothing_is_undecided_and_says_why(tmp_path: Path) -> None:
    flings = {"R-1": [0.0, 1.0, 0.0, 0.0], "C-1": [0.0, 0.0, 1.0, 0.0]}
    limit = 'response = "fling_mass"\nrule = "ratio at most"\nlimit = 0.8'
    (judged,) = evaluated(tmp_path, limit, rows(flings, SCARS), HEAD).criteria
    assert judged.verdict.value == "undecided"
    assert "two distinct uncensored values" in words.because(judged)


def test_two_equal_readings_decide_nothing_by_their_equality(tmp_path: Path) -> None:
    """Two scars read to 0.1 mm can agree by rounding: the interval is as wide as that allows."""
    scars = {"R-1": [(3.3, 1.8)], "C-1": [(2.9, 1.6)]}
    flings = {"R-1": [20.0, 22.0], "C-1": [21.0, 20.0]}
    limit = 'response = "scar_area"\nrule = "at most"\nlimit = "3.7 mm^2"'
    analysis = evaluated(tmp_path, limit, rows(flings, scars), HEAD)
    (judged,) = analysis.criteria
    assert judged.verdict.value == "undecided"
    assert judged.low < judged.estimate < judged.high
    fine = {"R-1": [(3.301, 1.802)], "C-1": [(2.901, 1.601)]}
    (sharp,) = evaluated(tmp_path, limit, rows(flings, fine), HEAD).criteria
    assert sharp.verdict.value == "met"


def test_no_interval_from_equal_values_of_unknown_resolution() -> None:
    for found in (geometric_mean([3.0, 3.0]), mean([3.0, 3.0, 3.0])):
        assert (found.low, found.high) == (None, None)
        assert "resolution" in found.note


@pytest.mark.parametrize(("n", "spread"), [(2, 0.03), (3, 0.06), (3, 0.1), (5, 0.06)])
def test_rounded_readings_keep_the_error_at_the_limit(n: int, spread: float) -> None:
    """Scars read to 0.1 mm, the truth exactly at the limit: at most 2.5 % "met" (14 to 26 % before)."""
    rng = np.random.default_rng(n)
    wrong = 0
    for _ in range(2000):
        truth = 2.0 + rng.uniform(0.0, 0.1)
        wrong += mean(np.round(truth + spread * rng.normal(size=n), 1), 0.95, 0.1).high < truth
    assert wrong / 2000 <= 0.025 + 2 * np.sqrt(0.025 * 0.975 / 2000)


def test_a_declared_block_widens_an_absolute_interval(tmp_path: Path) -> None:
    """Six runs in two days with the days apart: what the runs alone call met stays open."""
    scars = {
        "R-1": [(3.31, 1.80), (3.36, 1.84)],
        "C-1": [(2.71, 1.50)] * 3 + [(2.92, 1.61), (2.95, 1.62), (2.9, 1.6)],
    }
    flings = {"R-1": [20.0] * 5 + [21.0], "C-1": [20.0] * 5 + [21.0]}
    limit = 'response = "scar_area"\nrule = "at most"\nlimit = "4 mm^2"'
    plain = evaluated(tmp_path, limit, rows(flings, scars, 2), HEAD)
    blocked = evaluated(tmp_path, limit, rows(flings, scars, 2), HEAD, 'block = "run_day"')
    assert plain.criteria[0].verdict.value == "met"
    assert blocked.criteria[0].verdict.value == "undecided"
    (summary,) = [
        s for s in blocked.summaries if s.response.name == "scar_area" and s.cell.lubricant == "C-1"
    ]
    assert "means of 2 blocks" in summary.estimate.method
    assert "2 blocks" in summary.estimate.note


@pytest.mark.parametrize(("days", "per_day"), [(2, 3), (3, 2)])
def test_blocks_keep_the_error_at_the_limit(days: int, per_day: int) -> None:
    """Spread between days as large as within, the truth at the limit: 2.5 % (8 to 10 % before)."""
    rng = np.random.default_rng(days)
    wrong = 0
    for _ in range(2000):
        logs = 0.1 * (rng.normal(size=(days, 1)) + rng.normal(size=(days, per_day)))
        found = block_mean(np.exp(logs.ravel()), np.repeat(np.arange(days), per_day))
        wrong += found.high < 1.0
    assert wrong / 2000 <= 0.025 + 2 * np.sqrt(0.025 * 0.975 / 2000)

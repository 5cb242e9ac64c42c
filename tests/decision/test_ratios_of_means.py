"""Ratios with zeros, temperatures without ratios, rounded comparisons: from the folder to results.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats

from pinscar.campaign.campaign import read_campaign
from pinscar.decision.analysis import analyse
from pinscar.decision.results import results
from pinscar.stats.intervals import mean_ratio

HEAD = (
    "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,fling_mass [mg],"
    "peak_temperature [degC],film_index [1],run_at"
)
TOML = """
[campaign]
id = "zeros"
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
RATIO = 'response = "fling_mass"\nrule = "ratio at most"\nlimit = 0.8'
CLAIM = (
    '[[claims]]\nsubject = "C-1"\nresponse = "fling_mass"\ndirection = "lower"\nagainst = "R-1"\n'
    'load = "450 N"\npercentage = "10 %"\n'
)


def judged(folder: Path, rows: list[dict[str, Any]], limit: str, more: str = "") -> dict[str, Any]:
    """Write a campaign and evaluate it to what results.json holds."""
    (folder / "campaign.toml").write_text(TOML.format(limit=limit, more=more), encoding="utf-8")
    lines = [HEAD]
    for number, row in enumerate(rows):
        full = {"length": 3.31 + 0.01 * (number % 3), "width": 1.80, "fling": 20.0, "peak": 85.0, **row}
        lines.append(
            f"r{number},{full['oil']},450,60,{full['length']},{full['width']},yes,{full['fling']},"
            f"{full['peak']},1.{number % 5},2026-03-{full['day']:02d}T{8 + number % 12:02d}:00"
        )
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return json.loads(json.dumps(results(analyse(read_campaign(folder))), allow_nan=False))


DAYS = (2, 3, 4, 5)
LEVEL = {2: 1.0, 3: 2.0, 4: 0.6, 5: 1.4}
"""What a day does to the fling of both oils."""
TWICE = [20.0, 22.0]


def flings() -> list[dict[str, Any]]:
    """Two runs a day of each oil; days differ widely, the ratio of the oils does not: about 0.5."""
    rows = []
    for day in DAYS:
        for number, mass in enumerate(TWICE):
            reference, candidate = mass * LEVEL[day], (0.5 * mass + (0.3 if number else -0.4)) * LEVEL[day]
            rows += [
                {"oil": "R-1", "day": day, "fling": round(reference, 1)},
                {"oil": "C-1", "day": day, "fling": round(candidate, 1)},
            ]
    small = [row for row in rows if row["oil"] == "C-1" and row["day"] == 4]
    # One run that flung nothing takes the response off the log scale; the mean of its day stays.
    small[0]["fling"], small[1]["fling"] = 0.0, round(small[0]["fling"] + small[1]["fling"], 1)
    return rows


def fieller_by_root(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """The ratios at which a one-sample t test of the days' x - ratio y just rejects zero (Fieller 1954)."""

    def edge(ratio: float) -> float:
        test = stats.ttest_1samp(x - ratio * y, 0.0)
        return float(test.pvalue) - 0.05

    middle = float(x.mean() / y.mean())
    return optimize.brentq(edge, -1.0, middle), optimize.brentq(edge, middle, 5.0)


def test_a_ratio_with_zeros_is_taken_within_the_days(tmp_path: Path) -> None:
    rows = flings()
    found = judged(tmp_path, rows, RATIO, 'block = "run_day"')
    days = {
        oil: np.array(
            [np.mean([r["fling"] for r in rows if r["oil"] == oil and r["day"] == day]) for day in DAYS]
        )
        for oil in ("C-1", "R-1")
    }
    low, high = fieller_by_root(days["C-1"], days["R-1"])
    (criterion,) = found["criteria"]
    assert (criterion["ci_low"], criterion["ci_high"]) == pytest.approx((low, high), rel=1e-5, abs=0)
    assert criterion["estimate"] == pytest.approx(days["C-1"].mean() / days["R-1"].mean(), rel=1e-12, abs=0)
    assert criterion["verdict"] == "met"
    assert "within 4 blocks" in criterion["because"]
    (row,) = [row for row in found["comparisons"] if row["response"] == "fling_mass"]
    assert row["ratio_of_means_low"] == pytest.approx(low, rel=1e-5, abs=0)
    assert (row["ratio"], row["ci_low"]) == (None, None)


def test_without_the_block_the_days_hide_the_same_ratio(tmp_path: Path) -> None:
    blind = judged(tmp_path, flings(), RATIO)["criteria"][0]
    assert blind["verdict"] == "undecided"
    assert blind["ci_high"] > 0.8


def test_oils_on_days_of_their_own_are_compared_over_the_days(tmp_path: Path) -> None:
    """Twelve runs, but only two days a side: one degree of freedom, not five."""
    rows = [
        {"oil": oil, "day": day, "fling": mass + number}
        for oil, days, masses in (("R-1", (2, 3), (20.0, 26.0)), ("C-1", (4, 5), (0.0, 3.0)))
        for day, mass in zip(days, masses, strict=True)
        for number in range(3)
    ]
    for more, df in (("", 5), ('block = "run_day"', 1)):
        found = judged(tmp_path, rows, RATIO, more)
        (row,) = [row for row in found["comparisons"] if row["response"] == "fling_mass"]
        if df == 5:
            assert row["ratio_of_means_high"] < 0.3
            assert "(5 degrees of freedom)" in row["ratio_of_means_method"]
        else:  # two days of 21 and 27 do not show a mean above zero by t = 12.7
            assert row["ratio_of_means_high"] is None
            assert "not clearly above zero" in row["ratio_of_means_method"]
        assert found["criteria"][0]["verdict"] == "undecided"  # the audit blocks oils that share no day


def test_a_claim_rests_on_the_same_limits_as_a_criterion(tmp_path: Path) -> None:
    found = judged(tmp_path, flings(), RATIO + "\n" + CLAIM, 'block = "run_day"')
    (claim,) = found["claims"]
    assert claim["support"] == "supported"
    sure = int(100 * (1 - found["criteria"][0]["ci_high"]))
    assert f"at least {sure} %" in claim["wording"]
    blind = judged(tmp_path, flings(), RATIO + "\n" + CLAIM)
    less = int(100 * (1 - blind["criteria"][0]["ci_high"]))
    assert less < sure
    assert f"at least {less} %" in blind["claims"][0]["wording"]


def test_a_temperature_in_degrees_celsius_has_no_ratio(tmp_path: Path) -> None:
    rows = [
        {"oil": oil, "day": 2, "peak": peak + 0.3 * number}
        for oil, peak in (("R-1", 90.0), ("C-1", 60.0))
        for number in range(5)
    ]
    limit = 'response = "peak_temperature"\nrule = "ratio at most"\nlimit = 0.95'
    found = judged(tmp_path, rows, limit + "\n" + CLAIM.replace("fling_mass", "peak_temperature"))
    (criterion,) = found["criteria"]
    assert criterion["verdict"] == "undecided"
    assert (criterion["estimate"], criterion["ci_low"], criterion["ci_high"]) == (None, None, None)
    assert "zero is arbitrary" in criterion["because"]
    assert "logarithm" not in criterion["because"]
    (claim,) = found["claims"]
    assert claim["support"] == "refused"
    assert "zero is arbitrary" in claim["because"]


def test_an_undecided_ratio_of_means_names_the_further_runs_that_do_settle_it(tmp_path: Path) -> None:
    """Of campaigns with that many more runs, with the estimate and spread as they are, most are settled."""
    masses = {"R-1": [20.0, 30.0, 24.0, 16.0, 25.0], "C-1": [0.0, 18.0, 14.0, 11.0, 16.0]}
    rows = [{"oil": oil, "day": 2, "fling": mass} for oil, values in masses.items() for mass in values]
    (criterion,) = judged(tmp_path, rows, RATIO)["criteria"]
    assert criterion["verdict"] == "undecided"
    more = criterion["further_repeats"]
    assert 1 <= more <= 50
    rng = np.random.default_rng(4)
    settled = {}
    for n in (5, 5 + more):
        draws = [
            {oil: np.mean(x) + np.std(x, ddof=1) * rng.standard_normal(n) for oil, x in masses.items()}
            for _ in range(1000)
        ]
        found = [mean_ratio(one["C-1"], one["R-1"]) for one in draws]
        settled[n] = np.mean([one.high is not None and one.high <= 0.8 for one in found])
    assert 0.77 <= settled[5 + more] <= 0.9
    assert settled[5] < 0.5


SCARS = {"R-1": (3.3, 1.8), "C-1": (2.9, 1.5)}


def test_equal_readings_are_compared_as_far_as_their_rounding_lets_them(tmp_path: Path) -> None:
    """Scars all read alike to 0.1 mm give an interval from the step, and finer ones a narrower one."""
    limit = 'response = "scar_area"\nrule = "ratio at most"\nlimit = 0.82'

    def ends(digits: float) -> dict[str, Any]:
        rows = [
            {"oil": oil, "day": 2, "length": length + digits, "width": width + digits}
            for oil, (length, width) in SCARS.items()
            for _ in range(4)
        ]
        return judged(tmp_path, rows, limit)["criteria"][0]

    coarse, fine = ends(0.0), ends(0.001)
    assert coarse["verdict"] == "undecided"
    assert fine["verdict"] == "met"
    # By hand: step over the median length and width, half of it on either side, and t of the rest.
    step = 0.1 / 3.1 + 0.1 / 1.65
    reach = step + stats.t.ppf(0.975, 6) * step / np.sqrt(12) * np.sqrt(2 / 4)
    ratio = 2.9 * 1.5 / (3.3 * 1.8)
    assert coarse["ci_low"] == pytest.approx(ratio * np.exp(-reach), rel=1e-9, abs=0)
    assert coarse["ci_high"] == pytest.approx(ratio * np.exp(reach), rel=1e-9, abs=0)


def test_spread_well_above_the_step_is_left_as_it_is(tmp_path: Path) -> None:
    """Welch's limits from scipy; rounding and the guard against unlike spreads add a hundredth at most."""
    lengths = {"R-1": (3.2, 3.5, 3.0, 3.7), "C-1": (2.5, 2.9, 2.7, 3.1)}
    rows = [
        {"oil": oil, "day": 2, "length": x, "width": 1.7} for oil, values in lengths.items() for x in values
    ]
    limit = 'response = "scar_area"\nrule = "ratio at most"\nlimit = 0.95'
    found = judged(tmp_path, rows, limit)["criteria"][0]
    test = stats.ttest_ind(np.log(lengths["C-1"]), np.log(lengths["R-1"]), equal_var=False)
    interval = test.confidence_interval(0.95)
    assert found["ci_low"] <= np.exp(interval.low) <= found["ci_low"] * 1.02
    assert found["ci_high"] >= np.exp(interval.high) >= found["ci_high"] / 1.02

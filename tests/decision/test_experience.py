"""Earlier campaigns' scatter, from campaign.toml to results.json and the report's words."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import optimize, special, stats

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign_report.experience import experience_parts, short_sentence
from pinscar.campaign_report.layout import brief_second_page
from pinscar.decision.analysis import Analysis, analyse
from pinscar.decision.results import results
from pinscar.language.messages import read_catalogue
from pinscar.language.speaker import Speaker
from pinscar.stats.two_groups import outward_factor
from pinscar.study.range.study import range_results, study_range

TOML = """
[campaign]
id = "{id}"
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
response = "torque"
lubricant = "C-1"
load = "450 N"
rule = "ratio at most"
limit = 0.76
better = "lower"
"""
HEAD = (
    "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,torque [N m],run_at"
)
ASK = 'history = ["earlier/one", "earlier/two"]'


def write(folder: Path, torques: dict[str, list[float]], more: str = "") -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "campaign.toml").write_text(TOML.format(id=folder.name, more=more), encoding="utf-8")
    lines = [HEAD]
    for oil, values in torques.items():
        for number, value in enumerate(values):
            moment = f"2026-03-0{2 + number}T{8 + len(lines) % 9:02d}:00"
            row = f"{3.31 + 0.02 * number:.2f},1.80,yes,{value:.5f},{moment}"
            lines.append(f"r{len(lines)},{oil},450,60,{row}")
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def earlier(folder: Path, spread: float) -> list[np.ndarray]:
    """Write two earlier campaigns of two oils with four runs each; return the logarithms of each oil."""
    rng = np.random.default_rng(12)
    groups = []
    for name in ("one", "two"):
        logs = {oil: rng.normal(0.5, spread, 4) for oil in ("R-1", "C-1")}
        write(folder / "earlier" / name, {oil: list(np.exp(x)) for oil, x in logs.items()})
        groups += list(logs.values())
    return groups


NOW = {"R-1": [1.00, 1.12, 0.95], "C-1": [0.70, 0.60, 0.66]}


def evaluated(folder: Path, more: str, now: dict[str, list[float]] = NOW) -> tuple[Analysis, dict[str, Any]]:
    write(folder, now, more)
    analysis = analyse(read_campaign(folder))
    return analysis, json.loads(json.dumps(results(analysis), allow_nan=False))


def prior_by_root(groups: list[np.ndarray]) -> tuple[float, float]:
    """The prior's degrees of freedom and variance, solved with brentq from the defining equations."""
    d = np.array([g.size - 1.0 for g in groups])
    e = np.array([math.log(g.var(ddof=1)) for g in groups]) - special.psi(d / 2) + np.log(d / 2)
    noise = special.polygamma(1, d / 2).mean()
    between = max(e.var(ddof=1) - noise, 0.0)
    total = between + (between + noise) / e.size
    df = 2 * optimize.brentq(lambda y: special.polygamma(1, y) - total, 1e-3, 1e4)
    return df, math.exp(e.mean() + special.psi(df / 2) - math.log(df / 2))


def torque(found: dict[str, Any], section: str) -> dict[str, Any]:
    return next(
        row for row in found[section] if row["response"] == "torque" and row.get("lubricant", "C-1") == "C-1"
    )


def test_asked_for_it_moderates_intervals_comparisons_and_the_verdict(tmp_path: Path) -> None:
    df, variance = prior_by_root(earlier(tmp_path, 0.07))
    _, plain = evaluated(tmp_path, "")
    assert (plain["history"], plain["without_history"]) == ([], [])
    analysis, found = evaluated(tmp_path, ASK)
    told = torque(found, "history")
    assert told["used"]
    assert (told["prior_df"], told["prior_sd_log"]) == pytest.approx(
        (df, math.sqrt(variance)), rel=1e-4, abs=0
    )
    logs = {oil: np.log(values) for oil, values in NOW.items()}
    # What the present scatter leaves of the prior: its p of the F test, and never less scatter than is seen.
    pooled = float(np.mean([x.var(ddof=1) for x in logs.values()]))
    df = stats.f.sf(pooled / variance, 4, df) * min(df, 6.0)
    variance = max(1.25 * variance, pooled)
    assert (told["weighed_df"], told["weighed_sd_log"]) == pytest.approx(
        (df, math.sqrt(variance)), rel=1e-4, abs=0
    )
    own = {o: (df * variance + 2 * x.var(ddof=1)) / (df + 2) for o, x in logs.items()}
    reach = stats.t.ppf(0.975, df + 2) * math.sqrt(own["C-1"] / 3)
    summary = torque(found, "summaries")
    assert math.log(summary["ci_high"]) == pytest.approx(logs["C-1"].mean() + reach, abs=1e-4)
    # Welch's degrees of freedom with those of either moderated variance, guarded by that of whole ones.
    share, each = own["C-1"] / sum(own.values()), df + 2
    outward = 0.5 + (1 + outward_factor((float(int(each)),) * 2, 0.05)) * (share - 0.5)
    welch = each / (outward**2 + (1 - outward) ** 2)
    reach = stats.t.ppf(0.975, welch) * math.sqrt(sum(own.values()) / 3)
    high = math.exp(logs["C-1"].mean() - logs["R-1"].mean() + reach)
    comparison, (criterion,) = torque(found, "comparisons"), found["criteria"]
    assert comparison["ci_high"] == pytest.approx(high, rel=1e-4, abs=0)
    assert criterion["ci_high"] == comparison["ci_high"]
    assert "earlier campaigns" in criterion["because"]
    assert (plain["criteria"][0]["verdict"], criterion["verdict"]) == ("undecided", "met")
    alone = [row for row in found["without_history"] if row["kind"] == "comparison"]
    assert torque({"a": alone}, "a")["ci_high"] == torque(plain, "comparisons")["ci_high"]
    html = "".join(experience_parts(analysis))
    assert "With earlier runs" in html
    assert any(name.startswith("earlier/one/") for name in analysis.campaign.inputs)


def test_a_scatter_that_contradicts_it_stands_alone(tmp_path: Path) -> None:
    earlier(tmp_path, 0.005)
    _, plain = evaluated(tmp_path, "")
    _, found = evaluated(tmp_path, ASK)
    told = torque(found, "history")
    assert not told["used"]
    assert "too large" in told["because"]
    assert torque(found, "comparisons") == torque(plain, "comparisons")
    assert found["criteria"] == plain["criteria"]


def test_blocks_and_too_few_cells_leave_it_out(tmp_path: Path) -> None:
    earlier(tmp_path, 0.07)
    _, blocked = evaluated(tmp_path, f'{ASK}\nblock = "run_day"')
    assert "run_day" in torque(blocked, "history")["because"]
    _, few = evaluated(tmp_path, 'history = ["earlier/one"]')
    assert "it takes 3" in torque(few, "history")["because"]
    assert not torque(few, "history")["used"]


def test_zeros_now_or_then_leave_it_out(tmp_path: Path) -> None:
    earlier(tmp_path, 0.07)
    write(tmp_path / "earlier" / "one", {"R-1": [0.0, 1.0, 1.1], "C-1": [1.0, 1.2, 1.1]})
    _, found = evaluated(tmp_path, ASK)
    assert "2 oils and loads" in torque(found, "history")["because"]


def test_two_runs_of_each_oil_are_too_few_to_contradict_it(tmp_path: Path) -> None:
    earlier(tmp_path, 0.07)
    _, found = evaluated(tmp_path, ASK, {oil: values[:2] for oil, values in NOW.items()})
    told = torque(found, "history")
    assert not told["used"]
    assert "too few" in told["because"]


def test_a_ratio_of_means_says_that_earlier_scatter_does_not_count(tmp_path: Path) -> None:
    """A present zero sends the response to the linear scale; the report still says what became of it."""
    earlier(tmp_path, 0.07)
    now = {"R-1": [1.00, 1.12, 0.95], "C-1": [0.0, 0.60, 0.66]}
    analysis, found = evaluated(tmp_path, ASK, now)
    told = torque(found, "history")
    assert not told["used"]
    assert "ratios of means rest on the present runs alone" in told["because"]
    assert told["because"] in "".join(experience_parts(analysis))


@pytest.mark.parametrize(
    ("more", "words"), [(f'{ASK}\nblock = "run_day"', "run_day"), ("", None), (ASK, "is counted in for")]
)
def test_a_brief_report_says_it_in_a_line(tmp_path: Path, more: str, words: str | None) -> None:
    earlier(tmp_path, 0.07)
    analysis, _ = evaluated(tmp_path, more)
    said = short_sentence(analysis)
    assert (said is None) == (words is None)
    if words is not None:
        assert words in said
        assert said in "".join(brief_second_page(analysis))
        german = Speaker(
            catalogue=read_catalogue("de"),
            names=frozenset(["R-1", "C-1", "one", "two"]),
            texts=frozenset(["run_day", "torque"]),
        )
        german.say(said)
        assert not german.missing


def test_a_product_range_says_that_it_takes_no_history(tmp_path: Path) -> None:
    earlier(tmp_path, 0.07)
    write(tmp_path, NOW, ASK)
    study = study_range([read_campaign(tmp_path), read_campaign(tmp_path / "earlier" / "one")], "torque")
    (said,) = [one for one in study.left_out if "history" in one]
    assert "earlier/one and earlier/two" in said
    assert range_results(study)["study"]["left_out"] == list(study.left_out)

"""The reference oil over time: where the rig changed, where it did not, and where it can't be told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign.model import Campaign
from pinscar.decision.rig_control import ControlOptions, false_alarms, study_rig_control
from pinscar.errors import InputError, UsageError

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "rig_control"
HEAD = "run_id,run_at,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],excluded"
TOML = """
[campaign]
id = "{name}"
reference = "R-10"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "{pin} mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""


def check(folder: Path, month: int, *, factor: float = 1.0, pin: float = 12, duration: int = 60) -> Campaign:
    """A month's check of four runs whose scars are `factor` times as long and wide as usual."""
    name = f"m{month:02d}"
    rng = np.random.default_rng(month)
    sides = factor * np.exp(rng.normal(0.0, 0.02, 4))
    rows = [
        f"{name}-{i},2025-{month:02d}-10T08:{10 + i},R-10,450,{duration},{3.6 * s:.3f},{2.0 * s:.3f},"
        for i, s in enumerate(sides)
    ]
    (folder / name).mkdir()
    (folder / name / "campaign.toml").write_text(TOML.format(name=name, pin=pin))
    (folder / name / "runs.csv").write_text("\n".join([HEAD, *rows]) + "\n")
    return read_campaign(folder / name)


@pytest.fixture
def steady(tmp_path: Path) -> list[Campaign]:
    return [check(tmp_path, month) for month in range(1, 9)]


def test_a_steady_rig_is_in_control(steady: list[Campaign]) -> None:
    study = study_rig_control(steady)
    assert study.periods == ()
    assert [len(chart.points) for chart in study.charts] == [32]
    assert study.charts[0].n_baseline == 20


def test_a_month_with_larger_scars_is_found_with_its_dates_and_size(tmp_path: Path) -> None:
    months = [check(tmp_path, month, factor=1.2 if month == 7 else 1.0) for month in range(1, 10)]
    ((chart, period),) = study_rig_control(months[::-1]).periods  # the order of the folders does not matter
    assert (period.first_day, period.last_day) == ("2025-07-10", "2025-07-10")
    assert str(period.found.last_good_before)[:10] == "2025-06-10"
    assert str(period.found.first_good_after)[:7] in ("2025-08", "2025-09")
    assert period.ratio == pytest.approx(
        1.2**2, rel=0.05
    )  # area goes with the square; four runs of 4 % spread
    assert 1 in period.found.rules
    assert chart.load_level == 450.0


def test_the_demo_names_december_only() -> None:
    study = study_rig_control([read_campaign(path) for path in sorted(DEMO.glob("20*"))])
    assert [(p.first_day, p.last_day) for _, p in study.periods] == [("2025-12-09", "2025-12-09")]


def test_days_as_points_chart_the_mean_of_the_logs(steady: list[Campaign]) -> None:
    by_run = study_rig_control(steady, ControlOptions(baseline=None)).charts[0].points
    by_day = study_rig_control(steady, ControlOptions(baseline=None, points="days")).charts[0].points
    expected = by_run.groupby("day")["value"].apply(lambda values: float(np.exp(np.log(values).mean())))
    assert list(by_day["value"]) == pytest.approx(list(expected))


def test_what_does_not_compare_is_left_out_with_its_reason(tmp_path: Path) -> None:
    months = [check(tmp_path, month) for month in range(1, 7)]
    other_rig, longer = check(tmp_path, 7, pin=10), check(tmp_path, 8, duration=120)
    study = study_rig_control([*months, other_rig, longer])
    assert len(study.charts[0].points) == 24
    assert any("m07" in said and "pin diameter is 10 mm, not 12 mm" in said for said in study.left_out)
    assert any("4 runs at 450 N" in said and "duration" in said for said in study.left_out)


def test_too_few_runs_are_a_plain_problem(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        study_rig_control([check(tmp_path, 1)])
    assert [problem.code for problem in caught.value.problems] == ["control-too-few"]
    assert "only 4 points" in str(caught.value)


def test_runs_without_a_date_are_a_plain_problem(tmp_path: Path) -> None:
    folder = check(tmp_path, 1).folder
    lines = [line.split(",") for line in (folder / "runs.csv").read_text().splitlines()]
    text = "\n".join(",".join([line[0], "" if i else line[1], *line[2:]]) for i, line in enumerate(lines))
    (folder / "runs.csv").write_text(text + "\n")
    with pytest.raises(InputError, match="no date"):
        study_rig_control([read_campaign(folder)])


def test_two_campaigns_of_one_id_are_refused(tmp_path: Path) -> None:
    one = check(tmp_path, 1)
    with pytest.raises(InputError, match="have the same id"):
        study_rig_control([one, one])


def test_a_response_that_can_be_a_bound_is_refused(steady: list[Campaign]) -> None:
    with pytest.raises(UsageError, match="film_pressure can be a bound"):
        study_rig_control(steady, ControlOptions(response="film_pressure"))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"baseline": 3}, "8 points or more"),
        ({"points": "weeks"}, "'runs' or 'days'"),
        ({"rules": [9]}, "1 to 8"),
    ],
)
def test_a_parameter_out_of_range_is_refused(
    steady: list[Campaign], wrong: dict[str, Any], said: str
) -> None:
    with pytest.raises(UsageError, match=said):
        study_rig_control(steady, ControlOptions(**wrong))


def test_more_points_and_more_rules_give_more_chance_signals() -> None:
    short, long = (false_alarms(n, 20, (1, 2, 5, 6), 0.3, 400).share for n in (20, 60))
    assert long > short + 0.1
    assert false_alarms(40, 20, (1,), 0.3, 400).share < false_alarms(40, 20, (1, 2, 5, 6), 0.3, 400).share
